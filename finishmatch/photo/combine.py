"""Several photographs of the same samples: one colour each, outliers set aside, and how many photographs are needed."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from scipy.special import stdtrit

from finishmatch.colour import Floats, de00
from finishmatch.photo.correct.correction import COVER
from finishmatch.photo.read import PhotoDifference, PhotoReading, PhotoRegion

# What the correction does wrong it does again in the next photograph of the same camera and light: only what differs
# between photographs averages out («common practice»).
OUTLIER = 3.0  # robust deviations from the median of the photographs
OUTLIER_LEAST_DE00 = 0.8
MOST_NEEDED = 99
# Two or three photographs don't show how far photographs differ: what each says of that itself counts as so many more
# («common practice»).
SAID_FREEDOM = 4
SHOWN_ALL_TO = 6  # samples; of more, those beside the first


@dataclass(frozen=True)
class CombinedRegion:
    """A sample over all photographs it is in.

    Parameters
    ----------
    name : str
    lab : ndarray, shape (3,)
    u95 : float
    labs : ndarray, shape (n, 3)
        In each photograph that counts.
    spread_de00 : float or None
        Mean ΔE00 of those from their mean; None for one photograph.
    set_aside : tuple of int
        Photographs, from 0, in which it was read too far from the others.
    needed : int or None
        Photographs for the certainty asked for, by the spread seen and stated; None for one photograph.
    rejected, clipped : float
        Shares of its pixels, the largest over the photographs that count.
    counted : tuple of int
        The photographs that count, from 0.
    """

    name: str
    lab: Floats
    u95: float
    labs: Floats
    spread_de00: float | None
    set_aside: tuple[int, ...]
    needed: int | None
    rejected: float
    clipped: float
    counted: tuple[int, ...] = ()


def combine_regions(readings: Sequence[PhotoReading], within: float) -> tuple[CombinedRegion, ...]:
    """Return each sample over all photographs.

    Parameters
    ----------
    readings : sequence of PhotoReading
    within : float
        ΔE00: the certainty for which the number of photographs is given.

    References
    ----------
    ASTM E1345 (number of readings from their spread, by Student's t); outliers by the median and its deviation. The
    spread of a few is drawn to what they state themselves: Gelman et al., Bayesian Data Analysis (2013), 2.6 (scaled
    inverse χ², from memory).
    """
    names = dict.fromkeys(region.name for reading in readings for region in reading.regions)
    return tuple(_combined(name, readings, within) for name in names)


def _combined(name: str, readings: Sequence[PhotoReading], within: float) -> CombinedRegion:
    found = [(i, region) for i, reading in enumerate(readings) for region in reading.regions if region.name == name]
    labs = np.array([region.lab for _, region in found])
    off = de00(np.median(labs, axis=0), labs)
    good = np.ones(len(found), bool)
    if len(found) >= 3:
        typical = max(1.4826 * float(np.median(off)), OUTLIER_LEAST_DE00 / OUTLIER)
        good = off <= OUTLIER * typical
    kept = [region for (_, region), ok in zip(found, good, strict=True) if ok]
    weight = np.array([1 / region.u95**2 for region in kept])
    lab = (weight[:, None] * labs[good]).sum(axis=0) / weight.sum()
    spread, needed = None, None
    u95 = kept[0].u95
    if len(kept) > 1:
        apart = de00(lab, labs[good])
        spread = float(apart.mean())
        deviation, freedom = _deviation(kept, apart)
        needed = photographs_needed(deviation, within, freedom + 1)
        between = student_t95(freedom) * deviation / math.sqrt(len(kept))
        shared = min(region.certainty.correction for region in kept)  # one that agrees takes nothing from the best
        u95 = float(np.hypot(between, COVER * shared))
    return CombinedRegion(
        name,
        np.asarray(lab),
        u95,
        labs[good],
        spread,
        tuple(i for (i, _), ok in zip(found, good, strict=True) if not ok),
        needed,
        max(region.spot.rejected for region in kept),
        max(region.spot.clipped for region in kept),
        tuple(i for (i, _), ok in zip(found, good, strict=True) if ok),
    )


def unlike(readings: Sequence[PhotoReading], found: Sequence[CombinedRegion]) -> list[tuple[str, float]]:
    """Return the samples that photographs tell further apart than they may be off, and how far apart that is.

    Parameters
    ----------
    readings : sequence of PhotoReading
    found : sequence of CombinedRegion
        Over all of them.
    """
    far = []
    for one in found:
        regions = [region for number in one.counted for region in readings[number].regions if region.name == one.name]
        pairs = [(a, b) for i, a in enumerate(regions) for b in regions[i + 1 :]]
        apart = [(float(de00(a.lab, b.lab)), a.u95 + b.u95) for a, b in pairs]
        if any(off > known for off, known in apart):
            far.append((one.name, max(off for off, _ in apart)))
    return far


def _deviation(kept: Sequence[PhotoRegion], apart: Floats) -> tuple[float, int]:
    """Return the standard deviation of one photograph from the others, as seen and as stated, and its freedom."""
    stated = [(region.u95 / COVER) ** 2 - region.certainty.correction**2 for region in kept]
    freedom = SAID_FREEDOM + len(kept) - 1
    return math.sqrt((SAID_FREEDOM * max(float(np.mean(stated)), 0.0) + float((apart**2).sum())) / freedom), freedom


def own_u95(name: str, u95: float, differences: Sequence[PhotoDifference]) -> float | None:
    """Return the ΔE00 by which a colour is off apart from the others of its pictures, 95 times in 100.

    Two such errors make that of a difference. None where no other is in them.

    Parameters
    ----------
    name : str
    u95 : float
        Within which it is known by itself: its own part is no more.
    differences : sequence of PhotoDifference
        Of the pictures: of all pairs, or those that are shown.
    """
    its = [one for one in differences if name in (one.standard, one.trial)]
    told = [one.owns[one.trial == name] for one in its if one.owns is not None]
    if told:
        return min(told[0], u95)
    return min(float(np.median([one.u95 for one in its])) / 2**0.5, u95) if its else None


def combine_differences(
    readings: Sequence[PhotoReading], regions: Sequence[CombinedRegion]
) -> tuple[PhotoDifference, ...]:
    """Return the differences over all photographs, each taken within its own photograph first.

    Of more than `SHOWN_ALL_TO` samples only those beside the first are returned; they keep what all pairs say of each
    sample's own doubt.
    """
    found = readings[0].differences if len(readings) == 1 else _all_differences(readings, regions)
    if len(regions) <= SHOWN_ALL_TO:
        return found
    first = regions[0].name
    owns = {region.name: own_u95(region.name, math.inf, found) for region in regions}
    return tuple(
        replace(one, owns=(owns[one.standard] or 0.0, owns[one.trial] or 0.0))
        for one in found
        if first in (one.standard, one.trial)
    )


def _all_differences(
    readings: Sequence[PhotoReading], regions: Sequence[CombinedRegion]
) -> tuple[PhotoDifference, ...]:
    aside = {region.name: region.set_aside for region in regions}
    by_pair: dict[tuple[str, str], list[tuple[Floats, Floats, float]]] = {}
    for i, reading in enumerate(readings):
        seen: dict[str, PhotoRegion] = {region.name: region for region in reading.regions}
        for one in reading.differences:
            if i not in aside[one.standard] and i not in aside[one.trial]:
                pair = (seen[one.standard].lab, seen[one.trial].lab, one.u95)
                by_pair.setdefault((one.standard, one.trial), []).append(pair)
    found = []
    for (standard, trial), pairs in by_pair.items():
        base = np.mean([pair[0] for pair in pairs], axis=0)
        steps = np.array([pair[1] - pair[0] for pair in pairs])
        mean = steps.mean(axis=0)
        u95 = float(np.mean([pair[2] for pair in pairs]))
        if len(pairs) > 1:
            off = de00(base + mean, base + steps)
            deviation = float(np.sqrt((off**2).sum() / (len(pairs) - 1)))
            between = student_t95(len(pairs) - 1) * deviation / math.sqrt(len(pairs))
            u95 = min(u95, float(np.hypot(between, u95 / math.sqrt(2))))
        found.append(PhotoDifference(standard, trial, float(de00(base, base + mean)), u95))
    return tuple(found)


def photographs_needed(deviation: float, within: float, seen: int) -> int:
    """Return how many photographs bring the mean within a ΔE00, 95 times in 100, by their standard deviation.

    n = (t s / E)², t for the photographs seen, at least 1.

    References
    ----------
    ASTM E1345, by the standard deviation of the colour differences from the mean.
    """
    wanted = (student_t95(seen - 1) * deviation / within) ** 2
    return int(min(max(1, math.ceil(wanted)), MOST_NEEDED))


def student_t95(freedom: int) -> float:
    """Return Student's t for 95 % in the middle."""
    return float(stdtrit(freedom, 0.975))
