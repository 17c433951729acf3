"""Photographs of cards and letdowns that are in the record already, in whatever job."""

from __future__ import annotations

from collections.abc import Collection

from sqlalchemy import Text, cast, or_, select

from finishmatch.ledger.book import Ledger
from finishmatch.ledger.entries import SprayOutEntry, StrengthEntry
from finishmatch.ledger.rows import SprayOutRow, StrengthRow
from finishmatch.ledger.strengths import marks_of, marks_of_letdown
from finishmatch.ledger.views import EntryView, JobView


def photographed_before(ledger: Ledger, marks: Collection[str]) -> list[tuple[JobView, EntryView]]:
    """Return the spray-outs and letdowns that stand and are known by one of some photographs, oldest first.

    Parameters
    ----------
    ledger : Ledger
    marks : collection of str
        By what the photographs are known again (`marks_of`).
    """
    if not marks:
        return []
    ids: set[int] = set()
    with ledger.reading() as session:
        for row, column in ((SprayOutRow, SprayOutRow.seen), (StrengthRow, StrengthRow.letdown)):
            kept = cast(column, Text)
            holds = or_(*(kept.contains(mark, autoescape=True) for mark in marks))
            ids |= set(session.scalars(select(row.job_id).where(holds).distinct()))
    return [
        (job, view)
        for job in (ledger.jobs(ids) if ids else ())
        for view in ledger.entries(job)
        if view.stands and not _marks(view).isdisjoint(marks)
    ]


def _marks(view: EntryView) -> set[str]:
    """Return by what the photographs of a card or a letdown are known; none of any other entry."""
    entry = view.entry
    if isinstance(entry, SprayOutEntry):
        return marks_of(entry)
    return marks_of_letdown(entry) if isinstance(entry, StrengthEntry) else set()
