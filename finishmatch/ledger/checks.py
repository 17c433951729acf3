"""What an entry may replace and refer to, and whether it says anything new: looked up under the write lock."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import fields
from typing import Any

from sqlalchemy import select
from sqlalchemy.orm import Session

from finishmatch.errors import InputError
from finishmatch.ledger.clean_values import LARGEST_WHOLE
from finishmatch.ledger.entries import ANY_KIND, BatchEntry, Entry, Nth, ReadingEntry, SprayOutEntry, TargetEntry
from finishmatch.ledger.rows import EntryRow
from finishmatch.ledger.strikes import check_strikable, struck_in
from finishmatch.ledger.views import EntryView, JobView
from finishmatch.ledger.wording import kind_word

# a target, a tin, a card may come back to what it was before: only the last one counts
LAST_ONLY = (TargetEntry, BatchEntry, SprayOutEntry)


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


def check_replaceable(session: Session, job: JobView, kind: type[Entry], number: int) -> int:
    """See that an entry of a kind may replace another, and return the number it is kept behind.

    That is the other's own, or the last that was recorded in its place and was struck: a number is followed only once.

    Raises
    ------
    InputError
        When there is none, it is of another job or kind, was struck, or has been replaced already.
    """
    found = _kept_entry(session, job, number)
    if found.kind != kind.KIND:
        raise InputError(
            f"#{number}", f"is a {kind_word(found.kind)} and can't be replaced by a {kind_word(kind.KIND)}"
        )
    struck = struck_in(session, job.id)
    if number in struck:
        raise InputError(f"#{number}", f"was struck (#{struck[number]})", "record it as new, without `supersedes`")
    last = number
    while (later := session.scalar(select(EntryRow.number).where(EntryRow.supersedes_id == last))) is not None:
        if later not in struck:
            raise InputError(f"#{number}", f"has already been replaced by #{later}", f"replace #{later} instead")
        last = later
    return last


def check_reference(session: Session, job: JobView, number: int, kind: str) -> None:
    """See that an entry of this job and kind has this number.

    Raises
    ------
    InputError
    """
    found = _kept_entry(session, job, number)
    if kind not in (ANY_KIND, found.kind):
        raise InputError(f"#{number}", f"is a {kind_word(found.kind)}, not a {kind_word(kind)}")
    if (strike := struck_in(session, job.id).get(number)) is not None:
        raise InputError(f"#{number}", f"was struck (#{strike})", "name one that stands")


def check_strike(session: Session, job: JobView, number: int) -> None:
    """See that an entry of this job can be struck.

    Raises
    ------
    InputError
        There is none, it was struck or replaced before, or it is a strike that restored another entry.
    """
    check_strikable(session, job.id, number, _kept_entry(session, job, number).kind)


def kept_as(entry: Entry, current: Sequence[EntryView]) -> int | None:
    """Return the number under which a fact is kept already, or None.

    Parameters
    ----------
    entry : Entry
        Readings, targets, batches and spray-outs are facts; a judgement is always made anew.
    current : sequence of EntryView
        What stands in the job, in the order of its story.

    Notes
    -----
    It is the same fact when all it says is said there; what it leaves at its default it doesn't say.
    """
    if not isinstance(entry, (ReadingEntry, *LAST_ONLY)):
        return None
    alike = [view for view in current if view.kind == entry.KIND]
    if isinstance(entry, LAST_ONLY):
        alike = alike[-1:]
    return next((view.number for view in reversed(alike) if _says_no_more(entry, view.entry)), None)


def _says_no_more(entry: Entry, kept: Entry) -> bool:
    for field in fields(entry):
        said = getattr(entry, field.name)
        if isinstance(said, Nth) or (said != field.default and said != getattr(kept, field.name)):
            return False
    return True


def point_at(entry: Entry, numbers: Sequence[int]) -> dict[str, int]:
    """Return what the fields of an entry that point by index point at, given the numbers of the entries before it."""
    return {name: numbers[index] for name in entry.REFERS if isinstance(index := getattr(entry, name), Nth)}
