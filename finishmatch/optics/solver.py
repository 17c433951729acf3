"""K and S of all tints at every wavelength, and the film constants they share, by one weighted least squares."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from finishmatch.colour import Floats
from finishmatch.optics.beam import film_reading, film_reading_slopes, hiding_reading, hiding_reading_slope
from finishmatch.optics.panel_set import MODEL_FLOOR, MODEL_SHARE, MODEL_SHARE_SHOWN, WEIGHING_SD_G, Bools, PanelSet
from finishmatch.optics.surface import Surface

K2_RANGE = (0.40, 0.65)
BACK_RANGE = (0.0, 0.8)
# what is believed of the shared constants before a panel is read, mean and SD: k2 of a flat surface by Fresnel lies
# near 0.6, and pigments scatter between evenly and strongly forward
_K2_PRIOR = (0.58, 0.03)
_BACK_PRIOR = (0.30, 0.20)
_SMOOTH_SD = 0.5  # of log K and log S from the mean of their neighbours, where the panels say nothing
_WIDE_SD = 4.0  # of log K and log S about a start value: holds what nothing else does
_LIGHT_AND_DARK = np.array([[0.92], [0.01]])  # grounds in contact with a film, about those of a drawdown card
_LOW, _HIGH = np.log(1e-9), np.log(1e4)


@dataclass(frozen=True)
class Solution:
    """Logarithms of K and S, shape (31, 2n), K first; the surface; and the curvature there.

    `information` of shape (31, 2n, 2n) is the inverse covariance of the logarithms at each wavelength, `gradient` of
    shape (p, 31, 2n) the slope of every reading with them, over its standard deviation.
    """

    log: Floats
    surface: Surface
    information: Floats
    gradient: Floats
    weighted: Floats  # (p, 31): misfit over standard deviation
    sd: Floats  # (p, 31)

    @property
    def K(self) -> Floats:
        """Absorption, shape (n, 31)."""
        return np.exp(self.log[:, : self.log.shape[1] // 2]).T

    @property
    def S(self) -> Floats:
        """Scattering, shape (n, 31)."""
        return np.exp(self.log[:, self.log.shape[1] // 2 :]).T


def panel_readings(panels: PanelSet, K: Floats, S: Floats, surface: Surface) -> tuple[Floats, Floats, Floats]:
    """Return what the panels should read, shape (p, 31), and the slopes with respect to the mixture's K and S."""
    k, s = panels.fractions @ K, np.maximum(panels.fractions @ S, 1e-12)
    reading, by_k, by_s = np.empty_like(k), np.empty_like(k), np.empty_like(k)
    hiding = panels.hiding
    if hiding.any():
        q = k[hiding] / s[hiding]
        slope = hiding_reading_slope(q, surface)
        reading[hiding] = hiding_reading(q, surface)
        by_k[hiding], by_s[hiding] = slope / s[hiding], -slope * q / s[hiding]
    thin = ~hiding
    if thin.any():
        reading[thin], by_k[thin], by_s[thin] = film_reading_slopes(
            k[thin], s[thin], panels.build_um[thin, None], panels.ground[thin], surface
        )
    return reading, by_k, by_s


def solve(
    panels: PanelSet,
    start: Floats,
    surface: Surface,
    trusted: Bools,
    free_surface: bool = True,
    rounds: int = 40,
) -> Solution:
    """Fit log K and log S, and k2 and beam_back, by Levenberg-Marquardt at all wavelengths together.

    Parameters
    ----------
    panels : PanelSet
    start : ndarray, shape (31, 2n)
    surface : Surface
        k1 stays; k2 and beam_back start here.
    trusted : ndarray, shape (p,)
        Panels that aren't are as good as left out.
    free_surface : bool
        Whether k2 and beam_back are fitted too.
    rounds : int

    Returns
    -------
    Solution

    Notes
    -----
    Logarithms keep K and S positive. The shared constants are eliminated from the wavelengths' normal equations by
    their Schur complement. A wavelength's K and S are drawn weakly to the mean of their neighbours, which says
    something only where the panels don't. Where no build is known the S of the anchor is held.
    """
    n = panels.fractions.shape[1]
    held = None if (~panels.hiding & trusted).any() else n + panels.anchor
    log, damping = start.copy(), 1e-3
    state = _state(panels, log, surface, trusted, held, start)
    for _ in range(rounds):
        step, shared = _step(state, damping, free_surface)
        trial_log = np.clip(log + np.clip(step, -2, 2), _LOW, _HIGH)
        trial_surface = surface
        if free_surface:
            trial_surface = replace(
                surface,
                k2=float(np.clip(surface.k2 + shared[0], *K2_RANGE)),
                beam_back=float(np.clip(surface.beam_back + shared[1], *BACK_RANGE)),
            )
        trial = _state(panels, trial_log, trial_surface, trusted, held, start, state.sd)
        if trial.cost <= state.cost * (1 + 1e-12):
            settled = state.cost - trial.cost < 1e-7 * state.cost
            log, surface = trial_log, trial_surface
            state = _state(panels, log, surface, trusted, held, start)
            damping = max(damping * 0.2, 1e-9)
            if settled:
                break
        else:
            damping *= 6
            if damping > 1e8:
                break
    return Solution(log, surface, state.normal, state.gradient, state.weighted, state.sd)


@dataclass(frozen=True)
class _State:
    cost: float
    normal: Floats  # (31, u, u)
    slope: Floats  # (31, u)
    shared_normal: Floats  # (2, 2)
    shared_slope: Floats  # (2,)
    cross: Floats  # (31, u, 2)
    gradient: Floats
    weighted: Floats
    sd: Floats


def _state(
    panels: PanelSet,
    log: Floats,
    surface: Surface,
    trusted: Bools,
    held: int | None,
    start: Floats,
    sd: Floats | None = None,
) -> _State:
    n = panels.fractions.shape[1]
    K, S = np.exp(log[:, :n]).T, np.exp(log[:, n:]).T
    reading, by_k, by_s = panel_readings(panels, K, S, surface)
    if sd is None:
        sd = _standard_deviation(panels, K, S, surface, reading, by_k, by_s)
    trust = np.where(trusted, 1.0, 1e-4)[:, None]
    weight = trust / sd
    weighted = (reading - panels.readings) * weight
    c = panels.fractions
    gradient = np.concatenate(
        [
            (by_k * weight)[:, :, None] * c[:, None, :] * K.T[None],
            (by_s * weight)[:, :, None] * c[:, None, :] * S.T[None],
        ],
        axis=2,
    )  # (p, 31, 2n)
    if held is not None:
        gradient[:, :, held] = 0.0
    by_wavelength = gradient.transpose(1, 2, 0)
    normal = by_wavelength @ by_wavelength.transpose(0, 2, 1)
    slope = (by_wavelength @ weighted.T[:, :, None])[:, :, 0]
    pull, neighbour = _priors(log, start)
    normal[:, np.arange(2 * n), np.arange(2 * n)] += 1 / _SMOOTH_SD**2 + 1 / _WIDE_SD**2
    slope += neighbour / _SMOOTH_SD**2 + pull / _WIDE_SD**2
    shared, prior = _shared_gradient(panels, K, S, surface, reading, weight)
    both = np.einsum("pls,plt->st", shared, shared)
    both[np.diag_indices(2)] += np.array([1 / _K2_PRIOR[1] ** 2, 1 / _BACK_PRIOR[1] ** 2])
    shared_slope = np.einsum("pls,pl->s", shared, weighted) + prior
    cross = by_wavelength @ shared.transpose(1, 0, 2)
    cost = (
        float((weighted**2).sum())
        + float((neighbour**2).sum()) / _SMOOTH_SD**2
        + float((pull**2).sum()) / _WIDE_SD**2
        + ((surface.k2 - _K2_PRIOR[0]) / _K2_PRIOR[1]) ** 2
        + ((surface.beam_back - _BACK_PRIOR[0]) / _BACK_PRIOR[1]) ** 2
    )
    return _State(cost, normal, slope, both, shared_slope, cross, gradient, weighted, sd)


def _priors(log: Floats, start: Floats) -> tuple[Floats, Floats]:
    """Return how far the logarithms lie from their start values and from the mean of their neighbours."""
    neighbour = np.empty_like(log)
    neighbour[1:-1] = log[1:-1] - (log[:-2] + log[2:]) / 2
    neighbour[0], neighbour[-1] = log[0] - log[1], log[-1] - log[-2]
    return log - start, neighbour


def _shared_gradient(
    panels: PanelSet, K: Floats, S: Floats, surface: Surface, reading: Floats, weight: Floats
) -> tuple[Floats, Floats]:
    step = 1e-5
    moved = [
        replace(surface, k2=surface.k2 + step),
        replace(surface, beam_back=surface.beam_back + step),
    ]
    slopes = [(panel_readings(panels, K, S, other)[0] - reading) / step * weight for other in moved]
    prior = np.array(
        [
            (surface.k2 - _K2_PRIOR[0]) / _K2_PRIOR[1] ** 2,
            (surface.beam_back - _BACK_PRIOR[0]) / _BACK_PRIOR[1] ** 2,
        ]
    )
    return np.stack(slopes, axis=2), prior


def _step(state: _State, damping: float, free_surface: bool) -> tuple[Floats, Floats]:
    u = state.slope.shape[1]
    diagonal = np.einsum("wuu->wu", state.normal)
    damped = state.normal + (damping * diagonal)[:, :, None] * np.eye(u)
    right = np.concatenate([state.slope[:, :, None], state.cross], axis=2)
    solved = np.linalg.solve(damped, right)
    own, answer = solved[:, :, 0], solved[:, :, 1:]
    if not free_surface:
        return -own, np.zeros(2)
    both = state.shared_normal * (1 + damping * np.eye(2)) - np.einsum("wus,wut->st", state.cross, answer)
    shared = -np.linalg.solve(both, state.shared_slope - np.einsum("wus,wu->s", state.cross, own))
    return -own - answer @ shared, shared


def _standard_deviation(
    panels: PanelSet, K: Floats, S: Floats, surface: Surface, reading: Floats, by_k: Floats, by_s: Floats
) -> Floats:
    """Return what a reading may be off by: its own noise, the panel's weighing, and what the film model leaves.

    The model leaves the more the more of the ground is seen through a film, whatever the ground is.
    """
    k, s = panels.fractions @ K, panels.fractions @ S
    model = MODEL_SHARE * reading
    if (thin := ~panels.hiding).any():
        build = panels.build_um[thin, None]
        light, dark = (film_reading(k[thin], s[thin], build, ground, surface) for ground in _LIGHT_AND_DARK)
        model[thin] += MODEL_SHARE_SHOWN * (light - dark)
    variance = panels.reading_sd**2 + model**2 + MODEL_FLOOR**2
    for i in range(panels.fractions.shape[1]):
        poured = panels.grams[:, i]
        used = (poured > 0) & (poured < panels.grams.sum(axis=1))
        if used.any():
            per_log = panels.fractions[used, i, None] * (by_k[used] * (K[i] - k[used]) + by_s[used] * (S[i] - s[used]))
            variance[used] += (per_log * (WEIGHING_SD_G / poured[used])[:, None]) ** 2
    return np.sqrt(variance)
