"""The values of a sensor become red, green and blue in every place, linear; what it couldn't count any more stays full.

Nothing is balanced, sharpened or smoothed. Between places of a colour the mean of its neighbours is taken: what is read
is an even spot, whose mean no way of guessing at edges may change.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence

import cv2
import numpy as np
from numpy.typing import NDArray

from finishmatch.photo.open.gain_map import GainMap

Values = NDArray[np.uint16]
Rows = NDArray[np.float32]
FULL = 65535  # of a place the sensor could count no more in
_COUNTED = 65534.0
_STRIP = 64  # rows at a time; even, so that the pattern of a mosaic begins anew with each
_CODES = {
    (0, 1, 1, 2): cv2.COLOR_BayerRGGB2RGB,
    (2, 1, 1, 0): cv2.COLOR_BayerBGGR2RGB,
    (1, 0, 2, 1): cv2.COLOR_BayerGRBG2RGB,
    (1, 2, 0, 1): cv2.COLOR_BayerGBRG2RGB,
}
_NEAR = np.ones((3, 3), np.uint8)


def from_mosaic(
    mosaic: Values, pattern: Sequence[Sequence[int]], black: Sequence[Sequence[float]], white: float,
    gains: Sequence[GainMap] = (),
) -> Values:  # fmt: skip
    """Return the colours of a mosaic, shape (height, width, 3), `FULL` where a neighbour of the colour was full.

    Parameters
    ----------
    mosaic : ndarray of uint16, shape (height, width)
        What the sensor counted.
    pattern : 2 by 2 of int
        The colour of the first places: 0 red, 1 or 3 green, 2 blue.
    black : 2 by 2 of float
        What is counted without light, at the same places.
    white : float
        From where on nothing more can be counted.
    gains : sequence of GainMap

    Raises
    ------
    ValueError
        A pattern of other colours, levels that make no sense.
    """
    kind = tuple(1 if one == 3 else one for row in pattern for one in row)
    if kind not in _CODES:
        raise ValueError("its pattern of colours isn't known")
    height, width = mosaic.shape
    level = np.array(black, np.float32)
    site = np.array(kind).reshape(2, 2)
    tile = (_STRIP // 2 + 2, width // 2 + 1)
    blacks, sites = np.tile(level, tile)[:, :width], np.tile(site, tile)[:, :width]
    counted = _counted(mosaic, blacks, _span(level, white), gains)
    scale = _fitting(mosaic, white, counted, bool(gains))
    values: Values = np.empty((height, width, 3), np.uint16)
    for top in range(0, height, _STRIP):
        # two rows more on each side, where there are, so that a strip has all neighbours of its own
        first, end = max(0, top - 2), min(height, top + _STRIP + 2)
        raw = mosaic[first:end]
        rows = np.rint(np.clip(counted(first, end) * scale, 0, _COUNTED)).astype(np.uint16)
        colours = cv2.cvtColor(rows, _CODES[kind])
        full = raw >= white
        if full.any():
            for colour in range(3):
                there = (full & (sites[: len(raw)] == colour)).astype(np.uint8)
                colours[..., colour][cv2.dilate(there, _NEAR) > 0] = FULL
        values[top : min(height, top + _STRIP)] = colours[top - first : top - first + _STRIP]
    return values


def from_colours(colours: Values, black: Sequence[float], white: float, gains: Sequence[GainMap] = ()) -> Values:
    """Return the values of a file that holds three colours in every place, scaled as `from_mosaic` scales them.

    Parameters
    ----------
    colours : ndarray of uint16, shape (height, width, 3)
    black : sequence of float
        What is counted without light, of each colour.
    white : float
    gains : sequence of GainMap

    Raises
    ------
    ValueError
        Levels that make no sense.
    """
    level = np.array(black, np.float32)
    counted = _counted(colours, np.broadcast_to(level, (_STRIP, colours.shape[1], 3)), _span(level, white), gains)
    scale = _fitting(colours, white, counted, bool(gains))
    values: Values = np.empty(colours.shape, np.uint16)
    for top in range(0, len(colours), _STRIP):
        end = min(len(colours), top + _STRIP)
        rows = np.rint(np.clip(counted(top, end) * scale, 0, _COUNTED)).astype(np.uint16)
        values[top:end] = np.where(colours[top:end] >= white, FULL, rows)
    return values


def _span(level: NDArray[np.float32], white: float) -> float:
    """Return how far it is from black to white."""
    span = float(white - level.max())
    if not (np.isfinite(level).all() and (level >= 0).all() and span >= 8):
        raise ValueError("its black and white make no sense")
    return span


def _counted(
    raw: Values, blacks: NDArray[np.float32], span: float, gains: Sequence[GainMap]
) -> Callable[[int, int], Rows]:
    """Return what gives some rows less black, 0 to `_COUNTED` before the gains, which are multiplied in."""
    size = (raw.shape[0], raw.shape[1])

    def counted(first: int, end: int) -> Rows:
        rows: Rows = (raw[first:end] - blacks[: end - first]) * np.float32(_COUNTED / span)
        for one in gains:
            one.multiply(rows, first, size)
        return rows

    return counted


def _fitting(raw: Values, white: float, counted: Callable[[int, int], Rows], gained: bool) -> np.float32:
    """Return by what values are multiplied so that the gains push none beyond what can be written."""
    if not gained:
        return np.float32(1)
    most = _COUNTED
    for top in range(0, len(raw), _STRIP):
        end = min(len(raw), top + _STRIP)
        most = max(most, float(np.where(raw[top:end] >= white, 0, counted(top, end)).max()))
    return np.float32(_COUNTED / most)
