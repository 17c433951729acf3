"""How far a colour read from a photograph may be off.

u95 is the half-width in ΔE00 that holds the truth 95 times in 100.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from finishmatch.colour import Floats, de00_metric, xyz_to_lab
from finishmatch.photo.correct.capture import Known
from finishmatch.photo.correct.choose import Correction
from finishmatch.photo.find.regions import Spot

# From a root mean square in three axes to what holds 95 in 100. Were the errors normal and alike in the three, 1.61;
# in one axis alone, 1.96 («measured on rendered pictures», benchmarks/test_photo_accuracy.py).
COVER = 1.9
NEAR_LAB = 22.0  # known colours this far away count half as much for the error at a colour
PRIOR_COLOURS = 3.0  # the error over the whole chart counts as much as this many near colours
OUTSIDE_GROWTH = 22.0  # Lab units beyond the chart's colours at which the error has doubled
# Fields of a print left out, ΔE00, to what paints are off by then: alone, and beside what a print leaves open of paints
# («measured on rendered pictures», benchmarks/test_print_accuracy.py).
INKS_FOR_PAINTS, BESIDE_DOUBT = 1.35, 0.45
SAME_PAINT_LAB = 16.0  # within this two colours share most of the error of the correction
FLOOR = 0.12  # ΔE00: what a file of 8 bits and a lens leave open


@dataclass(frozen=True)
class Certainty:
    """What goes into the u95 of one colour, each a root mean square in ΔE00."""

    correction: float
    light: float
    sample: float
    outside: float
    u95: float


def typical_openness(fit: Correction, known: Known) -> float:
    """Return what the fit leaves open of the colours it was made on, ΔE00², the median."""
    slopes, _ = fit.base.slopes(known.linear, known.places)
    metric = de00_metric(xyz_to_lab(known.xyz, known.white))
    seen = metric @ slopes
    return float(np.median(np.einsum("nij,jk,nik->n", seen, fit.base.covariance, seen, optimize=True)))


def certainty(fit: Correction, known: Known, spot: Spot, typical: float) -> Certainty:
    """Return how far the colour of a spot may be off.

    Parameters
    ----------
    fit : Correction
    known : Known
        What it was fitted on.
    spot : Spot
    typical : float
        By `typical_openness`.

    Returns
    -------
    Certainty
        `correction` is the chart's leave-one-out error near that colour, more so where the colour lies outside the
        chart's, and of a print what it leaves open of paints; `light` what the fit itself leaves open at that place
        and colour beyond that; `sample` by the spread of the spot.
    """
    linear, place = spot.linear[None], spot.place[None]
    lab = fit.lab(linear, place)[0]
    metric = de00_metric(lab[None])[0]
    chart = xyz_to_lab(known.xyz, known.white)
    near = np.exp(-((chart - lab) ** 2).sum(axis=1) / (2 * NEAR_LAB**2)) * known.weights
    squared = np.minimum(fit.left_out, 12.0) ** 2
    overall = float((known.weights * squared).sum() / known.weights.sum())
    local = float(((near * squared).sum() + PRIOR_COLOURS * overall) / (near.sum() + PRIOR_COLOURS))
    outside = distance_outside(lab, chart)
    correction = np.sqrt(local) * (1 + outside / OUTSIDE_GROWTH)
    if fit.inks:
        correction *= INKS_FOR_PAINTS if fit.doubt is None else BESIDE_DOUBT
    if fit.doubt is not None:
        correction = np.hypot(correction, np.sqrt(fit.doubt.squared(spot.linear, spot.place)))
    slopes, by_camera = fit.base.slopes(linear, place)
    open_here = _squared(metric @ slopes[0], fit.base.covariance)
    light = np.sqrt(max(open_here - typical, 0.0))
    spread = np.sqrt(_squared(metric @ by_camera[0], spot.spread))
    total = np.sqrt(correction**2 + light**2 + spread**2 + FLOOR**2)
    return Certainty(float(correction), float(light), float(spread), outside, float(COVER * total))


def differences_u95(
    fit: Correction, spots: Sequence[Spot], pairs: Sequence[tuple[int, int]], corrections: Sequence[float]
) -> list[float]:
    """Return how far the difference of two spots of one photograph may be off, ΔE00, 95 times in 100, for some pairs.

    What the correction does wrong it does alike to two colours that lie near each other: only the rest counts.

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
        separately = _squared(metric @ (slopes[i] - slopes[j]), fit.base.covariance)
        spread = sum(_squared(metric @ by_camera[at], spots[at].spread) for at in (i, j))
        squared = float(((labs[i] - labs[j]) ** 2).sum())
        correction = (corrections[i] ** 2 + corrections[j] ** 2) / 2
        unlike = 2 * correction * (1 - np.exp(-squared / (2 * SAME_PAINT_LAB**2)))
        found.append(float(COVER * np.sqrt(separately + spread + unlike + FLOOR**2 / 2)))
    return found


def _squared(slopes: Floats, covariance: Floats) -> float:
    return float(((slopes @ covariance) * slopes).sum())


def distance_outside(point: Floats, cloud: Floats, steps: int = 60) -> float:
    """Return how far a point lies outside the convex hull of others; 0 inside.

    References
    ----------
    Gilbert's algorithm (Frank-Wolfe on the nearest point of a hull), SIAM J. Control 4 (1966) 61.
    """
    at = cloud[((cloud - point) ** 2).sum(axis=1).argmin()]
    for _ in range(steps):
        towards = cloud[((cloud - point) @ (at - point)).argmin()]
        step = towards - at
        length = float(step @ step)
        gain = float((point - at) @ step)
        if length <= 1e-12 or gain <= 1e-6 * length:
            break
        at = at + min(gain / length, 1.0) * step
    distance = float(np.linalg.norm(at - point))
    return distance if distance > 0.5 else 0.0
