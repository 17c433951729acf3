"""Entries that were struck: kept, and gone from all that counts. A strike that is struck itself counts no more."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from functools import lru_cache

from sqlalchemy import Select, bindparam, select
from sqlalchemy.orm import Session

from finishmatch.errors import InputError
from finishmatch.ledger.entries import StrikeEntry
from finishmatch.ledger.rows import EntryRow, StrikeRow
from finishmatch.ledger.wording import kind_word


def struck_in(session: Session, job_id: int | None = None) -> dict[int, int]:
    """Return the numbers of struck entries, each with that of the strike; of one job, or of all."""
    asked = session.execute(_struck(job_id is not None), {} if job_id is None else {"job_id": job_id})
    strikes = {row.number: row.struck_number for row in asked}
    undone = set(strikes.values())
    return {struck: number for number, struck in strikes.items() if number not in undone}


@lru_cache(maxsize=2)
def _struck(of_one: bool) -> Select[int, int]:
    """Return the question after strikes, of one job or of all: put together once."""
    wanted = select(StrikeRow.number, StrikeRow.struck_number)
    return wanted.where(StrikeRow.job_id == bindparam("job_id")) if of_one else wanted


def standing_again(session: Session, struck: Iterable[int]) -> set[int]:
    """Return the entries that were replaced, but by none that isn't struck itself."""
    numbers = set(struck)
    if not numbers:
        return set()
    pairs = session.execute(select(EntryRow.supersedes_id, EntryRow.number).where(EntryRow.supersedes_id.is_not(None)))
    newer = {older: number for older, number in pairs if older is not None}
    return {older for older in newer if older not in numbers and following(older, newer, numbers) is None}


def following(number: int, newer: Mapping[int, int], struck: Iterable[int] | Mapping[int, int]) -> int | None:
    """Return the number of what replaces an entry, those that were struck left out.

    Parameters
    ----------
    number : int
    newer : mapping of int to int
        Of each number, that of the entry recorded in its place.
    struck : collection of int
    """
    later = newer.get(number)
    while later is not None and later in struck:
        later = newer.get(later)
    return later


def check_strikable(session: Session, job_id: int, number: int, kind: str) -> None:
    """See that an entry of a job can be struck.

    Raises
    ------
    InputError
        It was struck before, or replaced, or it is a strike that restored what another one had struck.
    """
    struck = struck_in(session, job_id)
    where = f"#{number}"
    if number in struck:
        mend = f"to restore it, strike the strike, #{struck[number]}"
        if kind == StrikeEntry.KIND:
            mend = "strike the entry itself again, if it should go"
        raise InputError(where, f"was struck already (#{struck[number]})", mend)
    newer = {
        older: later
        for older, later in session.execute(
            select(EntryRow.supersedes_id, EntryRow.number).where(
                EntryRow.job_id == job_id, EntryRow.supersedes_id.is_not(None)
            )
        )
        if older is not None
    }
    if (later := following(number, newer, struck)) is not None:
        mend = f"strike #{later}, and #{number} stands again; then strike that too if it should go"
        raise InputError(where, f"was replaced by #{later} and doesn't count", mend)
    undone = session.get(StrikeRow, number)
    if undone is not None and session.get(StrikeRow, undone.struck_number) is not None:
        what = f"is a {kind_word(StrikeEntry.KIND)} that restored what #{undone.struck_number} had struck"
        raise InputError(where, what, "strike that entry again, if it should go")
