"""CIELAB, its polar form, and its derivatives with respect to tristimulus values and to a spectrum."""

from __future__ import annotations

import numpy as np

from finishmatch.colour.grid import Floats
from finishmatch.colour.tristimulus import reflectance_to_xyz, weights, white_point

_DELTA = 6 / 29  # ISO/CIE 11664-4


def _f(ratio: Floats) -> Floats:
    linear = ratio / (3 * _DELTA**2) + 4 / 29
    return np.where(ratio > _DELTA**3, np.cbrt(ratio), linear)


def _f_slope(ratio: Floats) -> Floats:
    root = np.cbrt(np.maximum(ratio, _DELTA**3))
    return np.where(ratio > _DELTA**3, 1 / (3 * root**2), 1 / (3 * _DELTA**2))


def xyz_to_lab(xyz: Floats, white: Floats) -> Floats:
    """Return CIELAB of tristimulus values.

    Parameters
    ----------
    xyz : array_like, shape (..., 3)
    white : array_like, shape (3,)
        XYZ of the perfect diffuser, on the scale of `xyz`.

    Returns
    -------
    ndarray, shape (..., 3)
        L*, a*, b*.

    References
    ----------
    ISO/CIE 11664-4.
    """
    f = _f(np.asarray(xyz, dtype=float) / np.asarray(white, dtype=float))
    fx, fy, fz = f[..., 0], f[..., 1], f[..., 2]
    lab = np.empty(f.shape)
    lab[..., 0] = 116 * fy - 16
    lab[..., 1] = 500 * (fx - fy)
    lab[..., 2] = 200 * (fy - fz)
    return lab


def xyz_to_lab_slope(xyz: Floats, white: Floats) -> Floats:
    """Return the derivative of L*, a*, b* with respect to X, Y, Z, shape (..., 3, 3), at values of shape (..., 3)."""
    white = np.asarray(white, dtype=float)
    by_ratio = _f_slope(np.asarray(xyz, dtype=float) / white) / white
    x, y, z = by_ratio[..., 0], by_ratio[..., 1], by_ratio[..., 2]
    slope = np.zeros((*x.shape, 3, 3))
    slope[..., 0, 1] = 116 * y
    slope[..., 1, 0], slope[..., 1, 1] = 500 * x, -500 * y
    slope[..., 2, 1], slope[..., 2, 2] = 200 * y, -200 * z
    return slope


def lab_to_xyz(lab: Floats, white: Floats) -> Floats:
    """Return tristimulus values of CIELAB colours, shape (..., 3); the inverse of `xyz_to_lab`."""
    lab = np.asarray(lab, dtype=float)
    fy = (lab[..., 0] + 16) / 116
    f = np.stack([fy + lab[..., 1] / 500, fy, fy - lab[..., 2] / 200], axis=-1)
    ratio = np.where(f > _DELTA, f**3, 3 * _DELTA**2 * (f - 4 / 29))
    xyz: Floats = ratio * np.asarray(white, dtype=float)
    return xyz


def reflectance_to_lab(reflectance: Floats, light: str = "D65", observer: int = 10) -> Floats:
    """Return CIELAB, shape (..., 3), of reflectance factors, shape (..., 31)."""
    return xyz_to_lab(reflectance_to_xyz(reflectance, light, observer), white_point(light, observer))


def reflectance_to_lab_slope(reflectance: Floats, light: str = "D65", observer: int = 10) -> Floats:
    """Return the derivative of L*, a*, b* with respect to each reflectance value, shape (..., 3, 31)."""
    table, white = weights(light, observer), white_point(light, observer)
    slope = _f_slope(np.asarray(reflectance, dtype=float) @ table / white) / white  # (..., 3) per X, Y, Z
    x, y, z = (slope[..., i, None] * table[:, i] for i in range(3))
    return np.stack([116 * y, 500 * (x - y), 200 * (y - z)], axis=-2)


def lab_to_lch(lab: Floats) -> Floats:
    """Return L*, C*ab and the hue angle h_ab in degrees 0 to 360, shape (..., 3)."""
    lab = np.asarray(lab, dtype=float)
    chroma = np.hypot(lab[..., 1], lab[..., 2])
    hue = np.degrees(np.arctan2(lab[..., 2], lab[..., 1])) % 360
    return np.stack([lab[..., 0], chroma, hue], axis=-1)
