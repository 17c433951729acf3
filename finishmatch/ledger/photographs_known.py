"""Photographs of cards, letdowns and readings that are in the record already, in whatever job."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from pathlib import Path

from sqlalchemy import Text, cast, or_, select

from finishmatch.ledger.book import Ledger
from finishmatch.ledger.entries import ReadingEntry, SprayOutEntry, StrengthEntry
from finishmatch.ledger.photograph_marks import any_same, looked_up_by
from finishmatch.ledger.rows import EntryRow, EntrySourceRow, SprayOutRow, StrengthRow
from finishmatch.ledger.sources import read_sources
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
    known_by = {one for mark in marks for one in looked_up_by(mark)}
    with ledger.reading() as session:
        for row, column in ((SprayOutRow, SprayOutRow.seen), (StrengthRow, StrengthRow.letdown)):
            kept = cast(column, Text)
            holds = or_(*(kept.contains(mark, autoescape=True) for mark in known_by))
            ids |= set(session.scalars(select(row.job_id).where(holds).distinct()))
    return [
        (job, view)
        for job in (ledger.jobs(ids) if ids else ())
        for view in ledger.entries(job)
        if view.stands and any_same(_marks(view), marks)
    ]


def readings_photographed(ledger: Ledger, photographs: Sequence[Path]) -> list[tuple[JobView, EntryView]]:
    """Return the readings that stand and are of one of some photographs, oldest first.

    Parameters
    ----------
    ledger : Ledger
    photographs : sequence of Path
        Known again by the hash of the file as it is kept: a reading is kept with the photographs it is from.
    """
    hashes = {file.sha256 for files in read_sources(photographs, 1) for file in files}
    of_them = EntrySourceRow.sha256.in_(hashes)
    wanted = select(EntryRow.job_id).join(EntrySourceRow, EntrySourceRow.entry_number == EntryRow.number)
    with ledger.reading() as session:
        ids = set(session.scalars(wanted.where(of_them, EntryRow.kind == ReadingEntry.KIND).distinct()))
    return [
        (job, view)
        for job in (ledger.jobs(ids) if ids else ())
        for view in ledger.entries(job, kind=ReadingEntry)
        if view.stands and any(sha256 in hashes for _, sha256 in view.sources)
    ]


def _marks(view: EntryView) -> set[str]:
    """Return by what the photographs of a card or a letdown are known; none of any other entry."""
    entry = view.entry
    if isinstance(entry, SprayOutEntry):
        return marks_of(entry)
    return marks_of_letdown(entry) if isinstance(entry, StrengthEntry) else set()
