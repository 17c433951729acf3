"""Have we matched this before? The colours of the record that lie nearest to one."""

from __future__ import annotations

from collections.abc import Sequence
from contextlib import suppress
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from finishmatch.colour import Floats, de00, reflectance_to_lab
from finishmatch.errors import InputError
from finishmatch.ledger import (
    DamagedIndexError,
    JobView,
    KeptColour,
    Ledger,
    Tree,
    colour_index,
    colours_kept,
    ledger_exists,
    open_ledger,
)
from finishmatch.readings import Reading
from finishmatch.steps.colour_inputs import LIGHTS, ReadingLike, light_list, reading_of
from finishmatch.steps.handover.kept_job import Formula, KeptJob, kept_in
from finishmatch.steps.job.current_job import names_a_job
from finishmatch.steps.progress import Progress, quiet
from finishmatch.steps.record import reading_of_target

KINDS = {"target": "target", "recipe": "formula", "spray-out": "card"}  # what a painter calls them


@dataclass(frozen=True)
class FindRequest:
    """How the record is looked through.

    Parameters
    ----------
    lights : tuple of str
        Those a difference is given in, the first decides; of a colour known as CIELAB alone the one it is known in.
    observer : int
    most : int
        How many are shown.
    within : float or None
        ΔE00 beyond which nothing is shown.
    """

    lights: tuple[str, ...] = LIGHTS
    observer: int = 10
    most: int = 10
    within: float | None = None


@dataclass(frozen=True)
class FoundColour:
    """A colour of the record, and how far it lies from what was looked for.

    Parameters
    ----------
    job : JobView
    colour : KeptColour
    lights : dict of str to float
        ΔE00 in each light.
    formula : Formula or None
        What was mixed in that job.
    came_within : float or None
        ΔE00 in the worst light of the last card of that job, to its target.
    """

    job: JobView
    colour: KeptColour
    lights: dict[str, float]
    formula: Formula | None
    came_within: float | None

    @property
    def called(self) -> str:
        """Its name; a formula has none."""
        return "" if self.colour.kind == "recipe" else self.colour.name

    @property
    def de00(self) -> float:
        """In the first light."""
        return next(iter(self.lights.values()))

    def as_dict(self) -> dict[str, Any]:
        """Return the JSON object."""
        parts = () if self.formula is None else self.formula.parts
        return {
            "job": self.job.ref,
            "entry": self.colour.number,
            "kind": self.colour.kind,
            "de00": self.de00,
            "lights": self.lights,
            "name": self.colour.name,
            "title": self.job.title,
            "mixed": [{"tint": part.tint, "grams": part.grams} for part in parts],
            "came_within": self.came_within,
        }


@dataclass(frozen=True)
class Found:
    """What lies nearest, nearest first; how many colours were looked through, and how many can't be compared.

    `warnings` says where a server can keep no index.
    """

    wanted: Reading
    found: tuple[FoundColour, ...]
    looked_through: int
    not_compared: int
    warnings: tuple[str, ...] = ()

    def as_dict(self) -> dict[str, Any]:
        """Return the JSON object."""
        return {
            "found": [one.as_dict() for one in self.found],
            "looked_through": self.looked_through,
            "not_compared": self.not_compared,
            "warnings": list(self.warnings),
        }


def find(colour: ReadingLike, request: FindRequest = FindRequest(), *, progress: Progress = quiet) -> Found:
    """Return the targets, formulas and cards of the record that lie nearest to a colour.

    Parameters
    ----------
    colour : ReadingLike
        A colour, a readings file, or the ref or exact title of a job, whose target is meant; its own are left out.
    request : FindRequest
    progress : Progress

    Raises
    ------
    InputError
        Nothing can be read as a colour, no ledger, a job without a target.
    """
    if request.most < 1:
        raise InputError("`most`", f"{request.most} can't be shown", "give 1 or more")
    if request.within is not None and request.within < 0:
        raise InputError("`within`", f"{request.within:g} is no difference", "give 0 or more")
    if not ledger_exists():
        raise InputError("find", "there is no ledger yet", "open the first job: finishmatch job new TITLE")
    lights = light_list(request.lights)
    with open_ledger(create=False) as ledger:
        own, wanted = _wanted(ledger, colour, lights[0], request.observer)
        with progress("looking through the record"):
            most = request.most
            while True:
                some = _looked_through(ledger, wanted, own, replace(request, most=most))
                compared = _compared(wanted, some.colours, lights, request.observer)
                near = sorted(compared, key=lambda pair: next(iter(pair[1].values())))
                if request.within is not None:
                    near = [pair for pair in near if next(iter(pair[1].values())) <= request.within]
                found = _mixed_or_seen(ledger, near, request.most)
                # the index tells the nearest alone; among them may be formulas that nobody poured
                if len(found) >= request.most or len(near) < most:
                    break
                most *= 4
    warnings = (some.note,) if some.note else ()
    return Found(wanted, found, some.looked_through, some.looked_through - some.compared, warnings)


@dataclass(frozen=True)
class _LookedThrough:
    """Colours among which the nearest are, how many were looked through and can be compared; a note on the index."""

    colours: list[KeptColour]
    looked_through: int
    compared: int
    note: str = ""


def _looked_through(ledger: Ledger, wanted: Reading, own: JobView | None, request: FindRequest) -> _LookedThrough:
    """Return the colours that can be among the nearest: by the index of a large record, or all of a small one."""
    without = None if own is None else own.id
    here = (light_list(request.lights)[0], request.observer)
    if not wanted.is_spectral:
        here = (wanted.light, wanted.observer)

    def comparable(light: str, observer: int) -> bool:
        """Whether what is known as CIELAB alone, in this light, can be compared."""
        return wanted.is_spectral or (light, observer) == here

    for _ in range(2):  # one that turns out to be damaged is made anew
        with colour_index(ledger) as index, suppress(DamagedIndexError):
            if index is None:
                break
            counts = index.counts(without)
            alone = [tree for tree in counts if not tree.spectral and comparable(tree.light, tree.observer)]
            labs = {tree: wanted.lab_in(tree.light, tree.observer) for tree in (Tree(True, *here), *alone)}
            near = index.nearest(labs, request.most, request.within, without)
            colours = [one for one in colours_kept(ledger, sorted(set(near.values()))) if one.number in near]
            compared = sum(count for tree, count in counts.items() if tree.spectral or tree in alone)
            return _LookedThrough(colours, sum(counts.values()), compared, index.note)
    kept = [one for one in colours_kept(ledger) if one.job_id != without]
    compared = sum(one.reflectance is not None or comparable(one.light, one.observer) for one in kept)
    return _LookedThrough(kept, len(kept), compared)


def _wanted(ledger: Ledger, colour: ReadingLike, light: str, observer: int) -> tuple[JobView | None, Reading]:
    """Return the job whose target is meant, where one is, and the colour."""
    if isinstance(colour, str) and names_a_job(colour):
        job = ledger.find_job(colour)
        target = kept_in(ledger, job, files=False).target
        if target is None:
            raise InputError(f"job {job.ref}", "has no target yet", "give a colour, or a readings file")
        return job, reading_of_target(target)
    return None, reading_of(colour, light, observer, "the colour")


def _compared(
    wanted: Reading, kept: Sequence[KeptColour], lights: Sequence[str], observer: int
) -> list[tuple[KeptColour, dict[str, float]]]:
    """Return ΔE00 of each colour that can be compared, in each light in which both are known."""
    known = lights if wanted.is_spectral else (wanted.light,)
    seen_by = observer if wanted.is_spectral else wanted.observer
    spectral = [one for one in kept if one.reflectance is not None]
    found: dict[int, dict[str, float]] = {one.number: {} for one in kept}
    if spectral:
        spectra: Floats = np.array([one.reflectance for one in spectral], float)
        for light in known:
            away = de00(wanted.lab_in(light, seen_by), reflectance_to_lab(spectra, light, seen_by))
            for one, de in zip(spectral, away, strict=True):
                found[one.number][light] = float(de)
    for one in kept:
        alike = wanted.is_spectral or (one.light, one.observer) == (wanted.light, wanted.observer)
        if one.reflectance is None and alike:
            lab = wanted.lab_in(one.light, one.observer)
            found[one.number][one.light] = float(de00(lab, np.array(one.lab)))
    return [(one, found[one.number]) for one in kept if found[one.number]]


def _mixed_or_seen(
    ledger: Ledger, near: Sequence[tuple[KeptColour, dict[str, float]]], most: int
) -> tuple[FoundColour, ...]:
    """Return so many of the nearest colours, without formulas beside that which a job was mixed by."""
    jobs, kept, found = dict[int, JobView](), dict[int, KeptJob](), list[FoundColour]()
    for one, des in near:
        if len(found) == most:
            break
        if one.job_id not in kept:
            (jobs[one.job_id],) = ledger.jobs({one.job_id})
            kept[one.job_id] = kept_in(ledger, jobs[one.job_id], files=False)
        its = kept[one.job_id]
        mixed_by = None if its.recipe is None else its.recipe[0].number
        if one.kind != "recipe" or its.formula is None or one.number == mixed_by:
            found.append(FoundColour(jobs[one.job_id], one, des, *_how_it_ended(its)))
    return tuple(found)


def _how_it_ended(kept: KeptJob) -> tuple[Formula | None, float | None]:
    """Return what was mixed in a job, and how near its last card came to its target in the worst light."""
    if not kept.verdicts:
        return kept.formula, None
    verdict = kept.verdicts[-1][1]
    return kept.formula, max(verdict.lights.values(), default=verdict.de00)
