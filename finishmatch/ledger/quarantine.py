"""Suspect exposures: marked, and cleared with a reason. No mark is taken back; the last one of an exposure stands."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from sqlalchemy.orm import Session

from finishmatch.errors import InputError
from finishmatch.ledger.book import Ledger
from finishmatch.ledger.clean_values import clean_line
from finishmatch.ledger.row_chain import keep_row, kept_rows
from finishmatch.ledger.rows import QuarantineRow
from finishmatch.ledger.views import JobView

SUSPECT, CLEARED = "suspect", "cleared"


@dataclass(frozen=True)
class QuarantineMark:
    """A mark on an exposure: suspect or cleared, why, when (UTC in ISO 8601), and the job's ref it was made for."""

    kind: str
    value: str
    state: str
    why: str
    made_at: str
    job: str | None

    @property
    def name(self) -> str:
        """As it is typed: air line=2."""
        return f"{self.kind}={self.value}"

    def as_dict(self) -> dict[str, Any]:
        """Return what a face prints as JSON."""
        fields = {"state": self.state, "why": self.why, "made_at": self.made_at, "job": self.job}
        return {"exposure": self.name, **fields}


def mark_exposure(
    ledger: Ledger, exposure: tuple[str, str], state: str, why: str, job: JobView | None = None
) -> QuarantineMark:
    """Mark an exposure as suspect, or clear it.

    Parameters
    ----------
    ledger : Ledger
    exposure : (str, str)
        Its kind and value.
    state : str
        "suspect" or "cleared".
    why : str
        Needed: what speaks against it, or what was done about it.
    job : JobView or None
        The job it came up in.

    Raises
    ------
    InputError
        No reason; marked or cleared already; clearing what isn't suspect. Nothing is written then.
    """
    kind, value = exposure
    name = f"{kind}={value}"
    why = clean_line("`why`", why)
    if not why:
        raise InputError("`why`", "no reason is given", "add one: `why` TEXT")
    with ledger.writing() as session:
        last = {_key(mark): mark for mark in _marks(session, ledger)}.get((kind, value.casefold()))
        if state == SUSPECT and last is not None and last.state == SUSPECT:
            raise InputError(name, f"is suspect already ({last.why})", "clear it first, or leave it")
        if state == CLEARED and (last is None or last.state == CLEARED):
            raise InputError(name, "is not suspect", "'finishmatch defect suspects' lists those that are")
        row = QuarantineRow(
            kind=kind,
            value=value,
            value_key=value.casefold(),
            state=state,
            why=why,
            made_at=ledger.stamp(),
            job_id=None if job is None else job.id,
        )
        keep_row(session, row)
        return _mark(row)


def marks_made(ledger: Ledger) -> list[QuarantineMark]:
    """Return every mark ever made, oldest first."""
    with ledger.reading() as session:
        return _marks(session, ledger)


def marks_standing(ledger: Ledger) -> list[QuarantineMark]:
    """Return the exposures that are suspect now, the oldest mark first."""
    last = {_key(mark): mark for mark in marks_made(ledger)}
    return sorted((mark for mark in last.values() if mark.state == SUSPECT), key=lambda mark: mark.made_at)


def suspects_met(exposures: Sequence[tuple[str, str]], standing: Sequence[QuarantineMark]) -> list[QuarantineMark]:
    """Return which suspects are among some exposures, whatever their capitals."""
    met = {(kind, value.casefold()) for kind, value in exposures}
    return [mark for mark in standing if _key(mark) in met]


def _key(mark: QuarantineMark) -> tuple[str, str]:
    return mark.kind, mark.value.casefold()


def _marks(session: Session, ledger: Ledger) -> list[QuarantineMark]:
    return [_mark(row) for row in kept_rows(session, QuarantineRow, "", ledger.path)]


def _mark(row: QuarantineRow) -> QuarantineMark:
    job = None if row.job_id is None else f"J{row.job_id}"
    return QuarantineMark(row.kind, row.value, row.state, row.why, row.made_at, job)
