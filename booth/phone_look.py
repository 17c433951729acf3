"""What a phone does to a picture before it writes it: more colour than there is, and more contrast where things meet.

No phone's maker says how it works; the forms here are the plain ones of the trade («common practice»). They are mild: a
plain camera leaves 2 to 4 in 100 of the chart's patches by them, and 6.5 and more of real charts (docs/accuracy.md).
"""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

LUMINANCE = (0.2126, 0.7152, 0.0722)  # of linear sRGB: ITU-R BT.709
REACH = (1 / 60, 1 / 15)  # of the picture's width, near by and far


@dataclass(frozen=True)
class PhoneLook:
    """How much of it.

    Parameters
    ----------
    saturation : float
        By which colours lie further from grey; 1 leaves them.
    contrast : float
        By how much of what sets a place apart from its surroundings it is set further apart.
    reach : tuple of float
        Over what, of the picture's width.
    """

    saturation: float = 1.0
    contrast: float = 0.0
    reach: tuple[float, ...] = REACH

    def of(self, linear: NDArray[np.float32]) -> NDArray[np.float32]:
        """Return linear values as this phone has them, 0 to 1, shape (h, w, 3)."""
        if self.saturation != 1:
            grey = cv2.transform(linear, np.array([LUMINANCE] * 3, np.float32))
            linear = np.clip(grey + (linear - grey) * np.float32(self.saturation), 0, 1)
        if self.contrast:
            seen = np.sqrt(np.maximum(linear, 0))
            light = seen.mean(axis=2)
            for reach in self.reach:
                around = cv2.GaussianBlur(light, (0, 0), reach * light.shape[1])
                seen += np.float32(self.contrast / len(self.reach)) * (light - around)[..., None]
            linear = np.clip(seen, 0, 1) ** 2
        return np.asarray(linear, np.float32)


PLAIN = PhoneLook()
