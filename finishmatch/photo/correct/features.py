"""Root-polynomial terms of camera values: they scale with the exposure, as plain polynomials don't."""

from __future__ import annotations

import numpy as np

from finishmatch.colour import Floats

DEGREES = (1, 2, 3)
_LEAST = 1e-5  # of full scale: roots have no slope at 0


def terms(rgb: Floats, degree: int) -> Floats:
    """Return the terms of linear camera values.

    Parameters
    ----------
    rgb : ndarray, shape (..., 3)
        Linear, 1 at full scale.
    degree : int
        1: the values; 2 and 3: with the square roots and cube roots of their products.

    Returns
    -------
    ndarray, shape (..., 3), (..., 6) or (..., 13)

    References
    ----------
    Finlayson, Mackiewicz and Hurlbert, IEEE Trans. Image Process. 24 (2015) 1460-1470.
    """
    r, g, b = np.moveaxis(np.maximum(rgb, _LEAST), -1, 0)
    found = [rgb[..., 0], rgb[..., 1], rgb[..., 2]]
    if degree >= 2:
        found += [np.sqrt(r * g), np.sqrt(g * b), np.sqrt(r * b)]
    if degree >= 3:
        found += [
            np.cbrt(product)
            for product in (r * g * g, r * b * b, g * r * r, g * b * b, b * r * r, b * g * g, r * g * b)
        ]
    return np.stack(found, axis=-1)
