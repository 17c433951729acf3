"""Where the fit of a bank starts: K by linear least squares on the hiding panels, then the scale per µm."""

from __future__ import annotations

import numpy as np

from finishmatch.colour import Floats
from finishmatch.optics.beam import hiding_k_over_s, hiding_reading_slope
from finishmatch.optics.nonnegative import nonnegative_least_squares
from finishmatch.optics.panel_model import amount_factors, panel_readings
from finishmatch.optics.panel_set import PanelSet
from finishmatch.optics.priors import Beliefs
from finishmatch.optics.surface import Surface
from finishmatch.optics.unknowns import State

_LEAST_SHARE = 1e-3  # of the largest K of a tint, below which a start value isn't put
_SCALES_PER_UM = np.geomspace(3e-4, 3.0, 45)


def start_state(panels: PanelSet, surface: Surface, beliefs: Beliefs) -> State:
    """Return a state to start from: S as believed before, K by the hiding panels, a scale by the films."""
    n, size = panels.fractions.shape[1], panels.readings.shape[1]
    level = np.full(n, beliefs.s_mean)
    level[panels.anchor] = 0.0
    K = np.full((n, size), 0.3)
    shown = panels.fractions[panels.hiding]
    if shown.size:
        known = (shown > 0).any(axis=0)
        K[known] = _absorption(shown[:, known], np.exp(level[known]), panels.readings[panels.hiding], surface)
    K = np.maximum(K, np.maximum(_LEAST_SHARE * K.max(axis=1, keepdims=True), 1e-5))
    if not panels.hiding.all():
        level[panels.anchor] = np.log(_scale_per_um(panels, K, np.exp(level)[:, None] * np.ones(size), surface))
    field = np.concatenate([np.log(K), np.zeros((n, size))]).T
    return State(field, level, np.zeros(amount_factors(panels).count), surface, np.zeros((panels.shared, 3)))


def _absorption(shares: Floats, S: Floats, readings: Floats, surface: Surface) -> Floats:
    """Solve Σ c_i K_i = q Σ c_i S_i over hiding panels for K ≥ 0, S being given."""
    q = hiding_k_over_s(readings, surface)
    scattering = (shares @ S)[:, None]
    weight = np.abs(hiding_reading_slope(np.maximum(q, 1e-4), surface)) / scattering
    system = shares[None] * weight.T[:, :, None]
    answer: Floats = nonnegative_least_squares(system, (q * scattering * weight).T)
    return answer.T


def _scale_per_um(panels: PanelSet, K: Floats, S: Floats, surface: Surface) -> float:
    """Return the factor that makes films of known build come nearest, in 1/µm."""
    thin = ~panels.hiding
    goal = np.cbrt(np.maximum(panels.readings[thin], 0))
    misfit = [
        float(((np.cbrt(panel_readings(panels, K * scale, S * scale, surface)[thin]) - goal) ** 2).sum())
        for scale in _SCALES_PER_UM
    ]
    return float(_SCALES_PER_UM[int(np.argmin(misfit))])
