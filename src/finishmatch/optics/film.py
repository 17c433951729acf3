"""Kubelka-Munk: the reflectance of a hiding film from its K/S and back."""

from __future__ import annotations

import numpy as np

from finishmatch.colour import Floats

SMALLEST_REFLECTANCE = 1e-4  # of a film within its surface; keeps K/S finite for the blackest reading


def hiding_reflectance(k_over_s: Floats) -> Floats:
    """Return the internal reflectance of a film that hides, from K/S.

    Parameters
    ----------
    k_over_s : array_like, any shape
        Absorption over scattering, 0 or more.

    Returns
    -------
    ndarray, the same shape

    References
    ----------
    Kubelka and Munk 1931: R = 1 + q - sqrt(q² + 2q), written as 1 / (1 + q + sqrt(q² + 2q)), which keeps its digits
    for large q.
    """
    q = np.asarray(k_over_s, dtype=float)
    r: Floats = 1 / (1 + q + np.sqrt(q * (q + 2)))
    return r


def k_over_s(internal: Floats) -> Floats:
    """Return K/S of a hiding film from its internal reflectance (clipped to 1e-4 … 1), (1 - R)² / 2R."""
    r = np.clip(np.asarray(internal, dtype=float), SMALLEST_REFLECTANCE, 1.0)
    q: Floats = (1 - r) ** 2 / (2 * r)
    return q


def hiding_reflectance_slope(k_over_s: Floats) -> Floats:
    """Return dR/d(K/S) of a hiding film, which is negative: -R / sqrt(q² + 2q)."""
    q = np.maximum(np.asarray(k_over_s, dtype=float), 1e-12)
    slope: Floats = -hiding_reflectance(q) / np.sqrt(q * (q + 2))
    return slope
