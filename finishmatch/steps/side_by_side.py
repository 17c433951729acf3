"""Two colours of a job side by side in a light: what each looks like there, how they differ, and in which words."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from finishmatch.colour import LIGHTS, Floats, light_name
from finishmatch.colour.display import lab_to_hex, lost_on_screen
from finishmatch.colour.told_within import told_by_doubt
from finishmatch.correct.correct_seen import verdict_seen
from finishmatch.errors import InputError
from finishmatch.ledger import (
    EntryView,
    ReadingEntry,
    RecipeEntry,
    SprayOutEntry,
    TargetEntry,
    VerdictEntry,
    open_ledger,
)
from finishmatch.ledger.wording import kind_word
from finishmatch.readings import Reading
from finishmatch.readings.seen import by_itself, told_apart_from, told_by_bank
from finishmatch.steps.colour_inputs import LIGHTS as USUAL_LIGHTS
from finishmatch.steps.compare import Compared, CompareRequest, compare
from finishmatch.steps.corrected import TOLERANCE
from finishmatch.steps.record import reading_of_target, tolerance_in
from finishmatch.steps.spray_out_strengths import reading_kept

LOST_FROM = 0.1  # ΔE00 from which a screen is said not to show a colour

Coloured = ReadingEntry | TargetEntry | SprayOutEntry | RecipeEntry


@dataclass(frozen=True)
class ColourOfJob:
    """A colour that stands in a job: its entry's number, the word of its kind, its name and its reading."""

    number: int
    kind: str
    name: str
    reading: Reading

    @property
    def called(self) -> str:
        """What it is called where one is chosen."""
        return f"{self.kind} #{self.number}: {self.name}"

    def seen_beside(self, standard: ColourOfJob | None) -> bool:
        """Tell whether it is a card that was only seen beside such a standard: the job's target."""
        beside = bool(self.reading.seen) and not by_itself(self.reading)
        return beside and standard is not None and standard.kind == "target"


@dataclass(frozen=True)
class ColourShown:
    """A colour in the light that was chosen.

    Parameters
    ----------
    of : ColourOfJob
    lab : ndarray, shape (3,)
    screen : str
        "#rrggbb": what a screen shows to an eye adapted to that light.
    lost : float
        ΔE00 by which the screen can't show it; 0 where it can.
    """

    of: ColourOfJob
    lab: Floats
    screen: str
    lost: float

    def as_dict(self) -> dict[str, Any]:
        """Return its JSON form."""
        reflectance = self.of.reading.reflectance
        return {
            "number": self.of.number,
            "kind": self.of.kind,
            "name": self.of.name,
            "lab": self.lab.tolist(),
            "screen": self.screen,
            "lost_on_screen": self.lost,
            "reflectance": None if reflectance is None else reflectance.tolist(),
        }


@dataclass(frozen=True)
class SideBySide:
    """Two colours of a job beside each other.

    Parameters
    ----------
    job : str
        Its ref.
    choices : tuple of ColourOfJob
        All that stand in it, in their order.
    standard, trial : ColourShown or None
        None where the job has none.
    light, observer
        In which they are shown.
    lights : tuple of str
        In which they can be shown: one alone where a spectrum isn't known of both.
    compared : Compared or None
        How the trial differs from the standard.
    why_not : str
        Why they can't be compared; "" when they are, or there is only one.
    """

    job: str
    choices: tuple[ColourOfJob, ...]
    standard: ColourShown | None
    trial: ColourShown | None
    light: str
    observer: int
    lights: tuple[str, ...]
    compared: Compared | None = None
    why_not: str = ""

    @property
    def told(self) -> float | None:
        """What the difference is known within, ΔE00, where that is what it is judged by; else None."""
        if self.compared is None or self.standard is None or self.trial is None:
            return None
        if not self.trial.of.seen_beside(self.standard.of):
            return None
        limit = self.compared.verdict.tolerance
        return limit if told_by_doubt(limit, map(told_apart_from, self.trial.of.reading.seen)) else None

    def as_dict(self) -> dict[str, Any]:
        """Return its JSON form."""
        return {
            "job": self.job,
            "light": self.light,
            "observer": self.observer,
            "lights": list(self.lights),
            "standard": None if self.standard is None else self.standard.as_dict(),
            "trial": None if self.trial is None else self.trial.as_dict(),
            "compared": None if self.compared is None else self.compared.as_dict(),
            "why_not": self.why_not,
        }


def side_by_side(
    job: str, *, standard: int | None = None, trial: int | None = None, light: str | None = None
) -> SideBySide:
    """Return two colours of a job as they look beside each other in a light, each as an eye adapted to it sees it.

    Parameters
    ----------
    job : str
        A ref or an exact title.
    standard, trial : int or None
        The numbers of their entries; None is the last target, and the last spray-out or, before there is one, recipe.
    light : str or None
        CIE light; None is D65. Where only Lab is known of one of the two it is the light of that.

    Raises
    ------
    InputError
        No such job, no such colour in it, no such light.
    """
    wanted = "D65" if light is None else light_name(light)
    with open_ledger(create=False) as ledger:
        found = ledger.find_job(job)
        views = ledger.entries(found, current_only=True)
    choices = tuple(one for view in views if (one := _colour(view)) is not None)
    one = _chosen(choices, standard, "standard", ("target", "reading"))
    two = _chosen([c for c in choices if c != one], trial, "trial", ("spray-out", "recipe", "reading"))
    lights, observer = _lights(one, two)
    shown_in = wanted if wanted in lights else lights[0]
    compared, why_not = _compared(one, two, shown_in, observer, _tolerance(found.ref, views, one, two))
    return SideBySide(
        found.ref,
        choices,
        _shown(one, shown_in, observer),
        _shown(two, shown_in, observer, one),
        shown_in,
        observer,
        lights,
        compared,
        why_not,
    )


def _colour(view: EntryView) -> ColourOfJob | None:
    entry = view.entry
    if not isinstance(entry, Coloured):
        return None
    kind = kind_word(view.kind)
    if isinstance(entry, TargetEntry):
        return ColourOfJob(view.number, kind, entry.name, reading_of_target(entry))
    if isinstance(entry, SprayOutEntry):
        reading = told_by_bank(reading_kept(entry))
        return ColourOfJob(view.number, kind, reading.name, reading)
    name = entry.name if isinstance(entry, ReadingEntry) else f"{entry.grams:g} g as predicted"
    geometry = entry.geometry if isinstance(entry, ReadingEntry) else ""
    values = entry.lab if entry.reflectance is None else entry.reflectance
    reading = Reading(name, np.array([values], dtype=float), entry.light, entry.observer, geometry)
    return ColourOfJob(view.number, kind, name, reading)


def _chosen(
    choices: Sequence[ColourOfJob], number: int | None, parameter: str, kinds: Sequence[str]
) -> ColourOfJob | None:
    """Return the colour of a number, or the last of the first kind there is."""
    if number is not None:
        named = next((one for one in choices if one.number == number), None)
        if named is None:
            listed = ", ".join(f"#{one.number}" for one in choices) or "there are none"
            raise InputError(f"`{parameter}` {number}", "is not a colour that can be chosen", f"those are: {listed}")
        return named
    return next((one for kind in kinds for one in reversed(choices) if one.kind == kind), None)


def _lights(one: ColourOfJob | None, two: ColourOfJob | None) -> tuple[tuple[str, ...], int]:
    """Return the lights in which both can be shown, and the observer."""
    for colour in (one, two):
        if colour is not None and not colour.reading.is_spectral:
            return (colour.reading.light,), colour.reading.observer
    return LIGHTS, 10


def _shown(
    colour: ColourOfJob | None, light: str, observer: int, beside: ColourOfJob | None = None
) -> ColourShown | None:
    """Return a colour as it looks; a card that was only seen lies off its standard by what was seen."""
    if colour is None:
        return None
    reading = colour.reading
    own = not reading.is_spectral  # of another light than the other's, it is shown in its own
    lab = reading.lab_in(reading.light, reading.observer) if own else reading.lab_in(light, observer)
    if beside is not None and colour.seen_beside(beside) and _alike(beside.reading, reading):
        lab = beside.reading.lab_in(reading.light, reading.observer) + reading.seen[0].delta
    lost = lost_on_screen(lab)
    return ColourShown(colour, lab, lab_to_hex(lab), lost if lost >= LOST_FROM else 0.0)


def _alike(standard: Reading, seen: Reading) -> bool:
    return standard.is_spectral or (standard.light, standard.observer) == (seen.light, seen.observer)


def _tolerance(
    job: str, views: Sequence[EntryView], standard: ColourOfJob | None, trial: ColourOfJob | None
) -> float | None:
    """Return the tolerance a spray-out was judged by, else that of the job's target; None where neither is said.

    A card that is held against the target goes by the usual one of `judge` then.
    """
    for view in reversed(views):
        if trial is not None and isinstance(view.entry, VerdictEntry) and view.entry.spray_out == trial.number:
            return view.entry.tolerance
    kept = tolerance_in(job)
    if kept is not None:
        return kept[0]
    is_card = trial is not None and trial.kind == "spray-out" and standard is not None and standard.kind == "target"
    return TOLERANCE if is_card else None


def _compared(
    one: ColourOfJob | None, two: ColourOfJob | None, light: str, observer: int, tolerance: float | None
) -> tuple[Compared | None, str]:
    """Return how they differ, or why it can't be said; a card that was only seen, as `judge` does."""
    if one is None or two is None:
        return None, ""
    if two.seen_beside(one):
        return Compared(verdict_seen(two.reading, TOLERANCE if tolerance is None else tolerance)), ""
    lights = tuple(dict.fromkeys((light, *USUAL_LIGHTS)))
    request = CompareRequest(tolerance, lights=lights, observer=observer)
    try:
        return compare(one.reading, two.reading, request), ""
    except InputError as error:
        return None, str(error)
