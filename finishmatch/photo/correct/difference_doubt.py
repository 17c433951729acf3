"""How far the difference of two samples of one photograph may be off, and what of that the next picture repeats."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from finishmatch.colour import Floats, de00_metric
from finishmatch.colour.local_metric import WITHIN_95
from finishmatch.photo.correct.correction import COVER, FLOOR, SAME_PAINT_LAB, Correction
from finishmatch.photo.find.spot import Spot

# `COVER` is above that of normal errors, since these have long tails: a covariance that is to hold the same is as wide
_AS_NORMAL = (COVER * np.sqrt(3) / WITHIN_95) ** 2
# The camera isn't the eye: what two paints of other pigments differ by for the one they don't for the other, and the
# next photograph repeats it. It is taken for so much of the correction's variance, for no more of what a photograph
# leaves open than this share, and for this ΔE00 at the least («measured on rendered pictures»,
# benchmarks/test_seen_differences.py).
REPEATED, REPEATED_SHARE, REPEATED_LEAST = 0.065, 0.8, 0.3


@dataclass(frozen=True)
class DifferenceDoubt:
    """How far a difference may be off.

    Parameters
    ----------
    own : ndarray, shape (3, 3)
        Covariance of its ΔL*, Δa*, Δb*, by what is this photograph's alone: its light, its noise.
    shared : ndarray, shape (3, 3)
        By what the camera does wrong to these two colours, and does again in the next photograph.
    metric : ndarray, shape (3, 3)
        Of ΔE00 about the two.
    """

    own: Floats
    shared: Floats
    metric: Floats

    @property
    def u95(self) -> float:
        """What holds the truth 95 times in 100, ΔE00."""
        return within_95(self.own + self.shared, self.metric)


def within_95(covariance: Floats, metric: Floats) -> float:
    """Return the ΔE00 that holds a difference of such a covariance 95 times in 100."""
    return float(WITHIN_95 * np.sqrt(_squared(covariance, metric) / 3))


def difference_doubts(
    fit: Correction, spots: Sequence[Spot], pairs: Sequence[tuple[int, int]], corrections: Sequence[float]
) -> list[DifferenceDoubt]:
    """Return how far the difference of two spots of one photograph may be off, for some pairs.

    What the correction does wrong it does alike to two colours that lie near each other: only the rest counts. Of what
    is left of paints of one colour a part is the camera's, and in every photograph the same.

    Parameters
    ----------
    fit : Correction
    spots : sequence of Spot
    pairs : sequence of (int, int)
        Which spots are held against each other.
    corrections : sequence of float
        The error of the correction at each spot, ΔE00.
    """
    if not pairs:
        return []
    linear, places = np.stack([spot.linear for spot in spots]), np.stack([spot.place for spot in spots])
    labs = fit.lab(linear, places)
    slopes, by_camera = fit.base.slopes(linear, places)
    one, other = np.array(pairs).T
    found = []
    for i, j, metric in zip(one, other, de00_metric((labs[one] + labs[other]) / 2), strict=True):
        apart = slopes[i] - slopes[j]
        separately = apart @ fit.base.covariance @ apart.T
        spread = sum(by_camera[at] @ spots[at].spread @ by_camera[at].T for at in (i, j))
        squared = float(((labs[i] - labs[j]) ** 2).sum())
        correction = (corrections[i] ** 2 + corrections[j] ** 2) / 2
        unlike = 2 * correction * (1 - np.exp(-squared / (2 * SAME_PAINT_LAB**2)))
        in_lab = np.linalg.inv(metric)
        evenly = in_lab @ in_lab.T / 3  # of one ΔE00², alike in all directions
        own = separately + spread + FLOOR**2 / 2 * evenly
        again = own * min(REPEATED * correction / _squared(own, metric), REPEATED_SHARE)
        least = max(REPEATED_LEAST**2 - _squared(again, metric), 0.0)
        found.append(
            DifferenceDoubt(_AS_NORMAL * (own - again), _AS_NORMAL * (again + (least + unlike) * evenly), metric)
        )
    return found


def _squared(covariance: Floats, metric: Floats) -> float:
    """Return the mean square of a difference of such a covariance, ΔE00²."""
    return float(np.trace(metric @ covariance @ metric.T))
