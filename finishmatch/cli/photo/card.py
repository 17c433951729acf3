"""`finishmatch photo card`: print the shop's spray-out card, and register what the print reads."""

from __future__ import annotations

import os
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from finishmatch.cautions import SPRAYING
from finishmatch.cli.common import emit_json, json_option, say_cautions, say_warnings, swatch, table
from finishmatch.errors import InputError
from finishmatch.files import write_file

if TYPE_CHECKING:
    from finishmatch.photo.card.register import RegisteredCard

EXAMPLE = """\b
Examples:
  finishmatch photo card --out card.pdf
  finishmatch photo card --out card.svg --size letter --form form.csv
  finishmatch photo card --register swatches/cardprint.csv --name "office printer"

Without an option it tells which card is registered.
"""


@click.command("card", epilog=EXAMPLE)
@click.option("--out", metavar="FILE", help="Write the card to print: FILE.pdf or FILE.svg.")
@click.option(
    "--size", type=click.Choice(["A5", "letter"]), default="A5", show_default=True, help="The sheet to print on."
)
@click.option("--form", metavar="FILE", help="Write an empty readings file for what the print reads.")
@click.option("--register", metavar="FILE", help="Register what your own print reads: a readings file.")
@click.option("--name", default="card", show_default=True, metavar="TEXT", help="What you call that print.")
@json_option
def card_command(out: str | None, size: str, form: str | None, register: str | None, name: str, as_json: bool) -> int:
    """Write the spray-out card to print, and register what your own print of it reads.

    A photograph of the card is read without further options once the print is registered. The latest registration
    counts; the earlier ones are kept.
    """
    from finishmatch.ledger.home import ledger_home
    from finishmatch.photo.card.register import check_card, register_card, registered_card
    from finishmatch.readings import read_readings

    home = ledger_home()
    warnings: tuple[str, ...] = ()
    if out is not None and form is not None and os.path.abspath(out) == os.path.abspath(form):
        raise InputError("--form", "is the same file as --out", "name two files")
    # all that was given is looked at before anything is written
    sheet = _drawn(out, size)
    blank = _form(form)
    readings = None
    if register is not None:
        readings, warnings = check_card(read_readings(Path(register)), register)
    for path, data in ((out, sheet), (form, blank)):
        if path is not None and data is not None:
            write_file(Path(path), data)
    if readings is not None:
        card: RegisteredCard | None = register_card(home, name, readings, _now())
    else:
        card = registered_card(home)
    written = [path for path in (out, form) if path is not None]
    if as_json:
        emit_json({"written": written, "registered": _as_document(card), "warnings": list(warnings)})
        return 0
    _show(written, size, card, register is not None)
    say_warnings(warnings)
    if out is not None:
        say_cautions(SPRAYING)
    return 0


def _now() -> str:
    from datetime import UTC, datetime

    return datetime.now(UTC).isoformat(timespec="seconds").replace("+00:00", "Z")


def _drawn(out: str | None, size: str) -> bytes | None:
    """Return the card as the file that is asked for."""
    if out is None:
        return None
    from finishmatch.dossier.card_sheet import card_sheet
    from finishmatch.dossier.sheet_files import sheet_pdf, sheet_svg

    sheet = card_sheet(size)
    ending = Path(out).suffix.lower()
    if ending not in (".pdf", ".svg"):
        raise InputError("--out", f"{out[:60]!r} ends neither in .pdf nor in .svg", "name it so, e.g. card.pdf")
    return sheet_pdf(sheet) if ending == ".pdf" else sheet_svg(sheet).encode("utf-8")


def _form(form: str | None) -> bytes | None:
    """Return the empty readings file."""
    if form is None:
        return None
    from finishmatch.photo.card.register import card_form

    if os.path.lexists(form):  # it may hold the readings already
        raise InputError(form, "is there already", "name another file with --form")
    return card_form().encode("utf-8")


def _as_document(card: RegisteredCard | None) -> dict[str, Any] | None:
    if card is None:
        return None
    return {
        "number": card.number,
        "name": card.name,
        "registered": card.registered,
        "fields": {
            name: {
                "lab": reading.lab_in(reading.light, reading.observer),
                "light": reading.light,
                "observer": reading.observer,
                "repeats": len(reading.repeats),
                "spectral": reading.is_spectral,
            }
            for name, reading in card.readings.items()
        },
    }


def _show(written: list[str], size: str, card: RegisteredCard | None, now: bool) -> None:
    from finishmatch.colour.display import lab_to_hex

    for path in written:
        told = "the form to fill in" if path.lower().endswith(".csv") else f"the card on {size}: print it at 100 %"
        click.echo(f"  wrote {path}: {told}")
    if card is None:
        click.echo("  no card is registered yet: read your own print and register it (--form, --register)")
        return
    if written and not now:
        click.echo(f"  registered already: {card.name}, {len(card.readings)} fields; a new print is registered anew")
        return
    click.echo(f"  {'registered' if now else 'the card registered'} as #{card.number}: {card.name} ({_when(card)})")
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


def _when(card: RegisteredCard) -> str:
    return card.registered[:16].replace("T", " ")
