"""Readings of photographs are recorded; what is read again of a picture stands in place of what it told before."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from finishmatch.colour import de00
from finishmatch.ledger import EntryView, JobView, ReadingEntry, TargetEntry, open_ledger
from finishmatch.ledger.evidence_weighed import rests_on
from finishmatch.ledger.photographs_known import readings_photographed
from finishmatch.ledger.sources import read_sources
from finishmatch.steps.photographs_known import called_in
from finishmatch.steps.record import record_to

_NEAR_DE00 = 1.0  # two names in one picture that may be of one sample: asked, never taken for it


@dataclass(frozen=True)
class _Again:
    """What photographs that are read now told before.

    Parameters
    ----------
    own : JobView
    replaced : dict of int to list of EntryView
        By the index of a reading, those of the job that it stands in place of.
    others : dict of int to str
        By the number of a reading that stays, what to say of it.
    targets : list of EntryView
        Of the job, those that stand.
    now : set of str
        The hashes of the photographs as they are kept.
    """

    own: JobView
    replaced: dict[int, list[EntryView]]
    others: dict[int, str]
    targets: list[EntryView]
    now: set[str]


def record_readings(
    job: str | None, entries: Sequence[ReadingEntry], photographs: Sequence[Path]
) -> tuple[tuple[int, ...], tuple[str, ...]]:
    """Record readings of photographs; return their numbers, and what to say of those the photographs told before.

    Parameters
    ----------
    job : str or None
        A ref or an exact title; with None nothing is recorded.
    entries : sequence of ReadingEntry
    photographs : sequence of Path
        All of them show all samples.

    Notes
    -----
    A reading of the same sample, by its name, for the same light takes the earlier one's place where the photographs of
    one are among those of the other: nothing that another picture told is lost unasked, and no picture counts twice.
    """
    if job is None or not entries:
        return (), ()
    again = _told_before(job, entries, photographs)
    instead = {index: [view.number for view in views] for index, views in again.replaced.items()}
    recorded = tuple(record_to(job, entries, photographs, instead=instead, why="the photograph was read again"))
    said = []
    for index, views in again.replaced.items():
        if recorded[index] in instead[index]:  # it said nothing new
            continue
        said += _said_of_replaced(recorded[index], entries[index], views, again.now)
        said += _said_of_targets(views, again)
    said += [words for number, words in again.others.items() if number not in recorded]
    return recorded, tuple(dict.fromkeys(said))


def _told_before(job: str, entries: Sequence[ReadingEntry], photographs: Sequence[Path]) -> _Again:
    now = {file.sha256 for files in read_sources(photographs, 1) for file in files}
    with open_ledger(create=False) as ledger:
        own, known = ledger.find_job(job), readings_photographed(ledger, photographs)
        targets = ledger.entries(own, current_only=True, kind=TargetEntry)
    again = _Again(own, {}, {}, targets, now)
    for other, view in known:
        assert isinstance(view.entry, ReadingEntry)
        index = next((i for i, entry in enumerate(entries) if _same(entry.name, view.entry.name)), None)
        called = called_in(other, view, own)
        if other.id != own.id:
            if index is not None:
                again.others[view.number] = f"a photograph of {called} is read again: the two are one reading"
        elif index is None:
            near = next((one for one in entries if _nearly(one, view.entry)), None)
            if near is not None:
                again.others[view.number] = (
                    f"{called} is of the same photograph and of nearly the same colour as {near.name}: if it is the "
                    f"same sample, strike one of the two and say why: finishmatch job strike {own.ref} NUMBER"
                )
        else:
            _place(again, index, entries[index], view)
    return again


def _place(again: _Again, index: int, entry: ReadingEntry, view: EntryView) -> None:
    """Find what becomes of an earlier reading of the job, of the same sample, when a new one is recorded."""
    kept = view.entry
    assert isinstance(kept, ReadingEntry)
    called, before = called_in(again.own, view, again.own), {sha256 for _, sha256 in view.sources}
    if (kept.light, kept.observer) != (entry.light, entry.observer):
        again.others[view.number] = (
            f"{called} is of the same photograph, for {kept.light}, {kept.observer}°; this one is for {entry.light}, "
            f"{entry.observer}°: the two are one reading; strike the one you don't need and say why: "
            f"finishmatch job strike {again.own.ref} NUMBER"
        )
    elif before <= again.now or again.now <= before:
        again.replaced.setdefault(index, []).append(view)
    else:
        besides = ", ".join(name for name, sha256 in view.sources if sha256 not in again.now)
        again.others[view.number] = (
            f"{called} shares a photograph with this one and was read in {besides} too: read all of them in one go, "
            "and that takes the place of both"
        )


def _said_of_replaced(number: int, entry: ReadingEntry, views: Sequence[EntryView], now: set[str]) -> list[str]:
    """Return that earlier readings count no more, and what was told by photographs that aren't read now."""
    numbers = " and ".join(f"#{view.number}" for view in views)
    said = f"reading #{number} ({entry.name}) takes the place of {numbers}, read in the same photograph before"
    lost = dict.fromkeys(name for view in views for name, sha256 in view.sources if sha256 not in now)
    if lost:
        said += f"; that was read in {', '.join(lost)} as well, which no longer counts: read them together if it should"
    return [said]


def _said_of_targets(views: Sequence[EntryView], again: _Again) -> list[str]:
    """Return that the last target rests on an earlier reading as it was."""
    for view in views:
        if again.targets and rests_on(again.targets[-1], view):
            weighed = again.targets[-1]
            return [
                f"target #{weighed.number} was found from #{view.number} as it was, and stays: weigh the evidence "
                "again, and mix for what comes of it"
            ]
    return []


def _same(one: str, other: str) -> bool:
    return " ".join(one.split()).casefold() == " ".join(other.split()).casefold()


def _nearly(one: ReadingEntry, other: ReadingEntry) -> bool:
    alike = (one.light, one.observer) == (other.light, other.observer)
    return alike and float(de00(*np.array([one.lab, other.lab], float))) < _NEAR_DE00
