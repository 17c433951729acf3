"""`finishmatch bank fit`: the optics of every tint, by the panels of the bank."""

from __future__ import annotations

import click

from finishmatch.cli.common import NO_THIN_PANELS, detail_option, emit_json, json_option, say_warnings, stage, table
from finishmatch.steps.show_bank import FitOfBank, fit_bank

EXAMPLE = """\b
Example:
  finishmatch bank fit swatches/bank
"""


@click.command("fit", epilog=EXAMPLE)
@click.argument("bank")
@detail_option
@json_option
def fit_command(bank: str, detail: bool, as_json: bool) -> int:
    """Fit K and S of every tint, and the surface, on the panels of the folder BANK, and keep the fit beside them."""
    found = fit_bank(bank, progress=stage)
    if as_json:
        emit_json(found.as_dict())
    else:
        _show(found, detail)
    return 0


def _show(found: FitOfBank, detail: bool) -> None:
    fit = found.fit
    surface = fit.optics.surface
    by_colour = f", {found.seen_in_words}" if found.seen else ""
    panels = f"{len(fit.each_panel)} panels of {len(fit.optics.names)} tints fitted{by_colour}"
    click.echo(f"  {found.fitted.bank.name}: {panels}")
    click.echo(f"  {'films of a known build can be predicted' if fit.optics.per_um else NO_THIN_PANELS}")
    if detail:
        click.echo(f"  K and S {'per µm' if fit.optics.per_um else 'relative to the white'}")
        click.echo(
            f"  surface: k1 {surface.k1:.4f} (from the binder's index), k2 {surface.k2:.3f} and beam back "
            f"{surface.beam_back:.2f} (fitted)"
        )
    residuals = sorted(p.residual_de00 for p in fit.each_panel)
    click.echo(f"  residual ΔE00: median {residuals[len(residuals) // 2]:.2f}, worst {residuals[-1]:.2f}\n")
    rows = [[name, str(fit.panels_per_tint[name]), f"{fit.residual_per_tint[name]:.2f}"] for name in fit.optics.names]
    click.echo("\n".join(table(["tint", "panels", "residual ΔE00"], rows)))
    click.echo()
    worst = sorted(fit.each_panel, key=lambda p: -p.residual_de00)[:5]
    furthest = ", ".join(f"{one.panel} {one.residual_de00:.2f}" for one in worst)
    click.echo(f"  panels furthest from the fit: {furthest}")
    say_warnings(fit.warnings)
