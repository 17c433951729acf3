"""Spectra bent smoothly over wavelength until an eye or a camera makes of them what is wanted."""

from __future__ import annotations

import numpy as np

from finishmatch.colour.grid import Floats

_ROUNDS, _MOST = 8, 12.0
_DARKEST, _LIGHTEST = 0.005, 0.995


def logits(spectra: Floats) -> Floats:
    """Return ln R/(1 - R) of reflectances, bounded so that it is finite."""
    base = np.clip(spectra, _DARKEST, _LIGHTEST)
    return np.asarray(np.log(base / (1 - base)))


def bent_to(bent: Floats, sensitivity: Floats, goal: Floats, bands: Floats | None = None) -> tuple[Floats, Floats]:
    """Return spectra bent until they have given responses, and by what each misses them.

    Parameters
    ----------
    bent : ndarray, shape (n, 31)
        ln R/(1 - R) of what they are bent from.
    sensitivity : ndarray, shape (31, 3)
        Of what sees them: tristimulus weights, or what a camera makes of each wavelength.
    goal : ndarray, shape (n, 3) or (3,)
        Responses wanted.
    bands : ndarray, shape (3, 31), or None
        Along which they are bent; None is along the sensitivity.

    Returns
    -------
    reflectance : ndarray, shape (n, 31)
    misses : ndarray, shape (n,)
        The largest of the three, absolute.
    """
    along = (sensitivity / sensitivity.max(axis=0)).T if bands is None else bands
    for _ in range(_ROUNDS):
        read = 1 / (1 + np.exp(-bent))
        slope = np.einsum("nl,lk,jl->nkj", read * (1 - read), sensitivity, along) + 1e-9 * np.eye(3)
        step = np.linalg.solve(slope, (read @ sensitivity - goal)[..., None])[..., 0]
        bent = np.clip(bent - np.clip(step, -1, 1) @ along, -_MOST, _MOST)
    read = 1 / (1 + np.exp(-bent))
    return read, np.abs(read @ sensitivity - goal).max(axis=1)
