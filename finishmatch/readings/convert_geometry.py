"""A reading brought to the geometry of what it is held against, where that can be done."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from finishmatch.colour import Floats, de00, reflectance_to_lab
from finishmatch.colour.grid import GEOMETRIES
from finishmatch.optics.geometry import LEAST_GLOSS_60, convert_geometry
from finishmatch.readings.geometry_names import GLOSS_COUNTS
from finishmatch.readings.reading import Reading


@dataclass(frozen=True)
class Conversion:
    """A reading that was converted: from which geometry to which, and the doubt that brings.

    `u95_de00` is the half-width in ΔE00 that holds the truth 95 times in 100, under the light and observer asked for.
    """

    name: str
    was: str
    geometry: str
    u95_de00: float


def read_likewise(
    reading: Reading, geometry: str, index: float, gloss_60: float | None, light: str, observer: int
) -> tuple[Reading, Conversion | None]:
    """Return a reading as another geometry would have read it, or as it is with a warning when that isn't known.

    Parameters
    ----------
    reading : Reading
    geometry : str
        Of what it is held against; "" when that isn't known: nothing is done then, nor when the reading's own isn't.
    index : float
        Refractive index of the dry binder.
    gloss_60 : float or None
        Gloss of the film at 60°, gloss units; None when it isn't known.
    light, observer
        The doubt is given under these.

    Returns
    -------
    reading : Reading
        With `conversion_sd` when it was converted, and a warning of what was done or couldn't be.
    conversion : Conversion or None

    Raises
    ------
    InputError
        An index or a gloss that is none.
    """
    if not geometry or not reading.geometry or reading.geometry == geometry:
        return reading, None
    for view in reading.views:
        if view.geometry == geometry:
            return view, None
    unlike = f"{reading.name} was read {reading.geometry} and is compared with {geometry}"
    if not {geometry, reading.geometry} <= set(GEOMETRIES) or reading.reflectance is None:
        why = "only its Lab is known" if reading.reflectance is None else "such an angle can't be converted"
        return _warned(reading, f"{unlike}: {GLOSS_COUNTS} ({why})"), None
    if gloss_60 is None:
        return _warned(reading, f"{unlike}: {GLOSS_COUNTS}; with `gloss` it is converted"), None
    if 0 < gloss_60 < LEAST_GLOSS_60:
        note = f"{GLOSS_COUNTS} (at {gloss_60:g} gloss units it is too matt to convert)"
        return _warned(reading, f"{unlike}: {note}; read both the same way"), None
    repeats, _ = convert_geometry(reading.repeats, reading.geometry, geometry, index, gloss_60)
    mean, sd = convert_geometry(reading.reflectance, reading.geometry, geometry, index, gloss_60)
    doubt = _u95(mean, sd, light, observer)
    note = f"converted for an index of {index:g} and {gloss_60:g} gloss units, which adds a doubt of ±{doubt:.2f} ΔE00"
    found = replace(_warned(reading, f"{unlike}: {note}"), repeats=repeats, geometry=geometry, conversion_sd=sd)
    return found, Conversion(reading.name, reading.geometry, geometry, doubt)


def _warned(reading: Reading, warning: str) -> Reading:
    return replace(reading, warnings=(*reading.warnings, warning))


def _u95(mean: Floats, sd: Floats, light: str, observer: int) -> float:
    lab = reflectance_to_lab(mean, light, observer)
    ends = [np.maximum(mean + side * 1.96 * sd, 0.0) for side in (-1, 1)]
    return max(float(de00(lab, reflectance_to_lab(end, light, observer))) for end in ends)
