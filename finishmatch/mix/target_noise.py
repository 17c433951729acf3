"""How much of a target's reading is noise, by how near a mixture comes to it."""

from __future__ import annotations

from functools import cache

import numpy as np

from finishmatch.colour import WAVELENGTHS_NM, Floats
from finishmatch.colour.grid import SIZE
from finishmatch.evidence.target import ColourTarget
from finishmatch.optics import TintOptics, strength_slope

# what one paint reflects beside another is alike over so many nm («common practice»: absorption bands of pigments are
# some tens of nm wide and more)
_ALIKE_NM = 40.0
# of the reflectance, one standard deviation: what a target may be beside a mixture, from nothing to another paint
_BESIDE = np.geomspace(1e-4, 0.1, 13)
_AMOUNT_SD = 1.0  # of the logarithm of a part: that the mixture is another one is as good as free
_LEAST_NOISE = 1e-6  # of the reflectance at each wavelength: no spectrum is read nearer
_ROUNDED = 1e-14


@cache
def _alike() -> Floats:
    """Return how alike wavelengths are in what a target is beside a mixture, shape (31, 31)."""
    apart = np.subtract.outer(WAVELENGTHS_NM, WAVELENGTHS_NM)
    found: Floats = np.exp(-0.5 * (apart / _ALIKE_NM) ** 2)
    found.setflags(write=False)
    return found


def noise_left(
    target: ColourTarget, optics: TintOptics, grams: Floats, offset: Floats | None = None
) -> tuple[Floats, Floats]:
    """Return what a target was read off by, shape (31,), and a root of the covariance that is left of it, (31, 31).

    Parameters
    ----------
    target : ColourTarget
        With a spectrum.
    optics : TintOptics
        Of the k tints of a mixture that comes near it.
    grams : ndarray, shape (k,)
    offset : ndarray, shape (31,), or None
        Added to the predicted reflectance of the mixture.

    Notes
    -----
    The target is taken for a mixture of the same tints in other amounts and something beside it that is smooth in
    wavelength (a Gaussian process; Rasmussen and Williams 2006, chapter 2); noise isn't smooth. How large that
    something is the reading itself tells (its marginal likelihood, over sizes that are alike in the logarithm). A
    target that no mixture comes near keeps nearly all of its reading.
    """
    assert target.reflectance is not None
    reading, slopes = strength_slope(grams * optics.dry_ml_per_g, optics)
    off = target.reflectance - reading - (0.0 if offset is None else offset)
    noise = _noise(target)
    # in the axes in which noise and free amounts are 1 and what is beside them is diagonal, each size is one division
    root = np.linalg.cholesky(noise + _AMOUNT_SD**2 * slopes.T @ slopes)
    whitened = np.linalg.solve(root, np.column_stack([_alike(), off, noise]))
    beside, axes = np.linalg.eigh(_even(np.linalg.solve(root, whitened[:, :SIZE].T)))
    beside = np.maximum(beside, 0.0)
    along, of_noise = axes.T @ whitened[:, SIZE], axes.T @ whitened[:, SIZE + 1 :]
    whole = 1 + np.outer(_BESIDE**2, beside)
    evidence = -0.5 * (along**2 / whole + np.log(whole)).sum(axis=1)
    weights = np.exp(evidence - evidence.max())
    gain = of_noise.T / (1 + beside * float(weights @ _BESIDE**2 / weights.sum()))
    left = _even(noise - gain @ of_noise)
    shift: Floats = gain @ along
    return shift, np.asarray(np.linalg.cholesky(left + _ROUNDED * np.eye(SIZE)), dtype=np.float64)


def _noise(target: ColourTarget) -> Floats:
    """Return the covariance of what a target's reading is off by, shape (31, 31)."""
    noise = max(target.reading_sd, _LEAST_NOISE) ** 2 * np.eye(SIZE) + target.place_sd**2
    if target.conversion_sd is not None:
        noise = noise + np.outer(target.conversion_sd, target.conversion_sd)
    return np.asarray(noise, dtype=np.float64)


def _even(matrix: Floats) -> Floats:
    return (matrix + matrix.T) / 2
