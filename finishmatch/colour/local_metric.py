"""CIEDE2000 as the length of a vector, so that least squares can make it small."""

from __future__ import annotations

import numpy as np

from finishmatch.colour import Floats, de00_parts


def de00_vectors(standard: Floats, trial: Floats) -> Floats:
    """Return differences as vectors whose length is ΔE00.

    Parameters
    ----------
    standard, trial : ndarray, shape (..., 3)
        CIELAB.

    Returns
    -------
    ndarray, shape (..., 3)
        Lightness, chroma turned by the rotation term, and hue: l² + c² + h² + r·c·h = l² + (c + r·h/2)² + (1 - r²/4)h².
    """
    lightness, chroma, hue, rotation = de00_parts(standard, trial)
    return np.stack(
        [lightness, chroma + rotation * hue / 2, np.sqrt(np.maximum(1 - rotation**2 / 4, 0)) * hue], axis=-1
    )
