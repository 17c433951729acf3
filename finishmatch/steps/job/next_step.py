"""What is open, across jobs, and the one step that comes next."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from finishmatch.ledger import (
    BatchEntry,
    Entry,
    EntryView,
    JobView,
    Ledger,
    OpenItem,
    ReadingEntry,
    RecipeEntry,
    SprayOutEntry,
    TargetEntry,
    VerdictEntry,
    bank_of_job,
    job_in_use,
    ledger_exists,
    open_ledger,
)
from finishmatch.ledger.open_items import find_open, verdicts_of_cards
from finishmatch.ledger.parts_aside import PartAside, parts_aside
from finishmatch.ledger.pouring import divides
from finishmatch.readings.geometry_names import AS_A_CAMERA

TARGET = "target"  # what a job needs in which nothing was recorded yet


@dataclass(frozen=True)
class Known:
    """What a job knows, so that it needn't be named to the step that comes next.

    `seen` is how its cards are seen beside their standard, as the last one was: "photo", "told", or "" where it was
    read by itself; "photo" too before there is a card, where the target is known by photographs alone. `first_g` are
    the grams of a recipe, by its number, that are best poured before its first card.
    """

    target: bool = False
    bank: bool = False
    grams: bool = False
    batch: bool = False
    seen: str = ""
    first_g: Mapping[int, float] = field(default_factory=dict)


@dataclass(frozen=True)
class JobOpen:
    """What is open in a job.

    Parameters
    ----------
    job : JobView
    in_use : bool
        Whether it is the one in use.
    card : str
        How the last card stands against the target, in words; "" where none was judged, or the tin has changed since.
    open : tuple of OpenItem
        What is open, what comes first in front.
    known : Known
    aside : tuple of PartAside
        What of its tins stands aside.
    """

    job: JobView
    in_use: bool
    card: str
    open: tuple[OpenItem, ...]
    known: Known
    aside: tuple[PartAside, ...] = ()

    @property
    def first(self) -> OpenItem | None:
        """What comes first, or None when nothing is open."""
        return self.open[0] if self.open else None

    def as_dict(self) -> dict[str, Any]:
        """Return its JSON form; a face adds to each open item what comes next in that face."""
        return {
            "job": self.job.as_dict(),
            "in_use": self.in_use,
            "card": self.card,
            "open": [item.as_dict() for item in self.open],
            "set_aside": [part.as_dict() for part in self.aside],
        }


@dataclass(frozen=True)
class NextSteps:
    """What is open, the job in use first, then what was worked in last; jobs with nothing open are left out.

    Parameters
    ----------
    jobs : tuple of JobOpen
    job_count : int
        How many jobs there are in all.
    """

    jobs: tuple[JobOpen, ...]
    job_count: int

    @property
    def one(self) -> JobOpen | None:
        """The job whose first open item is the step that comes next; None when nothing is open at all."""
        return next((job for job in self.jobs if job.open), None)

    def as_dict(self) -> dict[str, Any]:
        """Return its JSON form; a face adds the step that comes next as it is taken in that face."""
        return {"jobs": [job.as_dict() for job in self.jobs], "job_count": self.job_count}


def next_step(job: str | None = None) -> NextSteps:
    """Return what is open, and with it the one step that comes next.

    Parameters
    ----------
    job : str or None
        A ref or an exact title; None is all jobs.

    Raises
    ------
    InputError
        A ledger that can't be used, no such job.
    """
    if job is None and not ledger_exists():
        return NextSteps((), 0)
    with open_ledger(create=False) as ledger:
        jobs, activity = ledger.jobs(), ledger.activity()
        used = job_in_use(jobs)
        ordered = [ledger.find_job(job)] if job is not None else _in_order(jobs, used, activity)
        found = [_open_in(ledger, one, one == used) for one in ordered]
    shown = tuple(one for one in found if one.open or one.in_use or job is not None)
    return NextSteps(shown, len(jobs))


def known_in(ledger: Ledger, job: JobView, entries: Sequence[EntryView]) -> Known:
    """Return what a job knows."""
    kinds = {view.kind for view in entries if view.stands}
    return Known(
        target=TargetEntry.KIND in kinds,
        bank=bank_of_job(ledger, job) is not None,
        grams=RecipeEntry.KIND in kinds,
        batch=BatchEntry.KIND in kinds,
        seen=_how_seen([view.entry for view in entries if view.stands]),
        first_g={
            view.number: round(view.entry.first_share * view.entry.grams, 6)
            for view in entries
            if isinstance(view.entry, RecipeEntry) and view.entry.first_share is not None
        },
    )


def _how_seen(entries: Sequence[Entry]) -> str:
    """Return how cards are seen beside their standard, as far as what stands in a job tells; "" where they are read."""
    cards = [entry for entry in entries if isinstance(entry, SprayOutEntry)]
    if not cards:
        return "photo" if _photographed_target(entries) else ""
    if not cards[-1].seen:
        return ""
    return "photo" if any(one.get("pictures") for one in cards[-1].seen) else "told"


def _photographed_target(entries: Sequence[Entry]) -> bool:
    """Tell whether the target rests on photographs, and nothing in the job was read otherwise."""
    targets = [entry for entry in entries if isinstance(entry, TargetEntry)]
    readings = [entry for entry in entries if isinstance(entry, ReadingEntry)]
    if not targets or targets[-1].reflectance is not None or targets[-1].u95 is None:
        return False
    return bool(readings) and all(one.reflectance is None and one.geometry == AS_A_CAMERA for one in readings)


def _in_order(jobs: Sequence[JobView], used: JobView | None, activity: dict[int, tuple[int, str]]) -> list[JobView]:
    """Return the job in use, then those that were worked in last."""

    def last(job: JobView) -> tuple[bool, str, int]:
        return job == used, activity.get(job.id, (0, job.made_at))[1], job.id

    return sorted(jobs, key=last, reverse=True)


def _open_in(ledger: Ledger, job: JobView, in_use: bool) -> JobOpen:
    entries = ledger.entries(job)
    standing = [view for view in entries if view.stands]
    found = list(find_open(entries))
    if not standing:
        found = [OpenItem(0, TARGET, "nothing is recorded yet: it has no target", TARGET)]
    known = known_in(ledger, job, entries)
    return JobOpen(job, in_use, _card(standing), tuple(found), known, parts_aside(entries))


def _card(standing: Sequence[EntryView]) -> str:
    """Return how the last card stands, in words; "" where the tin has changed since."""
    verdicts = verdicts_of_cards(standing)
    batches = [view for view in standing if isinstance(view.entry, BatchEntry) and not divides(view)]
    if not verdicts or (batches and max(view.place for view in batches) > max(view.place for view in verdicts)):
        return ""
    view = max(verdicts, key=lambda one: one.place)
    assert isinstance(view.entry, VerdictEntry)
    if view.entry.verdict == "within":
        return f"card inside {view.entry.tolerance:g} (verdict #{view.number})"
    words = f": {', '.join(view.entry.words)}" if view.entry.words else ""
    return f"card outside {view.entry.tolerance:g} (verdict #{view.number}){words}"
