"""Spectra combined as spectra: the mean of the samples' own, turned as little as can be to the consensus colour."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from finishmatch.colour import Floats, reflectance_to_lab, reflectance_to_lab_slope

STEPS = 12
HIGHEST = 1.2


@dataclass(frozen=True)
class TargetSpectrum:
    """Reflectance, shape (31,), its spread between samples as a standard deviation or None, and who it rests on."""

    reflectance: Floats
    sd: Floats | None
    names: tuple[str, ...]


def turned_to(reflectance: Floats, lab: Floats, light: str, observer: int) -> Floats:
    """Return a spectrum with another colour, changed by the smoothest factor that does it.

    Parameters
    ----------
    reflectance : ndarray, shape (31,)
    lab : ndarray, shape (3,)
        What it is to have under that light and observer.

    Returns
    -------
    ndarray, shape (31,)
        The factor's logarithm has the least curvature; for small changes of colour it is near 1 everywhere.
    """
    bands = len(reflectance)
    bend = np.diff(np.eye(bands), n=2, axis=0)
    inverse = np.linalg.inv(bend.T @ bend + 1e-3 * np.eye(bands))
    found = np.maximum(np.asarray(reflectance, dtype=float), 1e-4)
    for _ in range(STEPS):
        lacking = lab - reflectance_to_lab(found, light, observer)
        if np.abs(lacking).max() < 1e-9:
            break
        slope = reflectance_to_lab_slope(found, light, observer) * found
        change = inverse @ slope.T @ np.linalg.solve(slope @ inverse @ slope.T + 1e-9 * np.eye(3), lacking)
        found = np.clip(found * np.exp(np.clip(change, -0.5, 0.5)), 0.0, HIGHEST)
    turned: Floats = found
    return turned


def combine_spectra(
    names: Sequence[str], spectra: Sequence[Floats | None], labs: Floats, weights: Floats, lab: Floats,
    light: str, observer: int,
) -> TargetSpectrum | None:  # fmt: skip
    """Return the target's spectrum, or None when no sample has one.

    Parameters
    ----------
    names : sequence of str
    spectra : sequence of ndarray of shape (31,) or None
        As read.
    labs : ndarray, shape (n, 3)
        The samples with the shifts of their kinds taken off.
    weights : ndarray, shape (n,)
        What each counts for.
    lab : ndarray, shape (3,)
        The consensus.
    """
    known = [i for i, spectrum in enumerate(spectra) if spectrum is not None and weights[i] > 0]
    if not known:
        return None
    share = weights[known] / weights[known].sum()
    as_it_was = np.array([turned_to(np.asarray(spectra[i]), labs[i], light, observer) for i in known])
    mean = share @ as_it_was
    free = 1 - float((share**2).sum())
    sd = np.sqrt(share @ (as_it_was - mean) ** 2 / free) if len(known) > 1 and free > 1e-6 else None
    return TargetSpectrum(turned_to(mean, lab, light, observer), sd, tuple(names[i] for i in known))
