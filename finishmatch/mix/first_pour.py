"""How much of a recipe to pour before its first card, where today's tins aren't known: the rest mends what is off."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from finishmatch.colour import Floats
from finishmatch.mix.expected_difference import drawn_strengths
from finishmatch.mix.letdowns import Letdown
from finishmatch.mix.weighing import Scale, weighed_grams

SHARES = (1.0, 0.75, 0.5)  # of a recipe that are poured before its first card: easy to reckon at the scale
# by which the batch outgrows its weight on the average: so little that all is poured at once, and so little that no
# less of it need be poured at first. Both are choices
UNMINDED_GROWTH, UNMINDED_OF_PART = 0.04, 0.01
_KNOWN = 1e-6  # standard deviation of the logarithm of a strength that is as good as none


@dataclass(frozen=True)
class FirstPour:
    """What to pour of a recipe before its first card.

    Parameters
    ----------
    share : float
        Of every part of it.
    parts : tuple of (tint, grams)
        What to pour, in the order of the recipe.
    growth, growth_at_once : float
        By how much more than was wanted the tin comes to, on the average, poured so and poured at once.
    intervals : dict of str to (low, high)
        What its card's ΔE00 in each light lies within 95 times in 100.
    letdowns : tuple of Letdown
        How its parts that are poured by a letdown are, once the others are in the tin.
    """

    share: float
    parts: tuple[tuple[str, float], ...]
    growth: float
    growth_at_once: float
    intervals: dict[str, tuple[float, float]] = field(default_factory=dict)
    letdowns: tuple[Letdown, ...] = ()


def first_pour(parts: tuple[tuple[str, float], ...], log_covariance: Floats, scale: Scale) -> FirstPour | None:
    """Return what to pour before the first card, or None where all of it may be poured at once.

    Parameters
    ----------
    parts : tuple of (tint, grams)
        Largest first.
    log_covariance : ndarray, shape (k, k)
        Of the logarithms of the strengths of their tins, in the same order.
    scale : Scale

    Notes
    -----
    A film that hides knows the strengths of its tins among one another alone. With strengths s of the tins, and s0 of
    the largest part's, a part needs s0/s of its grams; where more was poured, everything else must grow to it. Of half
    a batch a tin may be twice as strong before the whole outgrows what was wanted; its card is that of the whole, and
    what it shows goes into the rest.
    """
    grams = np.array([weight for _, weight in parts])
    if len(grams) < 2 or _unknown_beside_largest(log_covariance).max() < _KNOWN:
        return None
    drawn = drawn_strengths(log_covariance)
    needed = grams * drawn[:, :1] / drawn
    pours = [part_of(grams, share, scale) for share in SHARES]
    at_once, *of_part = (_growth(grams, needed, poured) for poured in pours)
    if at_once < UNMINDED_GROWTH:
        return None
    at = next((i for i, growth in enumerate(of_part) if growth < UNMINDED_OF_PART), len(of_part) - 1)
    if at_once - of_part[at] < UNMINDED_GROWTH:  # its small parts can't be weighed smaller
        return None
    share, poured = SHARES[at + 1], pours[at + 1]
    named = tuple((tint, float(weight)) for (tint, _), weight in zip(parts, poured, strict=True))
    return FirstPour(share, named, of_part[at], at_once)


def part_of(grams: Floats, share: float, scale: Scale) -> Floats:
    """Return a share of the parts of a recipe in steps of the scale, none too small to weigh; shape (k,)."""
    smallest, step = scale.smallest_parts_g(len(grams)), scale.steps_g(len(grams))
    poured = np.maximum(share * grams, np.minimum(grams, smallest))
    steps = np.round(np.round(poured / step, 3))  # half a step is half a step, whatever it was worked out from
    return weighed_grams(steps * step, float(step.min()))


def _unknown_beside_largest(log_covariance: Floats) -> Floats:
    """Return how far each tin may be off against the largest part's, one SD of the logarithm, shape (k,)."""
    own = np.diag(log_covariance)
    found: Floats = np.sqrt(np.maximum(own + own[0] - 2 * log_covariance[0], 0.0))
    return found


def _growth(grams: Floats, needed: Floats, poured: Floats) -> float:
    """Return by how much more than was wanted the tin comes to, on the average, as a share of the batch."""
    size = np.maximum((poured / needed).max(axis=1), 1.0)
    return float(np.maximum(size * needed.sum(axis=1) / grams.sum() - 1, 0.0).mean())
