"""`finishmatch bank`: fit the optics of a bank of tints, and look at them."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from finishmatch.cli.common import (
    emit_json,
    hazard_line,
    json_option,
    say_warnings,
    stage,
    swatch,
    table,
)
from finishmatch.cli.lazy_group import NamingGroup
from finishmatch.files import write_file

if TYPE_CHECKING:
    from finishmatch.cli.inputs import FittedBank
    from finishmatch.optics.next_panel import PanelIdea

FIT_EXAMPLE = """\b
Example:
  finishmatch bank fit swatches/bank
"""
SHOW_EXAMPLE = """\b
Example:
  finishmatch bank show swatches/bank
"""


@click.group(cls=NamingGroup, epilog=SHOW_EXAMPLE)
def bank_command() -> None:
    """A bank of tints: the tins on the shelf and the panels they were characterised from."""


@bank_command.command("fit", epilog=FIT_EXAMPLE)
@click.argument("bank")
@json_option
def fit_command(bank: str, as_json: bool) -> int:
    """Fit K and S of every tint, and the surface, on the panels of the folder BANK, and keep the fit beside them."""
    from finishmatch.cli.inputs import open_bank
    from finishmatch.readings import store_fit

    fitted = open_bank(bank)
    if fitted.fresh:
        store_fit(fitted.folder, fitted.bank, fitted.fit)
    fit = fitted.fit
    surface = fit.optics.surface
    if as_json:
        emit_json(
            {
                "tints": {
                    name: {"panels": fit.panels_per_tint[name], "residual_de00": fit.residual_per_tint[name]}
                    for name in fit.optics.names
                },
                "surface": {"k1": surface.k1, "k2": surface.k2, "beam_back": surface.beam_back},
                "per_um": fit.optics.per_um,
                "panels": [{"panel": p.panel, "residual_de00": p.residual_de00} for p in fit.panels],
                "warnings": list(fit.warnings),
            }
        )
        return 0
    click.echo(f"  {fitted.bank.name}: {len(fit.panels)} panels of {len(fit.optics.names)} tints fitted")
    click.echo(
        "  K and S per µm: films of a known build can be predicted"
        if fit.optics.per_um
        else "  K and S relative to the white: no panel of a known build over a ground was read"
    )
    click.echo(
        f"  surface: k1 {surface.k1:.4f} (from the binder's index), k2 {surface.k2:.3f} and beam back "
        f"{surface.beam_back:.2f} (fitted)"
    )
    residuals = sorted(p.residual_de00 for p in fit.panels)
    click.echo(f"  residual ΔE00: median {residuals[len(residuals) // 2]:.2f}, worst {residuals[-1]:.2f}\n")
    rows = [[name, str(fit.panels_per_tint[name]), f"{fit.residual_per_tint[name]:.2f}"] for name in fit.optics.names]
    click.echo("\n".join(table(["tint", "panels", "residual ΔE00"], rows)))
    click.echo()
    worst = sorted(fit.panels, key=lambda p: -p.residual_de00)[:5]
    click.echo("  panels furthest from the fit: " + ", ".join(f"{p.panel} {p.residual_de00:.2f}" for p in worst))
    say_warnings(fit.warnings)
    return 0


@bank_command.command("show", epilog=SHOW_EXAMPLE)
@click.argument("bank")
@click.option(
    "--plot",
    metavar="FILE",
    help="Write the curves of K and S with their bands to this file: a PNG, or as .html a page.",
)
@json_option
def show_command(bank: str, plot: str | None, as_json: bool) -> int:
    """Show the tints of the folder BANK: role, stock, price, masstone and letdown colours."""
    import numpy as np

    from finishmatch.cli.inputs import keep_fit, open_bank
    from finishmatch.colour import reflectance_to_lab
    from finishmatch.colour.display import lab_to_hex
    from finishmatch.optics import predicted_reflectance
    from finishmatch.optics.next_panel import next_panels

    fitted = open_bank(bank)
    kept = keep_fit(fitted)
    optics = fitted.fit.optics
    white = next((tint.name for tint in fitted.bank.tints if tint.role == "white"), None)
    rows: list[list[str]] = []
    document: dict[str, Any] = {}
    for tint in fitted.bank.tints:
        facts = {
            "role": tint.role,
            "colour_index": tint.colour_index,
            "density_kg_l": tint.density_kg_l,
            "volume_solids": tint.volume_solids,
            "price_per_kg": tint.price_per_kg,
            "stock_g": tint.stock_g,
            "hazards": list(tint.hazards),
        }
        swatches = ["", ""]
        if tint.name in optics.names:
            grams = np.zeros(len(optics.names))
            grams[optics.index(tint.name)] = 1
            masstone = reflectance_to_lab(predicted_reflectance(optics, grams))
            facts |= {"masstone_lab": masstone, "usable": tint.name in fitted.fit.usable}
            swatches[0] = swatch(lab_to_hex(masstone))
            if white and tint.name != white:
                grams = 0.1 * grams
                grams[optics.index(white)] = 0.9
                letdown = reflectance_to_lab(predicted_reflectance(optics, grams))
                facts["letdown_lab"] = letdown
                swatches[1] = swatch(lab_to_hex(letdown))
        document[tint.name] = facts
        rows.append(
            [*swatches, tint.name, tint.role, tint.colour_index, f"{tint.density_kg_l:.2f}",
             f"{tint.volume_solids:.2f}", f"{tint.price_per_kg:.2f}", f"{tint.stock_g:.0f}",
             *(("-",) * 3 if "masstone_lab" not in facts else (f"{v:.1f}" for v in masstone))]
        )  # fmt: skip
    warnings = [*fitted.fit.warnings, *kept]
    ideas = next_panels(fitted.bank, optics)
    if plot is not None:
        _write_plot(Path(plot), fitted, document, ideas, warnings)
    if as_json:
        emit_json(
            {
                "name": fitted.bank.name,
                "geometry": fitted.bank.geometry,
                "tints": document,
                "next_panels": [
                    {
                        "parts": [{"tint": tint, "grams": grams} for tint, grams in idea.parts],
                        "unsure_de00": idea.unsure_de00,
                    }
                    for idea in ideas
                ],
                "warnings": warnings,
            }
        )
        return 0
    click.echo(f"  {fitted.bank.name}, read {fitted.bank.geometry}; masstone, and one part in ten in white\n")
    header = ["full", "1:9", "tint", "role", "pigment", "kg/L", "solids", "price/kg", "stock g", "L*", "a*", "b*"]
    click.echo("\n".join(table(header, rows)))
    click.echo()
    for tint in fitted.bank.tints:
        if tint.hazards:
            click.echo(f"  ! {hazard_line(tint)}")
    if ideas:
        click.echo("  least sure, so the panels to draw next, of 100 g:")
        for idea in ideas:
            told = " + ".join(f"{grams:g} g {tint}" for tint, grams in idea.parts)
            click.echo(f"    {told}  (predicted to ΔE00 {idea.unsure_de00:.2f})")
    if plot is not None:
        click.echo(f"  curves of K and S: {plot}")
    say_warnings(warnings)
    return 0


def _write_plot(
    path: Path, fitted: FittedBank, tints: dict[str, Any], ideas: tuple[PanelIdea, ...], warnings: list[str]
) -> None:
    """Write the curves of the bank as a picture or a page, or raise `InputError` when the file can't be written."""
    from finishmatch.colour.display import lab_to_hex

    with stage("drawing the curves"):
        if path.suffix.casefold() in (".html", ".htm"):
            from finishmatch.cli.bank.page import bank_page
            from finishmatch.dossier.bank_page import render_bank

            content = render_bank(bank_page(fitted, tints, ideas, warnings)).encode()
        else:
            from finishmatch.dossier.bank_plot import bank_png

            known = {name: facts["masstone_lab"] for name, facts in tints.items() if "masstone_lab" in facts}
            content = bank_png(fitted.fit, {name: lab_to_hex(lab) for name, lab in known.items()})
    write_file(path, content)
