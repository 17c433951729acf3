"""A reading in one geometry turned into what another would have read of the same film, with the doubt that leaves.

What is reflected at the surface goes with the gloss: it is in a di8 reading whole, in a de8 reading as far as the gloss
trap lets it pass, and in a 45/0 reading hardly at all. What has been in the paint leaves it in all directions, but not
alike: a sphere collects all of it, a 45/0 instrument looks from above only, and lights through the surface at 45°.

The model stops holding for metallics and pearls, for structured surfaces, and for matt films: below semi-gloss it is
not offered.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from finishmatch.colour import Floats
from finishmatch.colour.grid import GEOMETRIES
from finishmatch.errors import InputError
from finishmatch.optics.surface import fresnel_diffuse

LEAST_GLOSS_60 = 40.0  # semi-gloss begins here («common practice»)
INDEX_SD = 0.01  # of a binder's index as banks and data sheets give it («common practice»)
# of the ratio of 45/0 to de8: a third of the step that the theory takes, since real films don't scatter quite evenly
RATIO_SD = 0.015
STANDARD_INDEX = 1.567  # of the black glass that reads 100 gloss units (ISO 2813)
_SPHERE_DEG, _GLOSS_DEG = 8.0, 60.0


@dataclass(frozen=True)
class _Passage:
    """What the surface does to a reading.

    `first` is reflected at once, near the upright; `trapped` is the share of it that a gloss trap takes, `stray` the
    share that a 45/0 instrument still sees; `ratio` is what 45/0 reads of the light from inside per what a sphere does.
    """

    first: float
    trapped: float
    stray: float
    ratio: float


def fresnel(index: float, angle_deg: float) -> float:
    """Return the reflection of unpolarised light at a smooth surface of a refractive index, at an angle from upright.

    References
    ----------
    Fresnel's equations: 0.0400 upright, 0.0502 at 45° and 0.0892 at 60° for an index of 1.5.
    """
    mu = np.cos(np.radians(angle_deg))
    inside = np.sqrt(1 - (1 - mu**2) / index**2)
    across = (mu - index * inside) / (mu + index * inside)
    parallel = (index * mu - inside) / (index * mu + inside)
    return float((across**2 + parallel**2) / 2)


def full_gloss_60(index: float) -> float:
    """Return the gloss at 60°, in gloss units, of a perfectly smooth film of a refractive index (ISO 2813)."""
    return 100 * fresnel(index, _GLOSS_DEG) / fresnel(STANDARD_INDEX, _GLOSS_DEG)


def convert_geometry(
    reflectance: Floats, was: str, wanted: str, index: float, gloss_60: float
) -> tuple[Floats, Floats]:
    """Return what another geometry would have read.

    Parameters
    ----------
    reflectance : ndarray, any shape
        As read.
    was, wanted : str
        "di8", "de8" or "45/0".
    index : float
        Refractive index of the dry binder, 1.3 to 1.8.
    gloss_60 : float
        Gloss of the film at 60°, gloss units; at least 40.

    Returns
    -------
    reflectance : ndarray, the same shape
        At least 0.
    sd : ndarray, the same shape
        Its standard deviation by what the gloss, the index and the theory leave open; at all wavelengths together.

    Raises
    ------
    InputError
        A geometry, an index or a gloss that the model doesn't cover.

    References
    ----------
    Saunderson 1942 and Fresnel's equations for the light from inside; Bennett and Porteus, J. Opt. Soc. Am. 51 (1961)
    123 for how gloss at 60° bounds what stays in the mirror's direction at 8°. That the truth lies evenly between
    that bound and all of it is a judgement.
    """
    for geometry in (was, wanted):
        if geometry not in GEOMETRIES:
            raise InputError(f"geometry {geometry!r}", "can't be converted", "use one of " + ", ".join(GEOMETRIES))
    if not 1.3 <= index <= 1.8:
        raise InputError(
            "`binder_index`", f"{index:g} is not the index of a binder", "it lies between 1.3 and 1.8; most are 1.5"
        )
    if not 0 < gloss_60 <= 200:
        raise InputError("`gloss`", f"{gloss_60:g} is not the gloss of a paint", "give gloss units at 60°, 0 to 100")
    if gloss_60 < LEAST_GLOSS_60:
        raise InputError("`gloss`", f"at {gloss_60:g} the film is too matt to convert", "read both the same way")
    read = np.asarray(reflectance, dtype=float)
    if was == wanted:
        return read, np.zeros_like(read)
    passage, low = _passage(index, gloss_60)
    found = _read_in(_from_inside(read, was, passage), wanted, passage)
    steps = (
        replace(passage, trapped=passage.trapped + (1 - low) / np.sqrt(12)),
        replace(passage, stray=passage.stray + (1 - low) / 2 / np.sqrt(12)),
        replace(passage, ratio=passage.ratio + RATIO_SD),
        _passage(index + INDEX_SD, gloss_60)[0],
    )
    moved = [_read_in(_from_inside(read, was, step), wanted, step) - found for step in steps]
    return np.maximum(found, 0.0), np.sqrt(sum(off**2 for off in moved))


def _passage(index: float, gloss_60: float) -> tuple[_Passage, float]:
    """Return the likeliest passage, and the least share of the first reflection that a trap may take."""
    smooth = min(gloss_60 / full_gloss_60(index), 1.0)
    # roughness dims the mirror's image by exp(-(4 pi s cos / lambda)^2), so more at 8° than at 60°; what it throws
    # beside the mirror's direction may still fall into the trap, all of it or none
    cosines = (np.cos(np.radians(_SPHERE_DEG)) / np.cos(np.radians(_GLOSS_DEG))) ** 2
    low = float(smooth**cosines)
    first = fresnel(index, _SPHERE_DEG)
    ratio = (1 - fresnel(index, 45.0)) * (1 - fresnel(index, 0.0)) / ((1 - first) * (1 - fresnel_diffuse(index)))
    return _Passage(first, (1 + low) / 2, (1 - low) / 4, ratio), low


def _from_inside(read: Floats, geometry: str, passage: _Passage) -> Floats:
    """Return the part of a reading that has been in the paint, as a sphere collects it."""
    if geometry == "di8":
        return read - passage.first
    if geometry == "de8":
        return read - (1 - passage.trapped) * passage.first
    return (read - passage.stray * passage.first) / passage.ratio


def _read_in(inside: Floats, geometry: str, passage: _Passage) -> Floats:
    """Return what a geometry reads; the inverse of `_from_inside`."""
    if geometry == "di8":
        return inside + passage.first
    if geometry == "de8":
        return inside + (1 - passage.trapped) * passage.first
    return inside * passage.ratio + passage.stray * passage.first
