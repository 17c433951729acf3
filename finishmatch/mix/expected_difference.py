"""What a poured and sprayed recipe may really differ by: bank, strength of today's tins, and weighing together."""

from __future__ import annotations

from functools import cache

import numpy as np

from finishmatch.colour import Floats
from finishmatch.colour.grid import SIZE
from finishmatch.evidence.target import ColourTarget
from finishmatch.mix.weighing import POUR_SD_STEPS
from finishmatch.optics import TintOptics, mixture_reflectance
from finishmatch.optics.strength import PRIOR_SD

CARD_DRAWS = 384


@cache
def _standard(parts: int) -> tuple[Floats, Floats]:
    """Return draws that are the same every time, for strengths and for pours, each of shape (CARD_DRAWS, parts)."""
    r = np.random.default_rng(31)
    draws = r.standard_normal((CARD_DRAWS, parts)), r.standard_normal((CARD_DRAWS, parts))
    for each in draws:
        each.setflags(write=False)
    return draws


@cache
def _noise() -> Floats:
    """Return draws of reading noise, shape (CARD_DRAWS, 31), that are the same every time."""
    draws = np.random.default_rng(32).standard_normal((CARD_DRAWS, SIZE))
    draws.setflags(write=False)
    return draws


@cache
def _shifts() -> Floats:
    """Return draws, shape (CARD_DRAWS,), of what is off at all wavelengths together, the same every time."""
    draws = np.random.default_rng(33).standard_normal(CARD_DRAWS)
    draws.setflags(write=False)
    return draws


def drawn_differences(
    target: ColourTarget,
    optics: TintOptics,
    grams: Floats,
    step_g: float,
    log_covariance: Floats | None = None,
    offset: Floats | None = None,
    reading_sd: float = 0.0,
) -> Floats:
    """Return draws of the difference a recipe will show, ΔE00, shape (draws, lights).

    Parameters
    ----------
    target : ColourTarget
    optics : TintOptics
        Of the k tints, with their strengths as believed.
    grams : ndarray, shape (k,)
        As meant to be poured.
    step_g : float
        Of the scale; a pour is off by one step (SD).
    log_covariance : ndarray, shape (k, k), or None
        Of the logarithms of the strengths; None is a tin nothing was sprayed of: SD 0.05 each.
    offset : ndarray, shape (31,), or None
        Added to every predicted reflectance.
    reading_sd : float
        Of further readings that the difference rests on; the target's own noise is always counted.
    """
    k = len(grams)
    strengths, pours = _standard(k)
    root = np.eye(k) * PRIOR_SD if log_covariance is None else np.linalg.cholesky(log_covariance + 1e-12 * np.eye(k))
    amounts = np.maximum(grams + POUR_SD_STEPS * step_g * pours, 0) * optics.dry_ml_per_g
    factor = np.exp(strengths @ root.T)[:, :, None]
    if optics.draws is None:
        K, S = optics.K * factor, optics.S * factor
    else:
        which = np.arange(CARD_DRAWS) % len(optics.draws)
        K, S = optics.draws[which, 0] * factor, optics.draws[which, 1] * factor
    reading = mixture_reflectance(amounts, K, S, optics.surface, optics.backing)
    noise = np.hypot(target.reading_sd, reading_sd) * _noise()
    if target.conversion_sd is not None:
        noise = noise + _shifts()[:, None] * target.conversion_sd
    return target.differences(reading + noise if offset is None else reading + offset + noise)


def intervals(target: ColourTarget, drawn: Floats) -> dict[str, tuple[float, float]]:
    """Return the range that holds the difference in each light 95 times in 100."""
    low, high = np.percentile(drawn, [2.5, 97.5], axis=0)
    return {light: (float(a), float(b)) for light, a, b in zip(target.lights, low, high, strict=True)}
