"""`finishmatch defect calibrate`: what the steps take off in this shop."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path
from typing import TYPE_CHECKING

import click

from finishmatch.cautions import SANDING
from finishmatch.cli.common import emit_json, json_option, say_cautions, table

if TYPE_CHECKING:
    from finishmatch.defects import Practice, Removal, Step
    from finishmatch.readings.removal_file import BeforeAfter

SHOP_FILE = "removal.csv"
HOLDS_80 = 1.2815515655446004  # standard deviations of a normal length to either side


def shop_practice() -> Practice:
    """Return the figures of rework as the shop's own readings and outcomes say, where it keeps any."""
    from finishmatch.defects import calibrated, common_practice, with_record
    from finishmatch.ledger import ledger_exists, open_ledger, recorded_outcomes

    kept = _kept(_shop_file())
    practice = calibrated(common_practice(), removals(kept)) if kept else common_practice()
    if not ledger_exists():
        return practice
    with open_ledger(create=False) as ledger:
        known = [(item.chosen, item.result, item.defect_kind, item.seen) for item in recorded_outcomes(ledger)]
    return with_record(practice, known)


def _shop_file() -> Path:
    from finishmatch.ledger.home import ledger_home

    return ledger_home() / SHOP_FILE


def _kept(path: Path) -> tuple[BeforeAfter, ...]:
    from finishmatch.readings.removal_file import read_before_after

    return read_before_after(path) if path.exists() else ()


def removals(rows: Iterable[BeforeAfter]) -> list[Removal]:
    """Return readings before and after with their steps by their one name; an unknown step is refused."""
    from finishmatch.defects import Removal, find_step
    from finishmatch.errors import InputError

    found = []
    for row in rows:
        try:
            name = find_step(row.step)
        except InputError as error:
            raise InputError(row.where, error.what, error.mend) from None
        found.append(Removal(row.panel, name, row.before_um, row.after_um))
    return found


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
    removal.csv beside the ledger; defect advise reckons with them. Without FILE the steps are shown as they stand.
    """
    from finishmatch.defects import calibrated, common_practice
    from finishmatch.errors import InputError
    from finishmatch.readings.removal_file import joined, read_before_after, write_before_after

    path = _shop_file()
    if file is None and anew:
        raise InputError("--anew", "there is no FILE to begin anew with", "name it")
    kept = () if anew else _kept(path)
    rows = kept
    if file is not None:
        new = read_before_after(file)
        removals(new)  # a step that is not known is told before anything is written
        rows = joined(kept, new)
    practice = calibrated(common_practice(), removals(rows))
    if file is not None and (anew or len(rows) > len(kept)):
        write_before_after(path, rows)
    added, known = len(rows) - len(kept), common_practice().steps
    if as_json:
        emit_json(
            {
                "steps": [_document(step, known[step.name]) for step in practice.steps.values()],
                "added": added,
                "readings": len(rows),
                "file": str(path),
            }
        )
        return
    header = ("step", "common practice, µm", "here, µm (80 %)", "readings", "panels")
    click.echo("\n".join(table(header, [_row(step, known[step.name]) for step in practice.steps.values()])))
    if file is not None:
        again = f"; {len(new) - added} stood there already" if len(new) > added else ""
        click.echo(f"  {added} readings added, {len(rows)} kept{again}")
        click.echo(f"  in {path}")
    elif not rows:
        click.echo("  nothing is calibrated yet: read the film before and after a step, and give the file")
    say_cautions(SANDING)


def _document(step: Step, common: Step) -> dict[str, object]:
    low, high = _interval(step)
    return {
        "step": step.name,
        "synonyms": list(step.synonyms),
        "kind": step.kind,
        "common_um": common.mean_um,
        "mean_um": step.mean_um,
        "low_um": low,
        "high_um": high,
        "panel_sd_um": step.panel_sd_um,
        "spot_sd_um": step.spot_sd_um,
        "readings": step.readings,
        "panels": step.panels,
    }


def _row(step: Step, common: Step) -> tuple[str, ...]:
    low, high = _interval(step)
    here = f"{step.mean_um:.1f} ({low:.1f} to {high:.1f})" if step.readings else "-"
    low, high = _interval(common)
    return (
        step.name,
        f"{common.mean_um:.1f} ({low:.1f} to {high:.1f})",
        here,
        str(step.readings or "-"),
        str(step.panels or "-"),
    )


def _interval(step: Step) -> tuple[float, float]:
    sd = (step.panel_sd_um**2 + step.spot_sd_um**2) ** 0.5
    return max(0.0, step.mean_um - HOLDS_80 * sd), step.mean_um + HOLDS_80 * sd
