"""What was read while a ledger is open: entries are added and never changed, so that a job is read once."""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache

from sqlalchemy import Select, bindparam, func, select
from sqlalchemy.orm import Session

from finishmatch.ledger.rows import EntryRow
from finishmatch.ledger.views import EntryView

Extent = tuple[int, int]


class ViewsRead:
    """The jobs that were read and found sound, whole or one kind of entry, each as of how many entries it had."""

    def __init__(self) -> None:
        self._kept: dict[tuple[int, str | None], tuple[Extent, tuple[EntryView, ...]]] = {}

    def of(self, job_id: int, kind: str | None, extent: Extent) -> list[EntryView] | None:
        """Return the views of a job, or those of one kind, where nothing was added since they were read; else None."""
        for read_as in (kind, None):
            then, views = self._kept.get((job_id, read_as), (None, ()))
            if then == extent:
                return [view for view in views if kind in (None, view.kind)]
        return None

    def keep(self, job_id: int, kind: str | None, extent: Extent, views: Sequence[EntryView]) -> None:
        """Keep the views of a job, or of one kind; `extent` was asked for before they were read."""
        self._kept[job_id, kind] = extent, tuple(views)


def extent_of(session: Session, job_id: int) -> Extent:
    """Return how many entries a job has, and the number of the newest; two bays may end theirs out of order."""
    count, newest = session.execute(_extent(), {"job_id": job_id}).one()
    return count, newest or 0


@lru_cache(maxsize=1)
def _extent() -> Select[int, int]:
    """Return the question, which is asked at every reading: put together once."""
    return select(func.count(), func.max(EntryRow.number)).where(EntryRow.job_id == bindparam("job_id"))
