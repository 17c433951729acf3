"""The flattening base for a wanted gloss, from a ladder of readings."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache
from math import sqrt

import numpy as np
from scipy.interpolate import PchipInterpolator
from scipy.optimize import brentq, isotonic_regression

from finishmatch.colour import Floats
from finishmatch.errors import InputError
from finishmatch.near_names import plain_key
from finishmatch.readings.ladder_file import Rung
from finishmatch.toml_reader import packaged_toml
from finishmatch.understood import understood

GLOSS_REPEATABILITY_SD = 1.0  # of one gloss reading, gloss units, the least taken («common practice»)
HIGH_GLOSS, LOW_GLOSS = 70.0, 10.0  # gloss units at 60° beyond which another angle tells more: ISO 2813, ASTM D523
UNEVEN_SD = 3.0  # a rise of so many standard deviations against the ladder is reported


@dataclass(frozen=True)
class Sheen:
    """A name of sheen: its bounds and what is aimed at when only the name is given, gloss units at 60°.

    `also` are other names of it, `elsewhere` other bounds that are in use.
    """

    name: str
    low: float
    high: float
    aim: float
    also: tuple[str, ...] = ()
    elsewhere: tuple[float, ...] = ()


@dataclass(frozen=True)
class Flattening:
    """What to add for a gloss.

    Parameters
    ----------
    parts, low, high : float
        Flattening base to 100 of paint; the interval holds 95 in 100 for the readings' error.
    between : tuple of two floats
        The steps of the ladder it lies between, which hold it whatever the curve does there.
    gloss, gloss_u95 : float
        Wanted, and how far the next panel's reading may be from it.
    reading_sd : float
        Of one reading.
    uneven : bool
        Whether a step of the ladder rises where it should fall, by more than its readings' error.
    """

    parts: float
    low: float
    high: float
    between: tuple[float, float]
    gloss: float
    gloss_u95: float
    reading_sd: float
    uneven: bool


@cache
def sheens() -> tuple[Sheen, ...]:
    """Return the names of sheens, the flattest first («common practice»)."""
    return tuple(
        Sheen(**{**one, "also": tuple(one.get("also", ())), "elsewhere": tuple(one.get("elsewhere", ()))})
        for one in packaged_toml("finish", "sheen.toml")["sheen"]
    )


def sheen_called(name: str) -> Sheen:
    """Return a sheen by its name, or raise `InputError`."""
    wanted = plain_key(name)
    for one in sheens():
        if wanted in (plain_key(one.name), *(plain_key(other) for other in one.also)):
            if one.name != name:
                understood("`sheen`", f"{name[:40]!r} is read as {one.name}")
            return one
    raise InputError("`sheen`", f"{name[:40]!r} is not known", "use " + ", ".join(one.name for one in sheens()))


def sheen_of(gloss: float) -> str:
    """Return the name of a gloss at 60°."""
    return next((one.name for one in sheens() if gloss < one.high), sheens()[-1].name)


def angle_besides(gloss: float) -> int | None:
    """Return at which angle, degrees, a gloss of 60° is read besides; None where 60° tells it best.

    References
    ----------
    ISO 2813, ASTM D523: over 70 gloss units at 20°, under 10 at 85°.
    """
    return 20 if gloss > HIGH_GLOSS else 85 if gloss < LOW_GLOSS else None


def ladder_curve(rungs: Sequence[Rung]) -> tuple[Floats, Floats]:
    """Return the steps and the gloss of a ladder that never rises: what rises against it is pooled with its neighbour.

    References
    ----------
    Isotonic regression (pool adjacent violators), weighted by the number of readings.
    """
    steps = np.array([rung.flattening for rung in rungs])
    means = np.array([rung.mean for rung in rungs])
    weights = np.array([float(len(rung.gloss)) for rung in rungs])
    fallen: Floats = isotonic_regression(means, weights=weights, increasing=False).x
    return steps, np.round(fallen, 6)


def flattening_for(rungs: Sequence[Rung], gloss: float) -> Flattening:
    """Return the flattening base that a wanted gloss takes.

    Parameters
    ----------
    rungs : sequence of Rung
        By rising flattening, three or more.
    gloss : float
        Gloss units at 60°.

    Raises
    ------
    InputError
        When the ladder doesn't fall, or the gloss lies outside it.
    """
    steps, fallen = ladder_curve(rungs)
    if not fallen[0] > fallen[-1]:
        raise InputError("ladder", "its gloss doesn't fall with more flattening base", "check its columns")
    if not fallen[-1] <= gloss <= fallen[0]:
        raise InputError(
            "`gloss`",
            f"{gloss:g} lies outside the ladder, which goes from {fallen[0]:.0f} down to {fallen[-1]:.0f}",
            "spray another step of it",
        )
    sd = _reading_sd(rungs)
    repeats = min(len(rung.gloss) for rung in rungs)
    own = 1.96 * sd / sqrt(repeats)
    parts = _parts_for(steps, fallen, gloss)
    below = max((float(step) for step, value in zip(steps, fallen, strict=True) if value >= gloss), default=steps[0])
    above = min((float(step) for step, value in zip(steps, fallen, strict=True) if value <= gloss), default=steps[-1])
    means = np.array([rung.mean for rung in rungs])
    return Flattening(
        parts=parts,
        low=_parts_for(steps, fallen, min(gloss + own, float(fallen[0]))),
        high=_parts_for(steps, fallen, max(gloss - own, float(fallen[-1]))),
        between=(min(below, above), max(below, above)),
        gloss=gloss,
        gloss_u95=sqrt(own**2 + (1.96 * sd) ** 2),
        reading_sd=sd,
        uneven=bool(np.abs(means - fallen).max() > UNEVEN_SD * sd / sqrt(repeats)),
    )


def _parts_for(steps: Floats, fallen: Floats, gloss: float) -> float:
    """Return the least parts at which the curve has fallen to a gloss.

    References
    ----------
    Fritsch and Butland 1984, by scipy's PCHIP: it never turns between two steps.
    """
    if gloss >= fallen[0]:
        return float(steps[0])
    reached = int(np.argmax(fallen <= gloss))  # the first step that is as flat
    if fallen[reached] == gloss:
        return float(steps[reached])
    curve = PchipInterpolator(steps, fallen)
    return float(brentq(lambda parts: float(curve(parts)) - gloss, steps[reached - 1], steps[reached]))


def _reading_sd(rungs: Sequence[Rung]) -> float:
    """Return the standard deviation of one reading: pooled from the repeats, never below that of practice."""
    squares = sum((one - rung.mean) ** 2 for rung in rungs for one in rung.gloss)
    free = sum(len(rung.gloss) - 1 for rung in rungs)
    return max(GLOSS_REPEATABILITY_SD, sqrt(squares / free)) if free else GLOSS_REPEATABILITY_SD
