"""The ledger itself: jobs are opened, entries are added and read, nothing is edited."""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import replace
from datetime import UTC, datetime
from functools import lru_cache
from pathlib import Path
from types import MappingProxyType

from sqlalchemy import Engine, Select, func, select
from sqlalchemy.orm import Session

from finishmatch.errors import InputError
from finishmatch.ledger.chain import add_link, changed_in
from finishmatch.ledger.checks import check_reference, check_replaceable, check_strike, kept_as, point_at
from finishmatch.ledger.clean_values import new_line, new_text
from finishmatch.ledger.entries import CoatEntry, Entry, StrikeEntry
from finishmatch.ledger.find_job import job_title, match_job
from finishmatch.ledger.mapping import job_view_of, keep_met, kind_name, row_of, views_of, whole_rows
from finishmatch.ledger.plain_errors import damaged, not_writable, plain_errors, readable
from finishmatch.ledger.restoring import see_open_to_writing
from finishmatch.ledger.row_chain import keep_row, kept_rows
from finishmatch.ledger.rows import CoatRow, EntryRow, JobRow
from finishmatch.ledger.sources import SourceFile, Sources, keep_sources, kept_bytes, read_sources
from finishmatch.ledger.story import Story, job_story
from finishmatch.ledger.strikes import struck_in
from finishmatch.ledger.views import EntryView, JobView
from finishmatch.ledger.views_read import ViewsRead, extent_of

Clock = Callable[[], datetime]
Kind = str | type[Entry]


class Ledger:
    """An open ledger; get one from `open_ledger`."""

    def __init__(self, engine: Engine, path: Path | str, now: Clock, *, read_only: bool = False) -> None:
        self.read_only = read_only
        self._sound: set[int] = set()
        self._read = ViewsRead()
        self.path = path
        self._engine = engine
        self._now = now

    def new_job(self, title: str, *, vehicle: str = "", colour_name: str = "", note: str = "") -> JobView:
        """Open a job. Titles may repeat; the ref never does.

        Raises
        ------
        InputError
            An empty or unprintable title.
        """
        texts = {
            "title": job_title(title),
            "vehicle": new_line("vehicle", vehicle),
            "colour_name": new_line("colour", colour_name),
            "note": new_text("note", note).strip(),
        }
        with self.writing() as session:
            row = JobRow(**texts, made_at=self.stamp())
            keep_row(session, row)
            return job_view_of(row)

    def jobs(self, ids: Collection[int] | None = None) -> list[JobView]:
        """Return all jobs, or those of some ids, oldest first."""
        wanted = _all_jobs() if ids is None else _all_jobs().where(JobRow.id.in_(ids))
        with self.reading() as session:
            rows = session.scalars(wanted).all()
            with readable(self.path):
                return [job_view_of(row) for row in rows]

    def find_job(self, text: str) -> JobView:
        """Return the job of a ref ("J1") or of an exact title, whatever the capitals.

        Raises
        ------
        InputError
            No such job (the nearest are offered), or several of that title.
        """
        return match_job(text, self.jobs())

    def activity(self) -> dict[int, tuple[int, str]]:
        """Return per job id how many entries it has and when the last was made (jobs without entries are left out)."""
        wanted = select(EntryRow.job_id, func.count(), func.max(EntryRow.made_at)).group_by(EntryRow.job_id)
        with self.reading() as session:
            return {job_id: (count, last) for job_id, count, last in session.execute(wanted)}

    def record(
        self,
        job: JobView,
        entry: Entry,
        *,
        sources: Sequence[Path] = (),
        supersedes: int | None = None,
        reason: str = "",
        along: Sequence[Entry] = (),
    ) -> int:
        """Add an entry to a job and return its number.

        Parameters
        ----------
        job : JobView
        entry : Entry
            One of the dataclasses of `finishmatch.ledger.entries`.
        sources : sequence of Path
            Files it was found with, kept whole.
        supersedes : int, optional
            The number of the entry it replaces, of the same job and kind and not replaced yet.
        reason : str
            Why; needed with `supersedes`.
        along : sequence of Entry
            Added after it, all or none; they may refer to it by ``Nth(0)``.

        Raises
        ------
        InputError
            Nothing is recorded then.
        """
        files = read_sources(sources, 1)
        reason = new_line("why", reason)
        if supersedes is not None and not reason:
            raise InputError(f"#{supersedes}", "is to be replaced, but no reason is given", "add one: `why` TEXT")
        if supersedes is None and reason:
            raise InputError("`why`", "a reason is given, but no entry to replace", "give its number (`supersedes` N)")
        with self.writing() as session:
            self._see_sound(session, job)
            numbers = [self._add(session, job, entry, files[0], supersedes, reason)]
            for further in along:
                pointed = replace(further, **point_at(further, numbers))
                numbers.append(self._add(session, job, pointed, (), None, ""))
            return numbers[0]

    def record_all(self, job: JobView, entries: Sequence[Entry], *, sources: Sources = ()) -> list[int]:
        """Add several entries to a job, all or none, and return their numbers.

        Parameters
        ----------
        job : JobView
        entries : sequence of Entry
            One may refer to an earlier one of them by ``Nth(index)``.
        sources : sequence of Path, or mapping of int to sequence of Path
            Files all of them were found with, or per index.

        Raises
        ------
        InputError
            Nothing is recorded then.
        """
        files = read_sources(sources, len(entries))
        numbers: list[int] = []
        with self.writing() as session:
            self._see_sound(session, job)
            for entry, of_entry in zip(entries, files, strict=True):
                pointed = replace(entry, **point_at(entry, numbers))
                numbers.append(self._add(session, job, pointed, of_entry, None, ""))
        return numbers

    def record_found(
        self,
        job: JobView,
        entries: Sequence[Entry],
        *,
        sources: Sources = (),
        instead: Mapping[int, Sequence[int]] = MappingProxyType({}),
        why: str = "",
    ) -> list[int]:
        """Add what a command found, as `record_all` does, but a fact that stands in the job already only by its number.

        A reading, target, batch or spray-out is taken for the one that stands when it says nothing new. `instead` has,
        by the index of an entry that does, the numbers it stands in place of: the first is replaced, others are struck,
        since an entry replaces one; `why` is the reason.
        """
        files = read_sources(sources, len(entries))
        numbers: list[int] = []
        with self.writing() as session:
            current = self._current(self._views_in(session, job))
            for entry, of_entry in zip(entries, files, strict=True):
                pointed = replace(entry, **point_at(entry, numbers))
                number = kept_as(pointed, current)
                if number is None:
                    older = instead.get(len(numbers), ())
                    behind = (older[0], why) if older else (None, "")
                    number = self._add(session, job, pointed, of_entry, *behind)
                    for other in older[1:]:
                        self._add(session, job, StrikeEntry(other, why), (), None, "")
                numbers.append(number)
        return numbers

    def entries(self, job: JobView, *, current_only: bool = False, kind: Kind | None = None) -> list[EntryView]:
        """Return the entries of a job.

        Parameters
        ----------
        job : JobView
        current_only : bool
            Leave out what has been replaced or struck, and put what replaced it in its place.
        kind : str or class of Entry, optional
            Only this kind.

        Returns
        -------
        list of EntryView
            In the order made; current ones by their place in the story.
        """
        of_kind = None if kind is None else kind_name(kind)
        with self.reading() as session:
            extent = extent_of(session, job.id)
            views = self._read.of(job.id, of_kind, extent)
            if views is None:
                views = self._views_in(session, job, of_kind)
                self._read.keep(job.id, of_kind, extent, views)
                if of_kind is None:
                    self._sound.add(job.id)
        return self._current(views) if current_only else views

    def _views_in(self, session: Session, job: JobView, kind: str | None = None) -> list[EntryView]:
        with readable(self.path):
            rows = whole_rows(session, job.id, kind)
            changed = next(changed_in(session, job.id, rows), None)
            views = views_of(rows, struck_in(session, job.id))
        if not rows:  # the first entry of a job holds the hash of its row
            kept_rows(session, JobRow, str(job.id), self.path)
        if changed is not None:
            raise damaged(self.path, f"entry #{changed} of {job.ref} is not as it was written")
        return views

    def _see_sound(self, session: Session, job: JobView) -> None:
        """See that a job is as it was written before anything is added to it, once for each that is written in."""
        if job.id not in self._sound:
            self._views_in(session, job)
            self._sound.add(job.id)

    @staticmethod
    def _current(views: Sequence[EntryView]) -> list[EntryView]:
        counts = (view for view in views if view.stands and not isinstance(view.entry, StrikeEntry))
        return sorted(counts, key=lambda view: view.place)

    def see_replaceable(self, job: JobView, kind: type[Entry], number: int) -> None:
        """Raise `InputError` where an entry of a kind can't replace the one of this number."""
        with self.reading() as session:
            check_replaceable(session, job, kind, number)

    def latest(self, job: JobView, kind: Kind) -> EntryView | None:
        """Return the last entry of a kind that has not been replaced, or None."""
        current = self.entries(job, current_only=True, kind=kind)
        return current[-1] if current else None

    def source_bytes(self, sha256: str) -> bytes:
        """Return the content of a file kept in the ledger.

        Raises
        ------
        InputError
            When there is none under this hash, or it is damaged.
        """
        with self.reading() as session:
            return kept_bytes(session, sha256, str(self.path))

    def story(self, job: JobView) -> Story:
        """Return the story of a job in a painter's words, with what is open."""
        return job_story(job, self.entries(job))

    def stamp(self) -> str:
        """Return the time now as the ledger keeps it."""
        return self._now().astimezone(UTC).isoformat(timespec="seconds").replace("+00:00", "Z")

    def _add(
        self,
        session: Session,
        job: JobView,
        entry: Entry,
        files: Sequence[SourceFile],
        supersedes: int | None,
        reason: str,
    ) -> int:
        entry.check_new()
        if supersedes is not None:
            supersedes = check_replaceable(session, job, type(entry), supersedes)
        if isinstance(entry, StrikeEntry):
            check_strike(session, job, entry.struck)
        for name, kind in entry.REFERS.items():
            if (number := getattr(entry, name)) is not None:
                check_reference(session, job, number, kind)
        row = row_of(
            entry, job_id=job.id, kind=entry.KIND, made_at=self.stamp(), supersedes_id=supersedes, reason=reason
        )
        if isinstance(row, CoatRow) and isinstance(entry, CoatEntry):
            keep_met(session, row, entry.exposures)
        keep_sources(session, row, files)
        session.add(row)
        session.flush()
        add_link(session, row)
        return row.number

    @contextmanager
    def reading(self) -> Iterator[Session]:
        """A session to read in, for the files of this room."""
        with plain_errors(self.path), Session(self._engine) as session:
            yield session

    @contextmanager
    def writing(self) -> Iterator[Session]:
        """A session that keeps all or nothing, holding the write lock from the start; for the files of this room."""
        if self.read_only:
            raise not_writable(self.path)
        immediate = self._engine.execution_options(immediate=True)
        with plain_errors(self.path), Session(immediate, expire_on_commit=False) as session, session.begin():
            session.connection()  # holds the lock from here on
            if isinstance(self.path, Path):
                see_open_to_writing(self.path.parent)
            yield session


@lru_cache(maxsize=1)
def _all_jobs() -> Select[JobRow]:
    """Return the question after all jobs, which nearly every command asks: put together once."""
    return select(JobRow).order_by(JobRow.id)
