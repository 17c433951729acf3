"""`finishmatch defect calibrate`: what the steps take off in this shop."""

from __future__ import annotations

from pathlib import Path

import click

from finishmatch.cautions import SANDING
from finishmatch.cli.common import emit_json, json_option, say_cautions, table
from finishmatch.steps.defect import calibrate as step


@click.command(
    "calibrate",
    epilog="""\b
Examples:
  finishmatch defect calibrate
  finishmatch defect calibrate swatches/removal.csv
""",
)
@click.argument("file", required=False, type=click.Path(path_type=Path))
@click.option("--anew", is_flag=True, help="Forget the readings kept before, and keep those of FILE alone.")
@json_option
def calibrate(file: Path | None, anew: bool, as_json: bool) -> None:
    """Learn what sanding and polishing take off in this shop, from readings before and after each step.

    FILE is a CSV with the columns panel,step,before_um,after_um and, if wanted, place. Its readings are kept in
    removal.csv beside the ledger; defect advise uses them. Without FILE the steps are shown as they stand.
    """
    learnt = step.calibrate(file, anew=anew)
    if as_json:
        emit_json(learnt.as_dict())
        return
    header = ("step", "common practice, µm", "here, µm (80 %)", "readings", "panels")
    click.echo("\n".join(table(header, [_row(item) for item in learnt.steps])))
    if learnt.given is not None:
        known = learnt.given - learnt.added
        again = f"; {known} of the file were kept already" if known > 0 else ""
        click.echo(f"  {learnt.added} readings added, {learnt.readings} kept{again}")
        click.echo(f"  in {learnt.file}")
    elif not learnt.readings:
        click.echo("  nothing is calibrated yet: read the film before and after a step, and name the file of readings")
    say_cautions(SANDING)


def _row(item: step.StepTaken) -> tuple[str, ...]:
    here, common = item.here, item.common
    low, high = step.interval_80(here)
    measured = f"{here.mean_um:.1f} ({low:.1f} to {high:.1f})" if here.readings else "-"
    low, high = step.interval_80(common)
    usual = f"{common.mean_um:.1f} ({low:.1f} to {high:.1f})"
    return (here.name, usual, measured, str(here.readings or "-"), str(here.panels or "-"))
