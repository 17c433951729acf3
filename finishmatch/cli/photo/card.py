"""`finishmatch photo card`: print the shop's spray-out card; register what the print reads, and which chart is used."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Any

import click

from finishmatch.cautions import SPRAYING
from finishmatch.cli.common import (
    emit_json,
    json_option,
    replace_option,
    request_from,
    say_cautions,
    say_warnings,
    swatch,
    table,
)
from finishmatch.colour.display import lab_to_hex
from finishmatch.dossier.card_parts import CardCommands
from finishmatch.dossier.card_sheet import card_sheet
from finishmatch.dossier.panel_sheet import panel_sheet
from finishmatch.dossier.sheet_files import sheet_pdf, sheet_svg
from finishmatch.errors import InputError
from finishmatch.photo.find.chart import MADE_WORDS, SINCE_2014, UNTIL_2014
from finishmatch.steps.photo.shop_card import CardRequest, ShopCard, shop_card

COMMANDS = CardCommands(
    write_form="finishmatch photo card --form form.csv",
    register="finishmatch photo card --register form.csv",
    read_panels="finishmatch bank photo BANK PHOTO --panel 1=NAME --panel 2=NAME …",
)

EXAMPLE = """\b
Examples:
  finishmatch photo card --out card.pdf
  finishmatch photo card --out card.svg --size letter --form form.csv
  finishmatch photo card --panels 8 --out panels.pdf
  finishmatch photo card --register swatches/cardprint.csv --name "office printer"
  finishmatch photo card --chart since-2014

Without an option it shows which card and which chart are registered.
"""


@click.command("card", epilog=EXAMPLE)
@click.option("--out", metavar="FILE", help="Write the card to print: FILE.pdf or FILE.svg.")
@replace_option
@click.option(
    "--panels",
    type=int,
    metavar="N",
    help="Write a sheet with N numbered windows for the panels of a bank, 1 to 12, in place of the card.",
)
@click.option(
    "--size",
    type=click.Choice(["A5", "A4", "letter"]),
    help="The paper to print on: A5 or letter; with --panels A4 or letter. Left out: A5, or A4.",
)
@click.option("--form", metavar="FILE", help="Write an empty readings file for what the print reads.")
@click.option("--register", metavar="FILE", help="Register what your own print reads: a readings file.")
@click.option("--name", default="card", show_default=True, metavar="TEXT", help="What you call that print.")
@click.option(
    "--chart",
    metavar="MADE",
    help="Register which 24-patch chart you have: until-2014 or since-2014, as it was made until or since November "
    "2014, or a readings file of your own, names 1 to 24.",
)
@json_option
def card_command(panels: int | None, size: str | None, as_json: bool, **options: Any) -> int:
    """Write the spray-out card to print, and register what your own print of it reads.

    A photograph of the card is read without further options once the print is registered, or with a chart on it. The
    latest registration counts; the earlier ones are kept. What is registered serves for the sheet of windows too. The
    colours of the usual chart were changed in November 2014: say which you have, once.
    """
    request = request_from(CardRequest, options)
    if panels is not None and request.out is None:
        raise InputError("`panels`", "writes no sheet without `out`", "name a file, e.g. `out` panels.pdf")
    paper = size or ("A5" if panels is None else "A4")
    card = shop_card(request, b"" if request.out is None else _drawn(request.out, paper, panels))
    if as_json:
        emit_json(card.as_dict())
        return 0
    windows = "" if panels is None else f"a sheet with {panels} window{'s' if panels > 1 else ''}"
    _show(card, f"{windows or 'the card'} on {paper}: print it at 100 %", bool(windows))
    say_warnings(card.warnings)
    if request.out is not None:
        say_cautions(SPRAYING)
    return 0


def _drawn(out: str, size: str, panels: int | None) -> bytes:
    """Return the card, or the sheet of windows, as the file that is asked for."""
    ending = Path(out).suffix.lower()
    if ending not in (".pdf", ".svg"):
        raise InputError("`out`", f"{out[:60]!r} ends neither in .pdf nor in .svg", "name it so, e.g. card.pdf")
    sheet = card_sheet(size, COMMANDS) if panels is None else panel_sheet(size, panels, COMMANDS)
    return sheet_pdf(sheet) if ending == ".pdf" else sheet_svg(sheet).encode("utf-8")


def sheet_for_page(size: str, windows: int) -> bytes:
    """Return the sheet of so many numbered windows as a PDF, for who reads it on the bench page; of 0, the card."""
    if not windows:
        return sheet_pdf(card_sheet(size, COMMANDS))
    on_the_page = replace(COMMANDS, read_panels="the bench page, Banks, «Photograph the panels»")
    return sheet_pdf(panel_sheet(size, windows, on_the_page))


def _show(shown: ShopCard, sheet: str, with_windows: bool) -> None:
    card = shown.card
    _show_chart(shown)
    if shown.chart_now and not (shown.written or shown.registered_now):
        return
    for path in shown.written:
        what = "the form to fill in" if path.lower().endswith(".csv") else sheet
        click.echo(f"  wrote {path}: {what}")
    if with_windows:
        click.echo("  draw a panel down in each window, lay a 24-patch chart between them, photograph it all, then:")
        click.echo(f"  {COMMANDS.read_panels}")
    if card is None and with_windows:
        return
    if card is None:
        click.echo(
            "  no card is registered yet: with a 24-patch chart in its chart window it needs none; to do without a "
            "chart, read your own print with an instrument and register it (--form, --register)"
        )
        return
    if shown.written and not shown.registered_now:
        click.echo(f"  registered already: {card.name}, {len(card.readings)} fields; a new print is registered anew")
        return
    when = card.registered[:16].replace("T", " ")
    how = "registered" if shown.registered_now else "the card registered"
    click.echo(f"  {how} as #{card.number}: {card.name} ({when})")
    first = next(iter(card.readings.values()))
    rows = []
    for name, reading in card.readings.items():
        lab = reading.lab_in(first.light, first.observer)
        spread = reading.spread_de00
        rows.append(
            [
                swatch(lab_to_hex(lab)),
                name,
                *(f"{value:.1f}" for value in lab),
                "-" if spread is None else f"{spread:.2f}",
            ]
        )
    header = ["", f"{first.light}, {first.observer}°", "L*", "a*", "b*", "spread ΔE00"]
    click.echo("\n".join(table(header, rows)))


def _show_chart(shown: ShopCard) -> None:
    """Say which chart photographs are read by, where it was said or is asked for."""
    if shown.chart is not None:
        chart = shown.chart.chart
        which = f"the usual one, {MADE_WORDS[chart.made]}" if chart.made else f"your own, by {chart.name}"
        how = "registered" if shown.chart_now else "the chart registered"
        click.echo(f"  {how} as #{shown.chart.number}: {which}")
    elif not (shown.written or shown.registered_now):
        click.echo(
            f"  no chart is registered: it is taken as {MADE_WORDS[UNTIL_2014]}, unless a photograph shows that it is "
            f"newer; say which yours is (--chart {SINCE_2014})"
        )
