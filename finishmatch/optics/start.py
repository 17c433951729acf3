"""Where the fit of a bank starts: K and S by linear least squares on the hiding panels, then their scale per µm."""

from __future__ import annotations

import numpy as np

from finishmatch.colour import Floats
from finishmatch.optics.beam import hiding_k_over_s, hiding_reading_slope
from finishmatch.optics.nonnegative import nonnegative_least_squares
from finishmatch.optics.panel_set import Bools, PanelSet
from finishmatch.optics.solver import panel_readings
from finishmatch.optics.surface import Surface

_ROUNDS = 6
_LEAST_SHARE = 1e-4  # of the largest K or S of a tint, below which a start value isn't put
_SCALES_PER_UM = np.geomspace(3e-4, 3.0, 45)


def start_values(panels: PanelSet, surface: Surface, trusted: Bools) -> Floats:
    """Return log K and log S to start from, shape (31, 2n), K first."""
    n = panels.fractions.shape[1]
    hiding = panels.hiding & trusted
    shown: Bools = np.any(panels.fractions[hiding] > 0, axis=0)
    size = panels.readings.shape[1]
    K, S = np.full((n, size), 0.5), np.ones((n, size))
    if shown[panels.anchor]:
        K[shown], S[shown] = _linear(panels, surface, hiding, shown)
    floor = np.maximum(_LEAST_SHARE * np.maximum(K.max(axis=1, keepdims=True), S.max(axis=1, keepdims=True)), 1e-7)
    K, S = np.maximum(K, floor), np.maximum(S, floor)
    if (~panels.hiding & trusted).any():
        scale = _scale_per_um(panels, K, S, surface, trusted)
        K, S = K * scale, S * scale
    log: Floats = np.log(np.concatenate([K, S])).T
    return log


def _linear(panels: PanelSet, surface: Surface, hiding: Bools, shown: Bools) -> tuple[Floats, Floats]:
    """Solve Σ c_i (K_i - q S_i) = 0 over the hiding panels with the anchor's S held at 1 and K, S ≥ 0."""
    c = panels.fractions[np.ix_(hiding, shown)]
    n = c.shape[1]
    anchor = n + int(shown[: panels.anchor].sum())
    q = hiding_k_over_s(panels.readings[hiding], surface)
    per_q = np.abs(hiding_reading_slope(q, surface))
    system = np.concatenate([np.broadcast_to(c, (q.shape[1], *c.shape)), -q.T[:, :, None] * c], axis=2)
    free = [i for i in range(2 * n) if i != anchor]
    goal, system = -system[:, :, anchor], system[:, :, free]
    scattering = np.ones_like(q)
    for _ in range(_ROUNDS):
        weight = (per_q / scattering).T
        answer = nonnegative_least_squares(system * weight[:, :, None], goal * weight)
        full = np.insert(answer, anchor, 1.0, axis=1)
        scattering = np.maximum(c @ full[:, n:].T, 1e-6)
    return full[:, :n].T, full[:, n:].T


def _scale_per_um(panels: PanelSet, K: Floats, S: Floats, surface: Surface, trusted: Bools) -> Floats:
    """Return the factor per wavelength that makes films of known build come nearest, in 1/µm."""
    thin = ~panels.hiding & trusted
    misfit = []
    for scale in _SCALES_PER_UM:
        reading = panel_readings(panels, K * scale, S * scale, surface)[0]
        misfit.append(((np.cbrt(reading[thin]) - np.cbrt(np.maximum(panels.readings[thin], 0))) ** 2).sum(axis=0))
    total = np.array(misfit)
    best: Floats = _SCALES_PER_UM[total.argmin(axis=0)]
    return best
