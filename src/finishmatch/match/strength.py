"""What a spray-out tells of the tins it was mixed from: their strength today against the bank's."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from finishmatch.colour import Floats, reflectance_to_lab, reflectance_to_lab_slope
from finishmatch.optics import TintOptics, mixture_slope
from finishmatch.readings import Reading

PRIOR_SD = 0.05  # of the logarithm of a tin's strength: tins differ by about a twentieth («common practice»)
# what readings and the film model leave, one standard deviation: a floor and a share of the reflectance
READING_SD = (0.0008, 0.004)
LAB_SD = 0.15


@dataclass(frozen=True)
class Strengths:
    """Strengths of the tints of a batch after a spray-out.

    Parameters
    ----------
    factors : ndarray, shape (n,)
        1 is as characterised.
    covariance : ndarray, shape (n, n)
        Of the logarithms of the factors.
    """

    factors: Floats
    covariance: Floats


def update_strengths(optics: TintOptics, grams: Floats, sprayed: Reading, prior_sd: float = PRIOR_SD) -> Strengths:
    """Return the most likely strengths given what was poured and what was read.

    Parameters
    ----------
    optics : TintOptics
        Of the tints of the batch.
    grams : ndarray, shape (n,)
        As poured.
    sprayed : Reading
        Of the spray-out, hiding; a spectrum tells more than CIELAB.
    prior_sd : float
        Standard deviation of the logarithm of a strength before anything was sprayed.

    Returns
    -------
    Strengths

    Notes
    -----
    Log-normal prior around 1 and normal errors of the reading: the mode by Gauss-Newton, the covariance from its
    curvature. Scaling all strengths together doesn't change a film that hides; the prior holds that direction.
    """
    amounts = grams * optics.dry_ml_per_g
    log = np.zeros(len(grams))
    precision = np.eye(len(grams)) / prior_sd**2
    for _ in range(20):
        factor = np.exp(log)
        # a strength scales K and S of its tint, as its amount does
        r, slope = mixture_slope(amounts * factor, optics.K, optics.S, optics.surface, optics.backing)
        per_log = slope * (amounts * factor)[:, None]  # (n, 31)
        if sprayed.reflectance is not None:
            sd = READING_SD[0] + READING_SD[1] * sprayed.reflectance
            out, jacobian = (r - sprayed.reflectance) / sd, (per_log / sd).T
        else:
            out = (reflectance_to_lab(r, sprayed.light, sprayed.observer) - np.asarray(sprayed.lab)) / LAB_SD
            jacobian = reflectance_to_lab_slope(r, sprayed.light, sprayed.observer) @ per_log.T / LAB_SD
        curvature = jacobian.T @ jacobian + precision
        step = -np.linalg.solve(curvature, jacobian.T @ out + precision @ log)
        log = log + np.clip(step, -0.3, 0.3)
        if np.abs(step).max() < 1e-9:
            break
    covariance = np.asarray(np.linalg.inv(curvature), dtype=np.float64)
    return Strengths(np.exp(log), covariance)
