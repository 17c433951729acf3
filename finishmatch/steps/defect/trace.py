"""Where a defect came from: what the bad coats of all jobs met more often than the good ones."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from finishmatch.cautions import REWORK
from finishmatch.defects import find_kind
from finishmatch.defects.confounding import Trial
from finishmatch.defects.onset import Onset
from finishmatch.defects.trace import Suspect, Trace
from finishmatch.defects.trace import trace as find_origin
from finishmatch.errors import InputError
from finishmatch.ledger import QuarantineMark, marks_standing, open_ledger
from finishmatch.ledger.shop import LAST_DAY, read_shop
from finishmatch.steps.days import day_of
from finishmatch.steps.progress import Progress, quiet

SHOWN = 8  # exposures that get an odds ratio


@dataclass(frozen=True)
class Traced:
    """What the record says of where some kinds of defect came from.

    Parameters
    ----------
    kinds : tuple of str
        Trade names of the defects that count; empty for any.
    found : Trace
    standing : tuple of QuarantineMark
        The exposures that are suspect already.
    """

    kinds: tuple[str, ...]
    found: Trace
    standing: tuple[QuarantineMark, ...]

    @property
    def suspect(self) -> frozenset[str]:
        """Names of the exposures that are suspect already."""
        return frozenset(mark.name for mark in self.standing)

    def as_dict(self) -> dict[str, Any]:
        """Return its JSON form; an odds ratio without a finite value is None."""
        found = self.found
        return {
            "kinds": list(self.kinds),
            "coats": found.coats,
            "bad": found.bad,
            "unnoted": found.unnoted,
            "looked_at": found.looked_at,
            "exposures": [_exposure_document(item, item.name in self.suspect) for item in found.suspects],
            "together": list(found.together),
            "rides_along": list(found.rides_along),
            "trial": None if found.trial is None else _trial_document(found.trial),
            "onset": _onset_document(found.onset),
            "cautions": list(REWORK),
        }


def trace(
    kinds: Sequence[str] = (),
    *,
    since: str | None = None,
    until: str | None = None,
    top: int = SHOWN,
    progress: Progress = quiet,
) -> Traced:
    """Find what the bad coats met more often than the good ones, over all jobs.

    Parameters
    ----------
    kinds : sequence of str
        The defects that count, by any of their names; all that were logged when empty.
    since, until : str or None
        First and last day of the coats, YYYY-MM-DD.
    top : int
        How many exposures get an odds ratio with its interval; the rest are only counted.

    Raises
    ------
    InputError
        No ledger, an unknown kind, days that can't be, or a record without a coat, a bad one or a good one.
    """
    wanted = {find_kind(kind).name for kind in kinds}
    first = "" if since is None else day_of("`since`", since)
    last = LAST_DAY if until is None else day_of("`until`", until)
    if first > last:
        raise InputError("`since`", f"{first} is after `until` {last}", "turn them round")
    with open_ledger(create=False) as ledger, progress("reading the record of the coats"):
        record = read_shop(ledger, wanted or None, first, last)
        standing = marks_standing(ledger)
    return Traced(tuple(sorted(wanted)), find_origin(record, top), tuple(standing))


def _exposure_document(item: Suspect, suspect: bool) -> dict[str, Any]:
    return {
        "exposure": item.name,
        "exposed": item.exposed,
        "exposed_bad": item.exposed_bad,
        "others": item.others,
        "others_bad": item.others_bad,
        "p": item.p,
        "adjusted_p": item.adjusted_p,
        "odds_ratio": _finite(item.odds_ratio),
        "odds_ratio_low": item.low,
        "odds_ratio_high": _finite(item.high),
        "small": item.small,
        "stands_out": item.stands_out,
        "suspect": suspect,
    }


def _trial_document(trial: Trial) -> dict[str, Any]:
    return {
        "arms": list(trial.arms),
        "panels": trial.panels,
        "guilty": trial.guilty,
        "innocent": trial.innocent,
        "power": trial.power,
    }


def _onset_document(onset: Onset) -> dict[str, Any]:
    return {
        "chance": onset.chance,
        "began": onset.began,
        "day": onset.day and onset.day.isoformat(),
        "earliest": onset.earliest and onset.earliest.isoformat(),
        "latest": onset.latest and onset.latest.isoformat(),
        "before": onset.before,
        "after": onset.after,
        "periods": [{"label": p.label, "coats": p.coats, "bad": p.bad} for p in onset.periods],
    }


def _finite(value: float) -> float | None:
    return value if math.isfinite(value) else None
