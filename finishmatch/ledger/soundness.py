"""Whether a whole ledger is sound: its file, the hash of every entry, the files that are kept."""

from __future__ import annotations

import hashlib
from dataclasses import dataclass
from typing import Any

from sqlalchemy import Connection, func, select
from sqlalchemy.exc import SQLAlchemyError
from sqlalchemy.orm import Session

from finishmatch.ledger.book import Ledger
from finishmatch.ledger.chain import changed_in, hashed_as, head_of
from finishmatch.ledger.mapping import whole_rows
from finishmatch.ledger.row_chain import WHAT, rows_changed
from finishmatch.ledger.rows import EntryLinkRow, EntryRow, JobBankRow, JobRow, SourceFileRow
from finishmatch.ledger.sources import left_of
from finishmatch.ledger.views import JobView


@dataclass(frozen=True)
class Damage:
    """What isn't as it was written: the ref of the job and the number of the entry, where it is one; and what it is."""

    job: str
    entry: int | None
    what: str


@dataclass(frozen=True)
class Soundness:
    """How much was looked at, and what is damaged in it."""

    jobs: int
    entries: int
    files: int
    damaged: tuple[Damage, ...]


def soundness_of(ledger: Ledger) -> Soundness:
    """Look at all that a ledger keeps: the database's own check, every entry's hash, every file's.

    Raises
    ------
    InputError
        A ledger so damaged that it can't be read at all.
    """
    with ledger.reading() as session:
        connection = session.connection()
        damaged = _of_file(connection) if connection.dialect.name == "sqlite" else []
        jobs = session.scalars(select(JobRow.id).order_by(JobRow.id)).all()
        for job_id in jobs:
            damaged += _of_job(session, job_id)
        for kind, what in WHAT.items():
            damaged += _beside(session, kind, what)
        hashes = session.scalars(select(SourceFileRow.sha256)).all()
        for sha256 in hashes:
            content = session.scalar(select(SourceFileRow.content).where(SourceFileRow.sha256 == sha256))
            if hashlib.sha256(content or b"").hexdigest() != left_of(session, sha256):
                damaged.append(Damage("", None, f"the file kept under {sha256[:16]}… is damaged"))
        entries = session.scalar(select(func.count()).select_from(EntryRow)) or 0
        return Soundness(len(jobs), entries, len(hashes), tuple(damaged))


def damage_of_file(ledger: Ledger) -> tuple[Damage, ...]:
    """Return what the database itself finds wrong with the file of a ledger; nothing of one on a server."""
    with ledger.reading() as session:
        connection = session.connection()
        return tuple(_of_file(connection)) if connection.dialect.name == "sqlite" else ()


def _of_file(connection: Connection) -> list[Damage]:
    """Return what the database itself finds wrong with its file; a server looks after its own."""
    said = connection.exec_driver_sql("PRAGMA integrity_check").scalars().all()
    damaged = [Damage("", None, f"the database says: {line}"[:200]) for line in said if line != "ok"]
    lost = connection.exec_driver_sql("PRAGMA foreign_key_check").all()
    return damaged + [Damage("", None, f"a row of {table} points at one that is lost") for table, *_ in lost]


def seal_of(ledger: Ledger, job: JobView) -> str:
    """Return the hash of the last entry of a job, which rests on all before it; of the job itself while it has none."""
    wanted = (
        select(EntryLinkRow.sha256)
        .join(EntryRow, EntryRow.number == EntryLinkRow.number)
        .where(EntryRow.job_id == job.id)
        .order_by(EntryRow.number.desc())
        .limit(1)
    )
    with ledger.reading() as session:
        return session.scalar(wanted) or head_of(session.get_one(JobRow, job.id), hashed_as(session, job.id))


def _beside(session: Session, kind: Any, what: str) -> list[Damage]:
    """Return the damage in a table beside the entries."""
    try:
        changed = rows_changed(session, kind)
    except (LookupError, TypeError, ValueError, AttributeError, AssertionError, SQLAlchemyError):
        return [Damage("", None, f"{what} can't be read")]
    if kind in (JobRow, JobBankRow):
        return [Damage(f"J{of}", None, f"{what} is not as it was written") for of in changed]
    return [Damage("", None, f"{what}{f' ({of})' if of else ''} is not as it was written") for of in changed]


def _of_job(session: Session, job_id: int) -> list[Damage]:
    """Return the damage in a job: all at once, or entry by entry where one that can't be read would hide the others."""
    try:
        rows = whole_rows(session, job_id)
        changed = list(changed_in(session, job_id, rows))
    except (LookupError, TypeError, ValueError, AttributeError, AssertionError, SQLAlchemyError):
        session.expunge_all()
    else:
        return [Damage(f"J{job_id}", number, "is not as it was written") for number in changed]
    found = []
    for number in session.scalars(select(EntryRow.number).where(EntryRow.job_id == job_id)).all():
        try:
            changed = list(changed_in(session, job_id, [session.get_one(EntryRow, number)]))
        except (LookupError, TypeError, ValueError, AttributeError, AssertionError, SQLAlchemyError):
            found.append(Damage(f"J{job_id}", number, "can't be read"))
        else:
            found += [Damage(f"J{job_id}", number, "is not as it was written") for _ in changed]
    return found
