"""Tints of one recipe that fight: strong hues nearly opposite, which only grey each other."""

from __future__ import annotations

from itertools import combinations

import numpy as np

from finishmatch.colour import Floats, reflectance_to_lab, reflectance_to_xyz
from finishmatch.optics import TintOptics
from finishmatch.optics.beam import hiding_reading

# all «common practice», in CIELAB: what an earth or a grey has less chroma than; how far hues lie apart that grey each
# other; a colour this vivid, whose hue lies this far from both, is made by them: a green by yellow and blue
STRONG_CHROMA, OPPOSED_DEGREES = 25.0, 120.0
MADE_CHROMA, MADE_DEGREES = 20.0, 30.0
_HUE_Y = 20.0  # at which the hue of a tint is taken: its masstone may be too dark to have one


def tint_hues(optics: TintOptics) -> Floats:
    """Return the hue of each tint, degrees, where it is a strong one, and NaN where it isn't, shape (n,).

    It is that of the tint let down until its Y is 20 (D65, 10°): K/S times a factor, as a white of no colour would do.
    """
    k_over_s = optics.K / np.maximum(optics.S, 1e-12)
    low, high = np.full(len(k_over_s), -14.0), np.full(len(k_over_s), 14.0)
    for _ in range(30):
        middle = (low + high) / 2
        y = reflectance_to_xyz(hiding_reading(k_over_s * np.exp(middle)[:, None], optics.surface))[:, 1]
        low, high = np.where(y > _HUE_Y, middle, low), np.where(y > _HUE_Y, high, middle)
    lab = reflectance_to_lab(hiding_reading(k_over_s * np.exp(high)[:, None], optics.surface))
    hue = np.degrees(np.arctan2(lab[:, 2], lab[:, 1])) % 360
    return np.where(np.hypot(lab[:, 1], lab[:, 2]) >= STRONG_CHROMA, hue, np.nan)


def greying_pairs(hues: Floats, lab: Floats) -> list[tuple[int, int]]:
    """Return the pairs of a recipe's tints that only grey each other, by their places.

    Parameters
    ----------
    hues : ndarray, shape (k,)
        Of its tints, by `tint_hues`.
    lab : ndarray, shape (3,)
        Of the recipe.
    """
    chroma, hue = float(np.hypot(lab[1], lab[2])), float(np.degrees(np.arctan2(lab[2], lab[1])))
    return [
        (i, j)
        for i, j in combinations(range(len(hues)), 2)
        if _apart(hues[i], hues[j]) >= OPPOSED_DEGREES
        and not (chroma >= MADE_CHROMA and min(_apart(hue, hues[i]), _apart(hue, hues[j])) >= MADE_DEGREES)
    ]


def _apart(one: float, other: float) -> float:
    """Return how far two hues lie apart, 0 to 180 degrees; NaN where one has none."""
    return abs((one - other + 180) % 360 - 180)
