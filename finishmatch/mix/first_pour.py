"""What to pour before the first card where today's tins aren't known: colour held back mends with colour, not white."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from finishmatch.colour import Floats
from finishmatch.mix.weighing import Scale, weighed_grams

HELD = (1.0, 0.95, 0.9, 0.85, 0.8, 0.75)  # shares of the colour that may be poured at first
WORTH_GROWTH = 0.025  # of the batch, that holding another twentieth back must save on the average («common practice»)
_DRAWS = 384


@dataclass(frozen=True)
class FirstPour:
    """What to pour of a recipe before its first card.

    Parameters
    ----------
    share : float
        Of every part but the largest.
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
    A film that hides knows the strengths of its tints among one another alone. With strengths s of the tins, and s0 of
    the largest part's, a part needs s0/s of its grams; where more was poured, everything else must grow to it. What is
    held back is poured after the card, as far as the card asks for it, and counts as wanted.
    """
    grams = np.array([weight for _, weight in parts])
    if len(grams) < 2:
        return None
    needed = grams * _needed_shares(log_covariance)
    growth = [_growth(grams, needed, share) for share in HELD]
    at = 0
    while at + 1 < len(HELD) and growth[at] - growth[at + 1] >= WORTH_GROWTH:
        at += 1
    if at == 0:
        return None
    poured = np.append(grams[:1], np.maximum(HELD[at] * grams[1:], np.minimum(grams[1:], scale.smallest_g)))
    poured = weighed_grams(np.round(poured / scale.step_g) * scale.step_g, scale.step_g)
    named = tuple((tint, float(weight)) for (tint, _), weight in zip(parts, poured, strict=True))
    return FirstPour(HELD[at], named, growth[at], growth[0])


def _needed_shares(log_covariance: Floats) -> Floats:
    """Return draws of the grams that each part needs over those of the recipe, the first part's being 1."""
    k = len(log_covariance)
    root = np.linalg.cholesky(log_covariance + 1e-12 * np.eye(k))
    log = np.random.default_rng(36).standard_normal((_DRAWS, k)) @ root.T
    shares: Floats = np.exp(log[:, :1] - log)
    return shares


def _growth(grams: Floats, needed: Floats, share: float) -> float:
    """Return by how much more than was wanted the tin comes to, on the average, as a share of the batch."""
    poured = np.append(grams[:1], share * grams[1:])
    size = np.maximum((poured / needed).max(axis=1), 1.0)
    return float(np.maximum(size * needed.sum(axis=1) / grams.sum() - 1, 0.0).mean())
