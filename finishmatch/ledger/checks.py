"""What an entry may replace, and what it may refer to: looked up under the write lock, so that it stays true."""

from __future__ import annotations

from typing import Any

from sqlalchemy import select
from sqlalchemy.orm import Session

from finishmatch.errors import InputError
from finishmatch.ledger.clean_values import LARGEST_WHOLE
from finishmatch.ledger.entries import Entry
from finishmatch.ledger.rows import EntryRow
from finishmatch.ledger.views import JobView
from finishmatch.ledger.wording import kind_word


def _kept_entry(session: Session, job: JobView, number: int) -> Any:
    columns = (EntryRow.kind, EntryRow.job_id)
    found = None
    if 0 < number <= LARGEST_WHOLE:
        found = session.execute(select(*columns).where(EntryRow.number == number)).one_or_none()
    if found is None:
        raise InputError(
            f"#{number}", "there is no such entry", f"see the numbers with: finishmatch job show {job.ref}"
        )
    if found.job_id != job.id:
        raise InputError(f"#{number}", f"belongs to job J{found.job_id}, not to {job.ref}")
    return found


def check_replaceable(session: Session, job: JobView, entry: Entry, number: int) -> None:
    """See that an entry may replace another.

    Raises
    ------
    InputError
        When there is none, it is of another job or kind, or has been replaced already.
    """
    found = _kept_entry(session, job, number)
    if found.kind != entry.KIND:
        raise InputError(
            f"#{number}", f"is a {kind_word(found.kind)} and can't be replaced by a {kind_word(entry.KIND)}"
        )
    later = session.scalar(select(EntryRow.number).where(EntryRow.supersedes_id == number))
    if later is not None:
        raise InputError(f"#{number}", f"has already been replaced by #{later}", f"replace #{later} instead")


def check_reference(session: Session, job: JobView, number: int, kind: str) -> None:
    """See that an entry of this job and kind has this number.

    Raises
    ------
    InputError
    """
    found = _kept_entry(session, job, number)
    if found.kind != kind:
        raise InputError(f"#{number}", f"is a {kind_word(found.kind)}, not a {kind_word(kind)}")
