"""Photographs of cards that are in the record already, in whatever job."""

from __future__ import annotations

from collections.abc import Collection

from sqlalchemy import Text, cast, or_, select

from finishmatch.ledger.book import Ledger
from finishmatch.ledger.entries import SprayOutEntry
from finishmatch.ledger.rows import SprayOutRow
from finishmatch.ledger.strengths import marks_of
from finishmatch.ledger.views import EntryView, JobView


def cards_in_other_jobs(ledger: Ledger, job: JobView, marks: Collection[str]) -> list[tuple[JobView, EntryView]]:
    """Return the spray-outs of other jobs that stand and are known by one of some photographs, oldest first.

    Parameters
    ----------
    ledger : Ledger
    job : JobView
        The job whose own spray-outs are left out.
    marks : collection of str
        By what the photographs are known again (`marks_of`).
    """
    if not marks:
        return []
    kept = cast(SprayOutRow.seen, Text)
    wanted = select(SprayOutRow.job_id).where(or_(*(kept.contains(mark, autoescape=True) for mark in marks))).distinct()
    with ledger.reading() as session:
        ids = set(session.scalars(wanted)) - {job.id}
    return [
        (other, view)
        for other in (ledger.jobs(ids) if ids else ())
        for view in ledger.entries(other, kind=SprayOutEntry)
        if view.stands and isinstance(view.entry, SprayOutEntry) and not marks_of(view.entry).isdisjoint(marks)
    ]
