"""A trial beside its standard in several photographs: one difference, and what it is known to."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from finishmatch.colour import Floats
from finishmatch.errors import InputError
from finishmatch.photo.correct.difference_doubt import DifferenceDoubt, within_95
from finishmatch.photo.geometry import GEOMETRY
from finishmatch.photo.outside_file import OutsideFileError
from finishmatch.photo.read import PhotoReading
from finishmatch.readings.reading import SeenDifference

STANDARD, TRIAL = "standard", "spray-out"
_TOO_FAR = (
    16.27  # squared standard deviations in three axes, which one picture in a thousand is off by chance: chi² of 3
)
_MORE = 4
# Read for the light of a lamp the doubt of a difference is this much wider than for daylight («measured on rendered
# pictures», benchmarks/test_seen_differences.py).
DAYLIGHTS, _UNDER_A_LAMP = ("D65", "D50"), 1.8


@dataclass(frozen=True)
class SideBySide:
    """A trial less its standard as one photograph has it.

    Parameters
    ----------
    picture : str
        The name of its file.
    delta : ndarray, shape (3,)
        ΔL*, Δa*, Δb*.
    doubt : DifferenceDoubt
    """

    picture: str
    delta: Floats
    doubt: DifferenceDoubt


def side_by_side(reading: PhotoReading, called: tuple[str, str] = (STANDARD, TRIAL)) -> SideBySide:
    """Return the difference of the spray-out from the standard in a photograph.

    Parameters
    ----------
    reading : PhotoReading
    called : (str, str)
        What standard and spray-out are called in it.

    Raises
    ------
    InputError
        The photograph can't serve, or doesn't hold the two.
    """
    name = reading.picture.source.name
    if reading.why_not:
        outside = any(one.outside_file and one.why in reading.why_not for one in reading.lost)
        raise (OutsideFileError if outside else InputError)(name, "can't serve", reading.why_not)
    standard, trial = called
    if reading.card is not None and reading.card.layout.numbered is not None and set(called) == {STANDARD, TRIAL}:
        mend = "photograph the two in the windows of the shop's card, or beside a chart"
        raise InputError(name, f"shows the sheet of panels, and no {standard} and {trial}", mend)
    for wanted in called:
        lost = next((one for one in reading.lost if one.name == wanted), None)
        if lost is not None:
            error = OutsideFileError if lost.outside_file else InputError
            raise error(name, f"its {wanted} can't be read", lost.why)
    pair = next((one for one in reading.differences if {one.standard, one.trial} == set(called)), None)
    if pair is None or pair.doubt is None:
        there = ", ".join(region.name for region in reading.regions) or "none"
        mend = f"say where they lie with `region` {standard}=x,y,w,h and `region` {trial}=x,y,w,h"
        if len(reading.regions) == 1:
            mend = f"photograph the two in one picture, side by side; where both are in it, {mend}"
        raise InputError(name, f"doesn't show a {standard} and a {trial} (samples found: {there})", mend)
    delta = pair.delta if pair.trial == trial else -pair.delta
    return SideBySide(name, delta, doubt_under(pair.doubt, reading.light))


def doubt_under(doubt: DifferenceDoubt, light: str) -> DifferenceDoubt:
    """Return how far a difference may be off that is read for a light."""
    wider = 1.0 if light in DAYLIGHTS else _UNDER_A_LAMP**2
    return DifferenceDoubt(wider * doubt.own, wider * doubt.shared, doubt.metric)


def combined(pictures: Sequence[SideBySide], light: str, observer: int) -> SeenDifference:
    """Return the difference over several photographs, each weighted by what is its own doubt.

    What the camera does wrong to the two colours it does in every photograph: that doubt stays.

    Parameters
    ----------
    pictures : sequence of SideBySide
    light, observer
        For which they were read.

    Raises
    ------
    InputError
        They disagree beyond their doubts; which doesn't fit is named.
    """
    _check_agree(pictures)
    weights = [np.linalg.inv(one.doubt.own) for one in pictures]
    own = np.linalg.inv(sum(weights))
    delta = own @ sum(weight @ one.delta for weight, one in zip(weights, pictures, strict=True))
    shared = np.mean([one.doubt.shared for one in pictures], axis=0)
    metric = pictures[0].doubt.metric
    return SeenDifference(
        delta=np.asarray(delta),
        u95=within_95(own + shared, metric),
        light=light,
        observer=observer,
        covariance=np.asarray(own + shared),
        pictures=len(pictures),
        geometry=GEOMETRY,
        u95_more=within_95(own / _MORE + shared, metric),
    )


def _check_agree(pictures: Sequence[SideBySide]) -> None:
    if len(pictures) < 2:
        return
    off = [_off(one, [other for other in pictures if other is not one]) for one in pictures]
    worst = int(np.argmax(off))
    if off[worst] <= _TOO_FAR:
        return
    one, others = pictures[worst], [other.picture for i, other in enumerate(pictures) if i != worst]
    which = one.picture if len(others) > 1 else f"{one.picture} or {others[0]}"
    apart = f"{one.picture} sees the two differ by {_words(one.delta)}, {', '.join(others)} otherwise"
    raise InputError(which, f"disagrees beyond what both may be off: {apart}", "take it again, or leave it out")


def _off(one: SideBySide, others: Sequence[SideBySide]) -> float:
    """Return how far a photograph is off the others, in squared standard deviations."""
    weights = [np.linalg.inv(other.doubt.own + other.doubt.shared) for other in others]
    spread = np.linalg.inv(sum(weights))
    rest = spread @ sum(weight @ other.delta for weight, other in zip(weights, others, strict=True))
    apart = one.delta - rest
    return float(apart @ np.linalg.solve(one.doubt.own + one.doubt.shared + spread, apart))


def _words(delta: Floats) -> str:
    return "ΔL* {:+.1f} Δa* {:+.1f} Δb* {:+.1f}".format(*delta)
