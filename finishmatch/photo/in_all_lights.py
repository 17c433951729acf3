"""The differences of a trial from its standard in several lights, each told by the photographs of all of them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from finishmatch.colour import Floats, de00_metric
from finishmatch.photo.across_lights import TOO_FAR, Look, Together, seen_together
from finishmatch.photo.correct.difference_doubt import within_95
from finishmatch.photo.looks import look_of
from finishmatch.photo.read import PhotoReading
from finishmatch.photo.side_by_side import DAYLIGHTS
from finishmatch.readings.reading import SeenDifference
from finishmatch.readings.seen import MOST_U95

UNDER_A_LAMP = 1.5  # its doubt is this much wider in the light of a lamp («measured on rendered pictures»)
_MORE = 4


def in_all_lights(
    seen: Sequence[SeenDifference], readings: Sequence[Sequence[PhotoReading]], called: tuple[str, str]
) -> tuple[tuple[SeenDifference, ...], tuple[str, ...]]:
    """Return what was seen in each light, with what the photographs in the others tell of it, and warnings.

    Parameters
    ----------
    seen : sequence of SeenDifference
        As the photographs of each light tell it by themselves; the first in the light that counts first.
    readings : sequence of sequence of PhotoReading
        Of each light.
    called : (str, str)
        What standard and trial are called in them.

    Notes
    -----
    Photographs by which the camera isn't known well enough (`look_of`) stand by themselves, and so do all where none
    is under a lamp.
    """
    own = tuple(seen)
    if {one.light for one in seen} <= set(DAYLIGHTS) or len(seen) < 2:
        return own, ()
    groups = {one.light: group for one, group in zip(seen, readings, strict=True)}
    found = {light: [look_of(reading, called) for reading in group] for light, group in groups.items()}
    alone = {light: why for light, looks in found.items() for why in looks if isinstance(why, str)}
    notes = tuple(f"the photographs in {light} are taken by themselves: {why}" for light, why in alone.items())
    looks = [look for light, looks in found.items() if light not in alone for look in looks if isinstance(look, Look)]
    together = dict.fromkeys(look.light for look in looks)
    if len(together) < 2 or set(together) <= set(DAYLIGHTS):
        return own, notes
    abouts = {light: _about(groups[light], called) for light in together}
    about = abouts[looks[0].light]
    told, more = (seen_together(some, about, seen[0].observer) for some in (looks, _MORE * looks))
    if told is None or more is None:
        return own, notes
    lights = " and ".join(together)
    if told.chance < TOO_FAR:
        return own, (
            *notes,
            f"the photographs in {lights} don't go together: no two paints that look so in the one look so in the "
            "other; do they show the same card beside the same piece? Each is taken by itself",
        )
    by_all = tuple(_told(one, told, more, abouts[one.light]) if one.light in together else one for one in seen)
    widest = max(one.u95 for one in by_all if one.light in together)
    if widest > MOST_U95:
        return own, (
            *notes,
            f"the photographs in {lights} show that card and standard are of other pigments, which this camera "
            f"can't compare: together they tell the difference to ΔE00 {widest:.0f} only. Each is taken by itself, and "
            "may be off by more than is said; an instrument that reads both would tell",
        )
    return by_all, notes


def _about(group: Sequence[PhotoReading], called: tuple[str, str]) -> Floats:
    """Return CIELAB of the two, the mean, as the photographs of a light have it, shape (3,)."""
    return np.asarray(np.mean([one.lab for reading in group for one in reading.regions if one.name in called], axis=0))


def _told(one: SeenDifference, told: Together, more: Together, about: Floats) -> SeenDifference:
    metric = de00_metric(about)
    wider = 1.0 if one.light in DAYLIGHTS else UNDER_A_LAMP**2
    covariance = wider * told.covariance[one.light]
    return replace(
        one,
        delta=one.delta + told.moved[one.light],
        covariance=covariance,
        u95=within_95(covariance, metric),
        u95_more=within_95(wider * more.covariance[one.light], metric),
        alike_u95=within_95(wider * told.alike[one.light], metric),
    )
