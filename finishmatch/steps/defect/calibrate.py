"""What the steps of sanding and polishing take off in this shop, learnt from readings before and after."""

from __future__ import annotations

import os
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from finishmatch.defects import Removal, ReworkFigures, Step, calibrated, common_rework_figures, find_step, with_record
from finishmatch.errors import InputError
from finishmatch.ledger import ledger_exists, ledger_home, open_ledger, recorded_outcomes
from finishmatch.readings.removal_file import BeforeAfter, joined, read_before_after, write_before_after

SHOP_FILE = "removal.csv"
HOLDS_80 = 1.2815515655446004  # standard deviations of a normal length to either side


@dataclass(frozen=True)
class StepTaken:
    """A step of sanding or polishing: by common practice, and as it is in this shop."""

    common: Step
    here: Step

    def as_dict(self) -> dict[str, Any]:
        """Return its JSON form."""
        here = self.here
        low, high = interval_80(here)
        return {
            "step": here.name,
            "synonyms": list(here.synonyms),
            "kind": here.kind,
            "common_um": self.common.mean_um,
            "mean_um": here.mean_um,
            "low_um": low,
            "high_um": high,
            "panel_sd_um": here.panel_sd_um,
            "spot_sd_um": here.spot_sd_um,
            "readings": here.readings,
            "panels": here.panels,
        }


@dataclass(frozen=True)
class Calibrated:
    """The steps as they now stand.

    Parameters
    ----------
    steps : tuple of StepTaken
    added : int
        Readings that were added to those kept.
    given : int or None
        Readings of the file that was given; None without one.
    readings : int
        Readings kept now.
    file : Path
        The shop's own file of them.
    """

    steps: tuple[StepTaken, ...]
    added: int
    given: int | None
    readings: int
    file: Path

    def as_dict(self) -> dict[str, Any]:
        """Return its JSON form."""
        return {
            "steps": [step.as_dict() for step in self.steps],
            "added": self.added,
            "readings": self.readings,
            "file": str(self.file),
        }


def calibrate(file: Path | None = None, *, anew: bool = False) -> Calibrated:
    """Add readings before and after each step to the shop's own, and return what the steps take off by all of them.

    Parameters
    ----------
    file : Path or None
        A CSV file with the columns panel, step, before_um, after_um and, if wanted, place; None shows what stands.
    anew : bool
        Forget the readings kept before.

    Raises
    ------
    InputError
        A file that can't be read, an unknown step, `anew` without a file; the shop's file is then as it was.
    """
    if file is None and anew:
        raise InputError("`anew`", "there is no FILE to begin anew with", "name it")
    path = _shop_file()
    kept = () if anew else _kept(path)
    rows, new = kept, None
    if file is not None:
        new = read_before_after(file)
        _removals(new)  # a step that is not known is refused before anything is written
        rows = joined(kept, new)
    common = common_rework_figures()
    figures = calibrated(common, _removals(rows))
    if file is not None and (anew or len(rows) > len(kept)):
        write_before_after(path, rows)
    steps = tuple(StepTaken(common.steps[step.name], step) for step in figures.steps.values())
    return Calibrated(steps, len(rows) - len(kept), None if new is None else len(new), len(rows), path)


def shop_rework_figures() -> ReworkFigures:
    """Return the figures of rework as the shop's own readings and outcomes say, where it keeps any."""
    kept = _kept(_shop_file())
    figures = calibrated(common_rework_figures(), _removals(kept)) if kept else common_rework_figures()
    if not ledger_exists():
        return figures
    with open_ledger(create=False) as ledger:
        came_out = [(item.chosen, item.result, item.defect_kind, item.seen) for item in recorded_outcomes(ledger)]
    return with_record(figures, came_out)


def interval_80(step: Step) -> tuple[float, float]:
    """Return the interval, µm, that holds what a step takes off at one spot of the next panel 80 times in 100."""
    sd = (step.panel_sd_um**2 + step.spot_sd_um**2) ** 0.5
    return max(0.0, step.mean_um - HOLDS_80 * sd), step.mean_um + HOLDS_80 * sd


def _shop_file() -> Path:
    return ledger_home() / SHOP_FILE


def _kept(path: Path) -> tuple[BeforeAfter, ...]:
    return read_before_after(path) if os.path.lexists(path) else ()


def _removals(rows: Iterable[BeforeAfter]) -> list[Removal]:
    """Return readings before and after with their steps by their one name; an unknown step is refused."""
    found = []
    for row in rows:
        try:
            name = find_step(row.step)
        except InputError as error:
            raise InputError(row.where, error.what, error.mend) from None
        found.append(Removal(row.panel, name, row.before_um, row.after_um))
    return found
