"""What to pour before the first card where today's tins aren't known: colour held back mends with colour, not white."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from finishmatch.colour import Floats
from finishmatch.mix.expected_difference import drawn_strengths
from finishmatch.mix.weighing import Scale, weighed_grams

# shares that may be poured at first of the tint whose tin is known least
HELD = (1.0, 0.95, 0.9, 0.85, 0.8, 0.75, 0.7, 0.65, 0.6, 0.55, 0.5)
# of the batch, on the average: what holding another twentieth back must save, for a tolerance so fine (ΔE00) and for
# one so wide, and for how little nothing is held back; the wider, the likelier is the first card the last, so that it
# had better be near. All were chosen in the booth's shops (docs/accuracy.md, The whole job)
FINE, WIDE = 0.2, 0.5
WORTH_FINE, WORTH_WIDE, UNMINDED_GROWTH = 0.0175, 0.025, 0.04
_KNOWN = 1e-6  # standard deviation of the logarithm of a strength that is as good as none


@dataclass(frozen=True)
class FirstPour:
    """What to pour of a recipe before its first card.

    Parameters
    ----------
    share : float
        Of all parts but the largest together, by weight.
    parts : tuple of (tint, grams)
        What to pour, in the order of the recipe.
    growth, growth_at_once : float
        By how much more than was wanted the tin comes to, on the average, poured so and poured at once.
    intervals : dict of str to (low, high)
        What its card's ΔE00 in each light lies within 95 times in 100.
    """

    share: float
    parts: tuple[tuple[str, float], ...]
    growth: float
    growth_at_once: float
    intervals: dict[str, tuple[float, float]] = field(default_factory=dict)


def first_pour(
    parts: tuple[tuple[str, float], ...], log_covariance: Floats, scale: Scale, tolerance: float
) -> FirstPour | None:
    """Return what to pour before the first card, or None where all of it may be poured at once.

    Parameters
    ----------
    parts : tuple of (tint, grams)
        Largest first.
    log_covariance : ndarray, shape (k, k)
        Of the logarithms of the strengths of their tins, in the same order.
    scale : Scale
    tolerance : float
        ΔE00 within which a card is good.

    Notes
    -----
    A film that hides knows the strengths of its tins among one another alone. With strengths s of the tins, and s0 of
    the largest part's, a part needs s0/s of its grams; where more was poured, everything else must grow to it. Each
    part is held back by as many standard deviations of that as the others: one whose tin cards have shown is poured
    almost whole. What is held back is poured after the card, as far as the card asks for it, and counts as wanted.
    """
    grams = np.array([weight for _, weight in parts])
    if len(grams) < 2:
        return None
    unknown = _unknown_beside_largest(log_covariance)
    if unknown.max() < _KNOWN:
        return None
    drawn = drawn_strengths(log_covariance)
    needed = grams * drawn[:, :1] / drawn
    shares = np.array([held ** (unknown / unknown.max()) for held in HELD])
    growth = [_growth(grams, needed, each) for each in shares]
    worth = np.interp(tolerance, (FINE, WIDE), (WORTH_FINE, WORTH_WIDE))
    at = 0
    while at + 1 < len(HELD) and growth[at] - growth[at + 1] >= worth:
        at += 1
    if at == 0 or growth[0] < UNMINDED_GROWTH:
        return None
    poured = np.maximum(shares[at] * grams, np.minimum(grams, scale.smallest_g))
    poured = weighed_grams(np.round(poured / scale.step_g) * scale.step_g, scale.step_g)
    named = tuple((tint, float(weight)) for (tint, _), weight in zip(parts, poured, strict=True))
    of_all = float((shares[at] * grams)[1:].sum() / grams[1:].sum())
    return FirstPour(round(of_all, 4), named, growth[at], growth[0])


def _unknown_beside_largest(log_covariance: Floats) -> Floats:
    """Return how far each tin may be off against the largest part's, one SD of the logarithm, shape (k,)."""
    own = np.diag(log_covariance)
    found: Floats = np.sqrt(np.maximum(own + own[0] - 2 * log_covariance[0], 0.0))
    return found


def _growth(grams: Floats, needed: Floats, shares: Floats) -> float:
    """Return by how much more than was wanted the tin comes to, on the average, as a share of the batch."""
    size = np.maximum((shares * grams / needed).max(axis=1), 1.0)
    return float(np.maximum(size * needed.sum(axis=1) / grams.sum() - 1, 0.0).mean())
