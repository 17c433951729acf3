"""`finishmatch bank show`: the tins of a bank and their colours."""

from __future__ import annotations

from pathlib import Path

import click

from finishmatch.cli.bank import EXAMPLE
from finishmatch.cli.common import emit_json, json_option, replace_option, say_warnings, stage, swatch, table
from finishmatch.colour.display import lab_to_hex
from finishmatch.dossier.bank_page import render_bank
from finishmatch.dossier.bank_plot import bank_png
from finishmatch.outputs import check_output, write_output
from finishmatch.steps.hazards import hazard_line
from finishmatch.steps.show_bank import BankShown, ShownTint, show_bank


@click.command("show", epilog=EXAMPLE)
@click.argument("bank")
@click.option(
    "--plot",
    metavar="FILE",
    help="Write the curves of K and S with their bands to this file: a PNG, or as .html a page.",
)
@replace_option
@json_option
def show_command(bank: str, plot: str | None, replace: bool, as_json: bool) -> int:
    """Show the tints of the folder BANK: role, stock, price, masstone and letdown colours."""
    check_output(plot, replace)
    shown = show_bank(bank, progress=stage)
    if plot is not None:
        _draw(Path(plot), shown, replace)
    if as_json:
        emit_json(shown.as_dict())
    else:
        _show(shown)
        if plot is not None:
            click.echo(f"  curves of K and S: {plot}")
        say_warnings(shown.warnings)
    return 0


def _show(shown: BankShown) -> None:
    bank = shown.fitted.bank
    click.echo(f"  {bank.name}, read {bank.geometry}; masstone, and one part in ten in white")
    if shown.with_cards is not None and shown.with_cards.words:
        click.echo(f"  {shown.with_cards.words}")
    click.echo()
    header = ["full", "1:9", "tint", "role", "pigment", "kg/L", "solids", "price/kg", "stock g", "L*", "a*", "b*"]
    click.echo("\n".join(table(header, [_row(tint) for tint in shown.tints])))
    click.echo()
    for tint in bank.tints:
        if tint.hazards:
            click.echo(f"  ! {hazard_line(tint)}")
    if shown.ideas:
        click.echo("  the panels to draw down next (their colour is least certain), 100 g each:")
        for idea in shown.ideas:
            parts = " + ".join(f"{grams:g} g {tint}" for tint, grams in idea.parts)
            click.echo(f"    {parts}  (predicted to ΔE00 {idea.unsure_de00:.2f})")


def _row(shown: ShownTint) -> list[str]:
    tint = shown.tint
    swatches = ["" if lab is None else swatch(lab_to_hex(lab)) for lab in (shown.masstone, shown.letdown)]
    lab = ["-"] * 3 if shown.masstone is None else [f"{value:.1f}" for value in shown.masstone]
    known = [f"{tint.density_kg_l:.2f}", f"{tint.volume_solids:.2f}", f"{tint.price_per_kg:.2f}", f"{tint.stock_g:.0f}"]
    return [*swatches, tint.name, tint.role, tint.colour_index, *known, *lab]


def _draw(path: Path, shown: BankShown, replace: bool) -> None:
    """Draw the curves of the bank as a picture or on a page."""
    with stage("drawing the curves"):
        if path.suffix.casefold() in (".html", ".htm"):
            content = render_bank(shown).encode()
        else:
            known = {one.tint.name: lab_to_hex(one.masstone) for one in shown.tints if one.masstone is not None}
            content = bank_png(shown.fitted.today or shown.fitted.fit, known)
    write_output(path, content, replace)
