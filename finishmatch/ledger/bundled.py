"""A job as it leaves one ledger and enters another: every entry with its hash, under the numbers it was hashed with."""

from __future__ import annotations

import hashlib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, fields, replace
from datetime import datetime
from typing import Any

from sqlalchemy import select
from sqlalchemy.orm import Session

from finishmatch.errors import InputError
from finishmatch.ledger.banks_used import BankTint, keep_tints
from finishmatch.ledger.book import Ledger
from finishmatch.ledger.chain import HashedAs, hashed_as, head_of, link_of
from finishmatch.ledger.clean_values import clean_line, clean_text
from finishmatch.ledger.entries import ANY_KIND, CoatEntry, Entry
from finishmatch.ledger.find_job import job_title
from finishmatch.ledger.mapping import job_view_of, keep_met, row_of
from finishmatch.ledger.row_chain import keep_row
from finishmatch.ledger.rows import (
    BankTintRow,
    CoatRow,
    EntryLinkRow,
    EntryOriginRow,
    EntryRow,
    EntrySourceRow,
    JobOriginRow,
    JobRow,
    SourceFileRow,
    SourceLeftRow,
)
from finishmatch.ledger.views import EntryView, JobView

CHANGED = "don't trust it: ask for it again, and compare its seal with the one on paper"


@dataclass(frozen=True)
class BundledEntry:
    """An entry on its way: as it stood, and what its hash rests on.

    Parameters
    ----------
    number, hashed_as : int
        Its number where it comes from, and the one it is hashed under.
    made_at : str
    follows : int or None
        The number of the entry it was recorded in place of.
    reason : str
    sources : tuple of (name, sha256)
    entry : Entry
    sha256 : str
        Its hash, which rests on all before it.
    """

    number: int
    hashed_as: int
    made_at: str
    follows: int | None
    reason: str
    sources: tuple[tuple[str, str], ...]
    entry: Entry
    sha256: str


@dataclass(frozen=True)
class BundledJob:
    """A job on its way: its texts, the number it is hashed under, its entries, the bank and its tints."""

    title: str
    vehicle: str
    colour_name: str
    note: str
    made_at: str
    hashed_as: int
    entries: tuple[BundledEntry, ...]
    bank: str
    tints: tuple[BankTint, ...]

    @property
    def seal(self) -> str:
        """The hash of the last entry."""
        return self.entries[-1].sha256


def bundled_job(ledger: Ledger, job: JobView, bank: str, tints: Sequence[BankTint]) -> BundledJob:
    """Return a job as it leaves: all its entries, those that were replaced or struck included."""
    views = ledger.entries(job)
    with ledger.reading() as session:
        numbers = hashed_as(session, job.id)
        wanted = (
            select(EntryRow.number, EntryRow.supersedes_id, EntryLinkRow.sha256)
            .join(EntryLinkRow, EntryLinkRow.number == EntryRow.number)
            .where(EntryRow.job_id == job.id)
        )
        kept = {number: (follows, sha256) for number, follows, sha256 in session.execute(wanted)}
    entries = tuple(_leaving(view, numbers, *kept[view.number]) for view in views)
    texts = (job.title, job.vehicle, job.colour_name, job.note, job.made_at)
    return BundledJob(*texts, numbers.job or job.id, entries, bank, tuple(tints))


def _leaving(view: EntryView, numbers: HashedAs, follows: int | None, sha256: str) -> BundledEntry:
    before = numbers.entries.get(view.number, view.number)
    return BundledEntry(view.number, before, view.made_at, follows, view.reason, view.sources, view.entry, sha256)


def job_with_seal(ledger: Ledger, seal: str) -> JobView | None:
    """Return the job that has an entry of a hash, or None: of that hash or of what followed it."""
    linked = select(EntryRow.job_id).join(EntryLinkRow, EntryLinkRow.number == EntryRow.number)
    wanted = linked.where(EntryLinkRow.sha256 == seal).limit(1)
    with ledger.reading() as session:
        job_id = session.scalar(wanted)
        return None if job_id is None else job_view_of(session.get_one(JobRow, job_id))


def take_in(ledger: Ledger, job: BundledJob, files: Mapping[str, bytes], where: str, bundle_sha256: str) -> JobView:
    """Add a job that comes from another ledger, all or nothing, and return it.

    Parameters
    ----------
    ledger : Ledger
    job : BundledJob
    files : mapping of str to bytes
        By the SHA-256 its entries name; of a photograph it may be what is left of it.
    where : str
        What the message names.
    bundle_sha256 : str
        Of the file it came in.

    Raises
    ------
    InputError
        An entry isn't as it was written, or points at none; nothing is recorded then.
    """
    with ledger.writing() as session:
        row = JobRow(**_texts(job, where), made_at=_time(job.made_at, where))
        keep_row(session, row)
        origin = JobOriginRow(
            job_id=row.id, hashed_as=job.hashed_as, bundle_sha256=bundle_sha256, imported_at=ledger.stamp()
        )
        session.add(origin)
        _keep_files(session, job, files, where)
        _TakingIn(session, row, job.hashed_as, where).all(job.entries)
        _keep_new_tints(session, job, ledger.stamp())
        return job_view_of(row)


def _texts(job: BundledJob, where: str) -> dict[str, str]:
    """Return the texts of a job; what would be kept otherwise than it stands was changed."""
    cleaned = {
        "title": job_title(job.title),
        "vehicle": clean_line("vehicle", job.vehicle),
        "colour_name": clean_line("colour", job.colour_name),
        "note": clean_text("note", job.note).strip(),
    }
    if any(getattr(job, name) != text for name, text in cleaned.items()):
        raise InputError(where, "the name of its job isn't as it was written", CHANGED)
    return cleaned


def _time(text: str, where: str) -> str:
    try:
        datetime.fromisoformat(text)
    except ValueError:
        raise InputError(where, f"{text[:30]!r} is not a time", CHANGED) from None
    return text


def _keep_files(session: Session, job: BundledJob, files: Mapping[str, bytes], where: str) -> None:
    for sha256 in dict.fromkeys(sha256 for one in job.entries for _, sha256 in one.sources):
        if sha256 not in files:
            raise InputError(where, f"lacks the file {sha256[:16]}… that an entry names", CHANGED)
        if session.get(SourceFileRow, sha256) is not None:
            continue
        content = files[sha256]
        session.add(SourceFileRow(sha256=sha256, content=content))
        session.flush()
        if (left := hashlib.sha256(content).hexdigest()) != sha256:
            session.add(SourceLeftRow(sha256=sha256, left_sha256=left))


def _keep_new_tints(session: Session, job: BundledJob, stamp: str) -> None:
    """Add those tints of its bank that are not known here by name; what is known here stands."""
    known = set(session.scalars(select(BankTintRow.tint).where(BankTintRow.bank == job.bank)))
    keep_tints(session, job.bank, [tint for tint in job.tints if tint.tint not in known], stamp)


class _TakingIn:
    """The entries of a job as they are taken in, one after the other, each held against its hash."""

    def __init__(self, session: Session, row: JobRow, job_hashed_as: int, where: str) -> None:
        self._session, self._row, self._where = session, row, where
        self._numbers: dict[int, int] = {}
        self._kinds: dict[int, str] = {}
        self._followed: set[int] = set()
        self._hashed: dict[int, int] = {}
        self._as = HashedAs(job_hashed_as, self._hashed)
        self._previous = head_of(row, self._as)

    def all(self, entries: Sequence[BundledEntry]) -> None:
        """Take in all entries, in the order they were made."""
        for one in entries:
            self._one(one)

    def _one(self, one: BundledEntry) -> None:
        where = f"{self._where}, entry #{one.number}"
        if one.number in self._numbers or (self._numbers and one.number < max(self._numbers)):
            raise InputError(where, "stands out of its order", CHANGED)
        entry = self._pointed(one.entry, where)
        row = row_of(
            entry,
            job_id=self._row.id,
            kind=entry.KIND,
            made_at=_time(one.made_at, where),
            supersedes_id=None if one.follows is None else self._follows(one, where),
            reason=one.reason,
        )
        if isinstance(row, CoatRow) and isinstance(entry, CoatEntry):
            keep_met(self._session, row, entry.exposures)
        for position, (name, sha256) in enumerate(one.sources):
            row.sources.append(EntrySourceRow(position=position, name=name, sha256=sha256))
        self._session.add(row)
        self._session.flush()
        self._numbers[one.number], self._kinds[one.number] = row.number, entry.KIND
        self._hashed[row.number] = one.hashed_as
        self._session.add(EntryOriginRow(number=row.number, hashed_as=one.hashed_as))
        link = link_of(self._previous, row, self._as)
        if link != one.sha256:
            raise InputError(where, "isn't as it was written: its hash doesn't fit", CHANGED)
        self._session.add(EntryLinkRow(number=row.number, sha256=link))
        self._previous = link

    def _pointed(self, entry: Entry, where: str) -> Entry:
        """Return an entry that points at the entries as they are numbered here."""
        names = {field.name for field in fields(entry)}
        pointed: dict[str, Any] = {}
        for name, kind in entry.REFERS.items():
            number = getattr(entry, name) if name in names else None
            if number is None:
                continue
            if kind not in (ANY_KIND, self._kinds.get(number)) or number not in self._numbers:
                raise InputError(where, f"points at #{number}, which is no such entry before it", CHANGED)
            pointed[name] = self._numbers[number]
        return replace(entry, **pointed)

    def _follows(self, one: BundledEntry, where: str) -> int:
        before = one.follows
        assert before is not None
        if self._kinds.get(before) != one.entry.KIND or before in self._followed:
            raise InputError(where, f"replaces #{before}, which it can't", CHANGED)
        self._followed.add(before)
        return self._numbers[before]
