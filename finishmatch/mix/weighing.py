"""From shares of a batch to grams a scale can weigh."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

import numpy as np

from finishmatch.colour import Floats, de00, reflectance_to_lab
from finishmatch.evidence.target import ColourTarget
from finishmatch.mix.subset_factors import Ints
from finishmatch.optics import TintOptics, predicted_reflectance

SMALLEST_STEPS = 3  # a part of fewer scale steps than this isn't weighed with any certainty («common practice»)
POUR_SD_STEPS = 1.0  # a hand pour lands within a step or two of what was meant («common practice»)
PARTS = 10  # a letdown holds one part of its tint in so many: easy to reckon at the scale («common practice»)
_MOVES = (1, 2, 5, 10, 30, 100)


@dataclass(frozen=True)
class Scale:
    """The painter's scale: its step and the smallest part that is weighed, in grams.

    `letdowns` is whether drops of a strong tint may be poured by a letdown where that pays.
    """

    step_g: float = 0.1
    smallest_g: float = 0.3
    letdowns: bool = True

    @property
    def smallest_steps(self) -> int:
        """The smallest part in steps."""
        return int(np.ceil(self.smallest_g / self.step_g - 1e-9))

    @property
    def too_little_g(self) -> float:
        """What is less isn't in a recipe, g: half of the least that is poured, by a letdown or straight."""
        return 0.5 * (self.smallest_g / PARTS if self.letdowns else self.step_g)

    def steps_g(self, count: int) -> Floats:
        """Return the step in which each of some tints is poured, g, shape (count,)."""
        return np.full(count, self.step_g)

    def smallest_parts_g(self, count: int) -> Floats:
        """Return the smallest part of each of some tints, g, shape (count,)."""
        return np.full(count, self.smallest_g)

    def pour_sd_g(self, grams: Floats) -> Floats:
        """Return what the pours of some grams, shape (n,), are off by, one standard deviation, g, shape (n,)."""
        return np.full(len(grams), POUR_SD_STEPS * self.step_g)


def weighed_grams(grams: Floats, step_g: float) -> Floats:
    """Return weights without the rounding dust of binary numbers, to a digit beyond the scale's step."""
    decimals = max(0, int(np.ceil(-np.log10(step_g) - 1e-9))) + 1
    clean: Floats = np.round(grams, decimals)
    return clean


def rounded(shares: Floats, grams: float, step_g: float) -> Ints:
    """Return whole scale steps per part that sum to the batch (largest remainders), shape (k,)."""
    total = round(grams / step_g)
    exact = shares / shares.sum() * total
    steps: Ints = np.floor(exact).astype(np.int64)
    steps[np.argsort(steps - exact, kind="stable")[: total - int(steps.sum())]] += 1
    return steps


def polished(steps: Ints, lowest: int, highest: Ints, optics: TintOptics, target: ColourTarget) -> tuple[Ints, float]:
    """Exchange scale steps between parts while that brings the worst light nearer.

    Parameters
    ----------
    steps : ndarray, shape (k,)
        Scale steps of each part; the sum is kept.
    lowest : int
        Fewest steps a part may have.
    highest : ndarray, shape (k,)
        Most steps the stock allows of each.
    optics : TintOptics
        Of these k tints.
    target : ColourTarget

    Returns
    -------
    steps : ndarray, shape (k,)
    worst : float
        ΔE00 in the worst light.
    """
    moves = _exchanges(len(steps))
    size, worst = (float(value) for value in how_near(steps.astype(float), optics, target))
    for _ in range(200):
        near = steps + moves
        near = near[((near >= lowest) & (near <= highest)).all(axis=1)]
        if not len(near):
            break
        sizes, worsts = how_near(near.astype(float), optics, target)
        at = int(np.argmin(sizes))
        if sizes[at] >= size - 1e-9:
            break
        steps, size, worst = near[at], float(sizes[at]), float(worsts[at])
    return steps, worst


def how_near(parts: Floats, optics: TintOptics, target: ColourTarget) -> tuple[Floats, Floats]:
    """Return how near mixtures come: what is to be made least, and the ΔE00 in the worst light, each of shape (...).

    Parameters
    ----------
    parts : ndarray, shape (..., k)
        By weight.
    optics : TintOptics
        Of these k tints.
    target : ColourTarget
    """
    r = predicted_reflectance(optics, parts)
    de = target.distances(r)
    size = de.max(axis=-1) + 0.01 * de.mean(axis=-1)
    if target.reflectance is not None:
        size = size + 0.1 * np.sqrt(((r - target.reflectance) ** 2).mean(axis=-1))
    return size, de.max(axis=-1)


@cache
def _exchanges(k: int) -> Ints:
    """Return all exchanges of steps between two of some parts, shape (moves, k)."""
    moves = np.array(
        [[(i == a) * d - (i == b) * d for i in range(k)] for a in range(k) for b in range(k) if a != b for d in _MOVES],
        dtype=np.int64,
    ).reshape(-1, k)
    moves.setflags(write=False)
    return moves


@cache
def _normal_draws(parts: int, count: int = 512) -> Floats:
    """Return standard normal draws that are the same every time, shape (count, parts)."""
    draws = np.random.default_rng(20).standard_normal((count, parts))
    draws.setflags(write=False)
    return draws


def weighing_sensitivity(grams: Floats, pour_sd: Floats, optics: TintOptics, light: str, observer: int) -> float:
    """Return the 95th percentile of ΔE00 that weighing alone brings, each part off by what a pour of it is.

    Parameters
    ----------
    grams : ndarray, shape (k,)
    pour_sd : ndarray, shape (k,)
        Grams, one standard deviation (`Scale.pour_sd_g`).
    optics : TintOptics
        Of these k tints.
    light, observer
        Where the difference is taken.
    """
    poured = np.maximum(grams + pour_sd * _normal_draws(len(grams)), 0)
    both = np.concatenate([grams[None], poured])
    labs = reflectance_to_lab(predicted_reflectance(optics, both), light, observer)
    return float(np.percentile(de00(labs[0], labs[1:]), 95))
