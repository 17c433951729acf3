"""Each entry carries a hash of itself and of the one before in its job, so that nothing can change without a word."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from functools import lru_cache
from typing import Any

from sqlalchemy import Double, Integer, Select, bindparam, select
from sqlalchemy.orm import Session

from finishmatch.ledger.rows import (
    Base,
    CoatRow,
    DefectRow,
    EntryLinkRow,
    EntryOriginRow,
    EntryRow,
    JobOriginRow,
    JobRow,
)

# columns that hold the number of an entry, or of the job
_POINTERS = ("number", "supersedes_id")
_POINTING = "_number"
_MAY_BE_EMPTY = (str, bytes, list, tuple, dict)
_AS_TEXT = json.JSONEncoder(sort_keys=True, separators=(",", ":"))


@dataclass(frozen=True)
class HashedAs:
    """Under which numbers an imported job and its entries are hashed: those they had where they were written.

    Parameters
    ----------
    job : int or None
        None for a job that was opened here.
    entries : mapping of int to int
        Of each entry that was imported.
    """

    job: int | None = None
    entries: Mapping[int, int] = field(default_factory=dict)


AS_NUMBERED = HashedAs()


def hashed_as(session: Session, job_id: int) -> HashedAs:
    """Return under which numbers a job and its entries are hashed."""
    job = session.scalar(_job_origin(), {"job_id": job_id})
    if job is None:
        return AS_NUMBERED
    wanted = (
        select(EntryOriginRow.number, EntryOriginRow.hashed_as)
        .join(EntryRow, EntryRow.number == EntryOriginRow.number)
        .where(EntryRow.job_id == job_id)
    )
    return HashedAs(job, {number: int(before) for number, before in session.execute(wanted)})


# what is asked at every reading or entry is put together once


@lru_cache(maxsize=1)
def _job_origin() -> Select[int]:
    return select(JobOriginRow.hashed_as).where(JobOriginRow.job_id == bindparam("job_id"))


@lru_cache(maxsize=1)
def _newest_link() -> Select[str]:
    return (
        select(EntryLinkRow.sha256)
        .join(EntryRow, EntryRow.number == EntryLinkRow.number)
        .where(EntryRow.job_id == bindparam("job_id"))
        .order_by(EntryRow.number.desc())
        .limit(1)
    )


@lru_cache(maxsize=1)
def _links() -> Select[int, str]:
    return (
        select(EntryRow.number, EntryLinkRow.sha256)
        .outerjoin(EntryLinkRow, EntryRow.number == EntryLinkRow.number)
        .where(EntryRow.job_id == bindparam("job_id"))
        .order_by(EntryRow.number)
    )


def link_of(previous: str, row: EntryRow, numbers: HashedAs = AS_NUMBERED) -> str:
    """Return the hash of an entry, chained to that of the one before in its job.

    Parameters
    ----------
    previous : str
        The hash of the entry before, or `head_of` the job.
    row : EntryRow
        With what belongs to it: its sources, and what was met.
    numbers : HashedAs
        Of its job.

    Notes
    -----
    What is empty is left out, so that a column which a later form adds changes no hash.
    """
    kept = _columns(row)
    for name, value in kept.items():
        if name in _POINTERS or name.endswith(_POINTING):
            kept[name] = numbers.entries.get(value, value)
    if numbers.job is not None:
        kept["job_id"] = numbers.job
    kept["sources"] = [[source.position, source.name, source.sha256] for source in row.sources]
    if isinstance(row, DefectRow):
        kept["exposures"] = [[met.position, met.kind, met.value, met.met_on] for met in row.exposures]
    elif isinstance(row, CoatRow):
        kept["exposures"] = [[item.position, item.met.kind, item.met.value] for item in row.exposures]
    return _hash(previous, kept)


def head_of(job: JobRow, numbers: HashedAs = AS_NUMBERED) -> str:
    """Return the hash of a job's own row, from which the chain of its entries starts."""
    return _hash("", _columns(job) | ({} if numbers.job is None else {"id": numbers.job}))


def columns_hash(previous: str, row: Base) -> str:
    """Return the hash of what stands in the columns of a row, chained to another."""
    return _hash(previous, _columns(row))


def _columns(row: Base) -> dict[str, Any]:
    kept: dict[str, Any] = {}
    loaded = row.__dict__
    for name, convert in _converted(type(row)):
        value = loaded[name] if name in loaded else getattr(row, name)
        if value is None or (isinstance(value, _MAY_BE_EMPTY) and not value):
            continue
        kept[name] = value if convert is None else convert(value)
    return kept


@lru_cache(maxsize=100)
def _converted(kind: type[Base]) -> tuple[tuple[str, Callable[[Any], Any] | None], ...]:
    """Return the columns of a row, each with what makes its value the number that the database gives back."""
    columns = [(one.key, one.columns[0].type) for one in kind.__mapper__.column_attrs]
    return tuple(
        (name, _plain_float if isinstance(of, Double) else int if isinstance(of, Integer) else None)
        for name, of in columns
    )


def _plain_float(value: Any) -> float:
    return float(value) + 0.0  # a zero has no sign in a file


def _hash(previous: str, kept: Mapping[str, Any]) -> str:
    return hashlib.sha256(_AS_TEXT.encode([previous, kept]).encode()).hexdigest()


def add_link(session: Session, row: EntryRow) -> None:
    """Chain an entry that was just written to the one before in its job."""
    numbers = hashed_as(session, row.job_id)
    previous = session.scalar(_newest_link(), {"job_id": row.job_id}) or head_of(
        session.get_one(JobRow, row.job_id), numbers
    )
    session.add(EntryLinkRow(number=row.number, sha256=link_of(previous, row, numbers)))
    session.flush()


def changed_in(session: Session, job_id: int, rows: Sequence[EntryRow]) -> Iterator[int]:
    """Yield the numbers of entries of a job that aren't as they were written, or don't follow the one before.

    Parameters
    ----------
    session : Session
    job_id : int
    rows : sequence of EntryRow
        All of the job or some of them.
    """
    links = [(number, sha256) for number, sha256 in session.execute(_links(), {"job_id": job_id})]
    numbers = hashed_as(session, job_id)
    before, previous = dict[int, str](), head_of(session.get_one(JobRow, job_id), numbers)
    for number, sha256 in links:
        before[number], previous = previous, sha256 or ""
    kept = dict(links)
    for row in rows:
        if kept.get(row.number) != link_of(before.get(row.number, ""), row, numbers):
            yield row.number


def link_all(session: Session) -> None:
    """Chain the entries of a ledger of a form that had no links yet, as they stand."""
    for number in session.scalars(select(EntryRow.number).order_by(EntryRow.number)).all():
        add_link(session, session.get_one(EntryRow, number))
