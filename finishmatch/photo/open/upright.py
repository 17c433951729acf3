"""A picture is turned the way the camera was held."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

Pixels = NDArray[np.uint8] | NDArray[np.uint16]
STRIP = 64  # rows laid into place at a time: what stays in the processor's own memory is moved quickly


def upright(rows: Callable[[int, int], Pixels], shape: tuple[int, ...], orientation: int) -> Pixels:
    """Return values turned as EXIF's orientation 1 to 8 has it (CIPA DC-008), strip by strip.

    Parameters
    ----------
    rows : callable
        Gives the rows of the file from the first to before the second number.
    shape : tuple of int
        What they are in all.
    orientation : int
    """
    height, width = shape[:2]
    lies = orientation in (5, 6, 7, 8)
    flip = {2: 1, 3: -1, 4: 0, 6: 1, 7: -1, 8: 0}.get(orientation)
    values: NDArray[Any] = np.empty((0, 0, 3), np.uint8)
    for top in range(0, height, STRIP):
        end = min(top + STRIP, height)
        strip: NDArray[Any] = rows(top, end)
        if lies:
            strip = cv2.transpose(strip)
        if flip is not None:
            strip = cv2.flip(strip, flip)
        if not values.size:
            values = np.empty((width, height, 3) if lies else (height, width, 3), strip.dtype)
        at = slice(height - end, height - top) if orientation in (3, 4, 6, 7) else slice(top, end)
        values[(slice(None), at) if lies else at] = strip
    return values
