"""A colour by photographs under several lights: what a camera is off by in daylight shows, in part, under a lamp.

A camera isn't the eye. What it reads of a paint in daylight is off by how this paint's spectrum differs from others
that it sees alike; under a lamp it sees these apart. So of the family's paints near a colour it is known by how much
each camera would be off, and what the lamp's picture reads beyond what daylight explains says which of them it is like.

References
----------
Cleveland, J. Am. Stat. Assoc. 74 (1979) 829 (local linear regression); Rasmussen and Williams, Gaussian Processes for
Machine Learning (2006), A.2 (what one part of normal variables tells of another).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from scipy.special import chdtrc

from finishmatch.colour import Floats, de00, de00_metric
from finishmatch.photo.correct.paints import paint_lab, paint_spectra, real_paints
from finishmatch.photo.looks import why_no_look
from finishmatch.photo.read import PhotoReading, PhotoRegion

NEAR_MANY = 60  # so many paints next to a colour speak for it («measured on rendered pictures» of real pigments)
# L*, a*, b* by which a picture is off beside what its camera makes of the paint: light, noise («measured on rendered
# pictures»)
PICTURE_SD = 0.3
# Chance of what is read under the lamps below which it isn't taken for the same paint, with so many times the family's
# spread: real pigments lie outside it («measured on rendered pictures»: 448 readings of theirs had 0.3 at the least).
TOO_FAR, LOOSE = 1e-4, 2.0
_NARROWEST = 0.5  # no lamp takes away more of a doubt: real paints aren't the family


@dataclass(frozen=True)
class _Lit:
    """What is read of samples under a lamp: of the family's paints, shape (n, 3), and of each sample, by its name."""

    light: str
    family: Floats
    labs: dict[str, Floats]


def read_in_lights(reading: PhotoReading, lamps: Sequence[PhotoReading]) -> tuple[PhotoReading, tuple[str, ...]]:
    """Return a photograph's samples as it and photographs of the same samples under lamps tell them, and warnings.

    Parameters
    ----------
    reading : PhotoReading
        In daylight.
    lamps : sequence of PhotoReading
        Each read for the light of its lamp; its samples are those of the same names.

    Notes
    -----
    A photograph by which the camera isn't known well enough (`why_no_look`) is left out, and so is a sample that no two
    lights show, or that can't be the same paint in them. The colours stay those of the photograph's own light.
    """
    why = why_no_look(reading)
    if why or reading.why_not:
        name = reading.picture.source.name
        return reading, (f"{name} is taken by itself: {why}",) if why and not reading.why_not else ()
    serve = [one for one in lamps if serves_beside(one)]
    unfit = [(one.picture.source.name, one.why_not or why_no_look(one)) for one in lamps if not serves_beside(one)]
    notes = [f"{name} is left out: {why}" for name, why in unfit]
    for one in serve:
        if not read_beside(reading, one):
            there = ", ".join(region.name for region in one.regions) or "none"
            notes.append(
                f"{one.picture.source.name} shows none of these samples (found there: {there}): mark them in it"
            )
    lights = dict.fromkeys(one.light for one in serve if one.light != reading.light)
    lit = [_lit([one for one in serve if one.light == light]) for light in lights]
    family = _family_of(reading)
    regions = []
    for region in reading.regions:
        found, note = _in_lights(region, reading, family, [one for one in lit if region.name in one.labs])
        regions.append(found)
        notes += note
    differences = tuple(
        replace(one, de00=float(de00(at[one.standard], at[one.trial])), delta=at[one.trial] - at[one.standard])
        for at in [{region.name: region.lab for region in regions}]
        for one in reading.differences
    )
    return replace(reading, regions=tuple(regions), differences=differences), tuple(notes)


def serves_beside(one: PhotoReading) -> bool:
    """Return whether a photograph's camera is known well enough that it can be read with others under other lights."""
    return not (one.why_not or why_no_look(one))


def read_beside(reading: PhotoReading, lamp: PhotoReading) -> bool:
    """Return whether samples of a photograph are read by another, under a lamp, too: both serve, and show the same."""
    names = {region.name for region in reading.regions}
    return serves_beside(reading) and serves_beside(lamp) and not names.isdisjoint(one.name for one in lamp.regions)


def _family_of(reading: PhotoReading) -> Floats:
    """Return what is read of each paint of the family as this photograph is read, shape (n, 3)."""
    assert reading.fit is not None
    assert reading.fit.paints is not None
    fit = reading.fit.paints
    return fit.interpolation.lab(paint_spectra() @ fit.camera.response)


def _lit(lamps: Sequence[PhotoReading]) -> _Lit:
    """Return what photographs in one light read, the mean of them."""
    names = dict.fromkeys(region.name for one in lamps for region in one.regions)
    labs = {
        name: np.mean([region.lab for one in lamps for region in one.regions if region.name == name], axis=0)
        for name in names
    }
    return _Lit(lamps[0].light, np.mean([_family_of(one) for one in lamps], axis=0), labs)


def _in_lights(
    region: PhotoRegion, reading: PhotoReading, family: Floats, lit: Sequence[_Lit]
) -> tuple[PhotoRegion, tuple[str, ...]]:
    """Return a sample by all lights that show it, and what is to be said of it."""
    if not lit:
        return region, ()
    assert reading.fit is not None
    assert reading.fit.paints is not None
    there = real_paints(paint_spectra() @ reading.fit.paints.camera.response)
    truth, read = paint_lab(reading.light, reading.observer)[there], family[there]
    beside = np.hstack([one.family[there] for one in lit])
    seen = np.concatenate([one.labs[region.name] for one in lit])
    away = ((read - region.lab) ** 2).sum(axis=1)
    weights = np.exp(-away / (2 * float(np.partition(away, NEAR_MANY)[NEAR_MANY])))
    weights /= weights.sum()
    terms = np.hstack([np.ones((len(read), 1)), read - region.lab])
    pull = np.linalg.solve(terms.T @ (terms * weights[:, None]) + 1e-9 * np.eye(4), (terms * weights[:, None]).T)
    off, more = truth - read, beside
    off_left, more_left = off - terms @ (pull @ off), more - terms @ (pull @ more)
    expected = (pull @ more)[0]
    # what both pictures are off by themselves: the lamp's own, and daylight's as it moves what is expected there
    slope = (pull @ more)[1:]
    noise = PICTURE_SD**2 * (np.eye(len(seen)) + slope.T @ slope)
    spread = (more_left * weights[:, None]).T @ more_left
    surprise = seen - expected
    squared = float(surprise @ np.linalg.solve(LOOSE**2 * spread + noise, surprise))
    if chdtrc(len(seen), squared) < TOO_FAR:
        lights = " and ".join(one.light for one in lit)
        return region, (
            f"{region.name}: no paint that looks so in {reading.light} looks so in {lights}; do the photographs show "
            f"the same sample? It is read in {reading.light} alone",
        )
    cross = (off_left * weights[:, None]).T @ more_left
    gain = np.linalg.solve(spread + noise, cross.T).T
    metric = de00_metric(region.lab)
    before = metric @ ((off_left * weights[:, None]).T @ off_left) @ metric.T
    after = before - metric @ gain @ cross.T @ metric.T
    narrower = max(float(np.sqrt(np.trace(after) / np.trace(before))), _NARROWEST)
    sure = replace(region.certainty, u95=narrower * region.u95, correction=narrower * region.certainty.correction)
    lab = region.lab + (pull @ off)[0] + gain @ surprise
    return replace(region, lab=np.asarray(lab), u95=sure.u95, certainty=sure), ()
