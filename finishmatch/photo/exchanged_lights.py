"""Whether a photograph in daylight and one under a lamp were named the wrong way round: their chart tells it.

A camera balances its white, so no picture tells its light by how it looks. But what the camera makes of each wavelength
has the light in it: under a lamp it is what it is in daylight, times what the lamp has more of at each wavelength. From
one picture to the other that can be held against both, whatever white balance and matrix the camera laid on.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import cache

import numpy as np

from finishmatch.colour import Floats, weights
from finishmatch.errors import InputError
from finishmatch.photo.correct.paints import paint_spectra
from finishmatch.photo.looks import why_no_look
from finishmatch.photo.read import PhotoReading
from finishmatch.photo.side_by_side import DAYLIGHTS

LAMPS = ("A", "LED-B3")  # whose light is even enough
# Logarithm of how many times worse the two go together as they are named than exchanged («measured on rendered
# pictures», benchmarks/test_exchanged_lights.py).
EXCHANGED = 0.3
_SPECTRA = 40  # of the family of paints, by which two cameras are compared: the first lie far apart
_DARK, _OBSERVER = 0.02, 10


def refuse_exchanged(readings: Sequence[PhotoReading]) -> None:
    """See that no photograph that is named as in daylight was taken under a lamp, and that lamp's in daylight.

    Raises
    ------
    InputError
        Names the two.
    """
    for day in readings:
        for lamp in readings:
            odds = exchange_odds(day, lamp)
            if odds is not None and odds > EXCHANGED:
                its, name = day.picture.source.name, lamp.picture.source.name
                what = (
                    f"looks taken in daylight, and {its} under that lamp, by what the chart shows of the light in each"
                )
                mend = f"name the two the other way round; if they are named as they were taken, leave {name} out"
                raise InputError(name, what, mend)


def exchange_odds(day: PhotoReading, lamp: PhotoReading) -> float | None:
    """Return the logarithm of how many times worse two photographs go together as named; None where nothing tells it.

    Parameters
    ----------
    day, lamp : PhotoReading
        Of one camera, each read for the light it is named for.

    Notes
    -----
    Nothing tells it where no chart says what the camera makes of the wavelengths (`why_no_look`).
    """
    if day.light not in DAYLIGHTS or lamp.light not in LAMPS:
        return None
    if any(one.why_not or why_no_look(one) for one in (day, lamp)):
        return None
    assert day.fit is not None
    assert lamp.fit is not None
    assert day.fit.paints is not None
    assert lamp.fit.paints is not None
    more = _more_of(lamp.light, day.light)
    one, other = day.fit.paints.camera.response, lamp.fit.paints.camera.response
    return float(np.log(_misses(one, other, more) / max(_misses(other, one, more), 1e-9)))


@cache
def _more_of(lamp: str, day: str) -> Floats:
    """Return what a lamp has of each wavelength over what daylight has, shape (31,), by their weights of the eye."""
    found = [np.maximum(weights(light, _OBSERVER).sum(axis=1), 0.0) for light in (lamp, day)]
    return np.asarray(found[0] / np.maximum(found[1], 1e-3 * found[1].max()))


def _misses(day: Floats, lamp: Floats, more: Floats) -> float:
    """Return how far what a camera would see of paints under a lamp, by daylight's picture, is off from what it saw.

    Parameters
    ----------
    day, lamp : ndarray, shape (31, 3)
        What the camera makes of each wavelength, by the two pictures.
    more : ndarray, shape (31,)

    Returns
    -------
    float
        Root mean square, relative, once balance and matrix are what brings the two nearest.
    """
    spectra = paint_spectra()[:_SPECTRA]
    seen, expected = spectra @ lamp, spectra @ (more[:, None] * day)
    by = 1 / np.maximum(seen.mean(axis=1, keepdims=True), _DARK)
    matrix = np.linalg.lstsq(expected * by, seen * by, rcond=None)[0]
    return float(np.sqrt(np.mean(((seen - expected @ matrix) * by) ** 2)))
