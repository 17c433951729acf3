"""Exposures marked as suspect and cleared again, and who is warned of them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from finishmatch.defects import exposure_pairs
from finishmatch.ledger import (
    CoatEntry,
    EntryView,
    Ledger,
    QuarantineMark,
    ledger_exists,
    mark_exposure,
    marks_made,
    marks_standing,
    open_ledger,
    suspects_met,
)


@dataclass(frozen=True)
class Marked:
    """A mark that was made."""

    mark: QuarantineMark

    def as_dict(self) -> dict[str, Any]:
        """Return its JSON form."""
        return {"mark": self.mark.as_dict()}


@dataclass(frozen=True)
class Marks:
    """The marks that stand, or every mark ever made."""

    marks: tuple[QuarantineMark, ...]

    def as_dict(self) -> dict[str, Any]:
        """Return its JSON form."""
        return {"marks": [mark.as_dict() for mark in self.marks]}


def mark(exposure: str, state: str, why: str | None, *, job: str | None = None) -> Marked:
    """Mark an exposure as suspect, or clear it of suspicion.

    Parameters
    ----------
    exposure : str
        KIND=VALUE, as in "air line=2".
    state : str
        "suspect" or "cleared".
    why : str or None
        What speaks against it, or how it was proved clean; needed.
    job : str or None
        The job it came up in.

    Raises
    ------
    InputError
        No reason; an exposure marked or cleared already; no such job. Nothing is written then.
    """
    (pair,) = exposure_pairs([exposure])
    with open_ledger(create=False) as ledger:
        found = None if job is None else ledger.find_job(job)
        return Marked(mark_exposure(ledger, pair, state, why or "", found))


def list_suspects(history: bool = False) -> Marks:
    """Return the exposures that are suspect now; with `history` every mark ever made. No ledger is made."""
    if not ledger_exists():
        return Marks(())
    with open_ledger(create=False) as ledger:
        return Marks(tuple(marks_made(ledger) if history else marks_standing(ledger)))


def suspects_warned(ledger: Ledger, exposures: Sequence[tuple[str, str]]) -> list[str]:
    """Return a warning for each suspect among some exposures."""
    return [
        f"{suspect.name} is suspect since {suspect.made_at[:10]}: {suspect.why}"
        for suspect in suspects_met(exposures, marks_standing(ledger))
    ]


def suspects_in(ledger: Ledger, views: Sequence[EntryView]) -> list[str]:
    """Return a warning for each coat of a job that met what is suspect, on the day it was marked or later."""
    standing = marks_standing(ledger)
    return [
        f"coat #{view.number} met {suspect.name}, which is suspect since {suspect.made_at[:10]}: {suspect.why}"
        for view in views
        if view.stands and isinstance(view.entry, CoatEntry)
        for suspect in suspects_met(view.entry.exposures, standing)
        if view.entry.sprayed_on >= datetime.fromisoformat(suspect.made_at).astimezone().date().isoformat()
    ]
