"""What a step found is recorded in a job of the ledger."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from types import MappingProxyType
from typing import Any, TypeVar

import numpy as np

from finishmatch import ledger  # its database is imported when a job is opened
from finishmatch.colour import Floats
from finishmatch.optics import Bank
from finishmatch.readings import Reading
from finishmatch.readings.look_form import saw_again
from finishmatch.readings.reading import TargetFacts
from finishmatch.steps.bank_kept import remember_mixed_from


def check_job(job: str | None) -> ledger.JobView | None:
    """See that a job can be recorded in, before anything is computed for it.

    Parameters
    ----------
    job : str or None
        A ref or an exact title; None is no job, and fine.

    Raises
    ------
    InputError
        No ledger, a ledger that can't be used, no such job, or several.
    """
    if job is None:
        return None
    with ledger.open_ledger(create=False) as book:
        return book.find_job(job)


def record_to(
    job: str | None,
    entries: Sequence[ledger.Entry],
    sources: Sequence[Path] | Mapping[int, Sequence[Path]] = (),
    *,
    instead: Mapping[int, Sequence[int]] = MappingProxyType({}),
    why: str = "",
) -> list[int]:
    """Record what a step found in a job, all or nothing, and return the numbers of the entries.

    A reading, target, batch or spray-out that stands in the job already isn't recorded again; its number is returned.

    Parameters
    ----------
    job : str or None
        A ref or an exact title; with None nothing is recorded.
    entries : sequence of Entry
        One may refer to an earlier one by ``Nth(index)``.
    sources : sequence of Path, or mapping of int to sequence of Path
        Files all the entries were found with, or per index.
    instead : mapping of int to sequence of int
        Per index, the numbers of the entries in whose place it is recorded; `why` is the reason.

    Raises
    ------
    InputError
        Nothing is recorded then.
    """
    if job is None or not entries:
        return []
    with ledger.open_ledger(create=False) as book:
        return book.record_found(book.find_job(job), entries, sources=sources, instead=instead, why=why)


def entries_in(job: str) -> list[ledger.EntryView]:
    """Return all entries of a job, replaced ones included."""
    with ledger.open_ledger(create=False) as book:
        return book.entries(book.find_job(job))


def tolerance_in(job: str) -> tuple[float, int] | None:
    """Return the tolerance of a job's last target and the number of that entry; None when it doesn't say one."""
    with ledger.open_ledger(create=False) as book:
        view = book.latest(book.find_job(job), ledger.TargetEntry)
    if view is None or not isinstance(view.entry, ledger.TargetEntry):
        return None
    return (view.entry.tolerance, view.number) if view.entry.says_tolerance else None


def target_in(job: str) -> Reading | None:
    """Return the last target of a job, as its bank's instrument would have read it; None when it has none."""
    with ledger.open_ledger(create=False) as book:
        view = book.latest(book.find_job(job), ledger.TargetEntry)
    if view is None or not isinstance(view.entry, ledger.TargetEntry):
        return None
    return reading_of_target(view.entry)


def reading_of_target(kept: ledger.TargetEntry) -> Reading:
    """Return a target as it is kept, as its bank's instrument would have read it."""
    values = kept.lab if kept.reflectance is None else kept.reflectance
    facts = None
    if kept.u95 is not None or kept.covariance is not None:
        own, pictures = kept.u95_own, tuple(kept.pictures)
        facts = TargetFacts(u95=kept.u95, covariance=_covariance(kept.covariance), u95_own=own, pictures=pictures)
    saw = saw_again(kept.camera_saw)
    viewing = kept.light, kept.observer, kept.geometry
    return Reading(kept.name, np.array([values], dtype=float), *viewing, target=facts, camera_saw=saw)


def _covariance(kept: Sequence[float] | None) -> Floats | None:
    if kept is None:
        return None
    LL, La, Lb, aa, ab, bb = kept
    return np.array([[LL, La, Lb], [La, aa, ab], [Lb, ab, bb]])


def remember(job: str, bank: Bank, folder: Path) -> None:
    """Remember from which bank, in which folder, a job is mixed, so that its spray-outs are judged by it."""
    with ledger.open_ledger(create=False) as book:
        remember_mixed_from(book, book.find_job(job), bank, folder)


@dataclass(frozen=True)
class Recorded:
    """Entries of one kind as they were recorded in a job.

    Parameters
    ----------
    job : JobView
    entries : tuple of EntryView
    replaced : int or None
        The number of the entry they stand in place of.
    warnings : tuple of str
    """

    job: ledger.JobView
    entries: tuple[ledger.EntryView, ...]
    replaced: int | None = None
    warnings: tuple[str, ...] = ()

    def as_dict(self) -> dict[str, Any]:
        """Return its JSON form."""
        recorded = [view.as_dict() for view in self.entries]
        return {"job": self.job.as_dict(), "recorded": recorded, "warnings": list(self.warnings)}


@dataclass(frozen=True)
class RecordedOne(Recorded):
    """One entry as it was recorded in a job."""

    def as_dict(self) -> dict[str, Any]:
        """Return its JSON form: the entry alone, where several would be a list."""
        return super().as_dict() | {"recorded": self.entries[0].as_dict()}


@dataclass(frozen=True)
class InPlaceOf:
    """The entry that a new one replaces, and why; nothing by default."""

    supersedes: int | None = None
    why: str = ""


NOTHING = InPlaceOf()

Kind = TypeVar("Kind", bound="ledger.Entry")


def what_stood(book: ledger.Ledger, job: ledger.JobView, number: int | None, kind: type[Kind]) -> Kind | None:
    """Return the entry that a new one replaces, from which what isn't given anew is kept; None where it replaces none.

    Raises
    ------
    InputError
        It can't be replaced by one of this kind.
    """
    if number is None:
        return None
    book.see_replaceable(job, kind, number)
    views = book.entries(job, kind=kind)
    return next(view.entry for view in views if view.number == number and isinstance(view.entry, kind))


def record_one(
    book: ledger.Ledger,
    job: ledger.JobView,
    entry: ledger.Entry,
    in_place_of: InPlaceOf = NOTHING,
    *,
    sources: Sequence[Path] = (),
    warnings: Sequence[str] = (),
    along: Sequence[ledger.Entry] = (),
) -> RecordedOne:
    """Record one entry, with what is kept `along` with it, and return it as it stands."""
    supersedes, why = in_place_of.supersedes, in_place_of.why
    number = book.record(job, entry, sources=sources, supersedes=supersedes, reason=why, along=along)
    view = next(view for view in book.entries(job, kind=type(entry)) if view.number == number)
    return RecordedOne(job, (view,), supersedes, tuple(warnings))


def record_each(
    book: ledger.Ledger,
    job: ledger.JobView,
    entries: Sequence[ledger.Entry],
    in_place_of: InPlaceOf = NOTHING,
    *,
    warnings: Sequence[str] = (),
) -> Recorded:
    """Record several entries of one kind, all or none; a single one where it replaces another."""
    if in_place_of == NOTHING:
        numbers = book.record_all(job, entries)
    else:
        numbers = [record_one(book, job, entry, in_place_of).entries[0].number for entry in entries]
    views = [view for view in book.entries(job, kind=type(entries[0])) if view.number in numbers]
    return Recorded(job, tuple(views), in_place_of.supersedes, tuple(warnings))
