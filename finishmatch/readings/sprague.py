"""Bring a spectrum of another step or range onto the house grid."""

from __future__ import annotations

import numpy as np

from finishmatch.colour import WAVELENGTHS_NM, Floats
from finishmatch.errors import InputError

STEPS_NM = (5.0, 10.0, 20.0)
FINEST_NM = 2.0  # and any even step from this to 5 nm, as instruments of high resolution write

# CIE 167:2005, table V: the two points added at each end, from the six nearest, over 209
_ENDS = np.array([[884, -1960, 3033, -2648, 1080, -180], [508, -540, 488, -367, 144, -24]]) / 209


def _padded(values: Floats) -> Floats:
    head = values[..., :6] @ _ENDS.T
    tail = values[..., :-7:-1] @ _ENDS.T
    return np.concatenate([head, values, tail[..., ::-1]], axis=-1)


def sprague(values: Floats, start_nm: float, step_nm: float, at_nm: Floats) -> Floats:
    """Interpolate uniformly spaced values by Sprague's fifth-order polynomial.

    Parameters
    ----------
    values : ndarray, shape (..., n)
        Values at start_nm, start_nm + step_nm, …; n at least 6.
    start_nm, step_nm : float
    at_nm : ndarray, shape (m,)
        Wavelengths wanted, within the range of the values.

    Returns
    -------
    ndarray, shape (..., m)

    References
    ----------
    CIE 167:2005 (Sprague 1880); passes through the given values.
    """
    p = _padded(np.asarray(values, dtype=float))
    position = (np.asarray(at_nm, dtype=float) - start_nm) / step_nm
    left = np.clip(np.floor(position + 1e-9).astype(int), 0, values.shape[-1] - 2)
    x = position - left
    r = [p[..., left + k] for k in range(6)]  # r[2] is the value at or left of the point
    a1 = (2 * r[0] - 16 * r[1] + 16 * r[3] - 2 * r[4]) / 24
    a2 = (-r[0] + 16 * r[1] - 30 * r[2] + 16 * r[3] - r[4]) / 24
    a3 = (-9 * r[0] + 39 * r[1] - 70 * r[2] + 66 * r[3] - 33 * r[4] + 7 * r[5]) / 24
    a4 = (13 * r[0] - 64 * r[1] + 126 * r[2] - 124 * r[3] + 61 * r[4] - 12 * r[5]) / 24
    a5 = (-5 * r[0] + 25 * r[1] - 50 * r[2] + 50 * r[3] - 25 * r[4] + 5 * r[5]) / 24
    result: Floats = r[2] + x * (a1 + x * (a2 + x * (a3 + x * (a4 + x * a5))))
    return result


def to_house_grid(wavelengths_nm: Floats, values: Floats, where: str) -> Floats:
    """Bring spectra onto 400 to 700 nm by 10 nm; wider ranges are cut.

    Parameters
    ----------
    wavelengths_nm : ndarray, shape (n,)
        Rising, in even steps of 5, 10 or 20 nm, or finer.
    values : ndarray, shape (..., n)
    where : str
        The file and line named when the wavelengths can't serve.

    Returns
    -------
    ndarray, shape (..., 31)

    Raises
    ------
    InputError
        When the step is uneven or none of these, or 400 to 700 nm isn't covered.
    """
    nm = np.asarray(wavelengths_nm, dtype=float)
    steps = np.diff(nm)
    if nm.size < 6:
        raise InputError(where, f"only {nm.size} wavelength columns", "give 400 to 700 nm in steps of 5, 10 or 20")
    serves = np.isclose(steps[:, None], STEPS_NM).any(axis=1) | ((steps >= FINEST_NM) & (steps < STEPS_NM[0]))
    if not np.allclose(steps, steps[0]) or not serves[0]:
        odd = int(np.argmax(~serves | ~np.isclose(steps, steps[0])))
        raise InputError(
            where,
            f"the wavelengths go from {nm[odd]:g} to {nm[odd + 1]:g} nm",
            "rising, even steps of 5, 10 or 20 nm are read",
        )
    if nm[0] > WAVELENGTHS_NM[0] or nm[-1] < WAVELENGTHS_NM[-1]:
        raise InputError(where, f"the wavelengths cover {nm[0]:g} to {nm[-1]:g} nm", "400 to 700 nm is needed")
    spots = (WAVELENGTHS_NM - nm[0]) / steps[0]
    if np.allclose(spots, np.rint(spots)):
        return np.ascontiguousarray(values[..., np.rint(spots).astype(int)])
    return sprague(values, float(nm[0]), float(steps[0]), WAVELENGTHS_NM)
