"""The spreads the fit of a bank rests on, learnt from the bank itself."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from finishmatch.colour import Floats, de00, reflectance_to_lab, reflectance_to_xyz
from finishmatch.colour.grid import SIZE
from finishmatch.optics.leave_out import LeftOut, left_out, score
from finishmatch.optics.panel_model import Indices, theory_sd, with_amounts
from finishmatch.optics.panel_set import Bools, PanelSet
from finishmatch.optics.posterior import Posterior, settled
from finishmatch.optics.priors import Beliefs, smooth_precision
from finishmatch.optics.unknowns import Problem, State

_DRAWS = 24
_MOST_TINTS = 20  # from which spreads are learnt
_MOST_PANELS = 300  # likewise: more tell hardly more of spreads, and take their time
_K_LENGTHS_NM = (15, 20, 30, 40, 60, 80, 120, 170, 240)
_S_LENGTHS_NM = (60, 100, 150, 200, 300)
_LONGEST_RUN = 16.0
_DISPERSALS = (0.002, 0.006, 0.015, 0.03, 0.06, 0.12, 0.25)
_BUILDS = (0.001, 0.003, 0.01, 0.03, 0.08)
_FACTORS = np.exp(np.linspace(-0.8, 0.8, 7))  # by which what the theory leaves is searched
_THEORY_RANGE = (0.1, 60.0)
_FILM_THEORY = 1.0  # with films it leaves no less than in the booth: amounts would soak it up and so make it seem less
_HOPELESS = 1.1  # times the least mean ΔE00, from which larger spreads aren't tried
_AS_GOOD = 1.03  # times the least mean ΔE00 of panels left out
_CAP_DE00 = 5.0  # a panel further off than this counts no more than this
_LEFT_OUT = 24  # mixtures; more tell little more of three spreads
# what is believed of spreads before a bank is seen: a value and how many tints it is worth
_S_MEAN = (-1.2, 0.6)  # mean, and its SD
_K_SD, _S_SD, _S_LEVEL_SD = (1.5, 8.0), (0.3, 8.0), (0.8, 6.0)


def learnt(problem: Problem, beliefs: Beliefs, state: State) -> Posterior:
    """Return the posterior of a bank, its spreads learnt from the bank.

    Notes
    -----
    The smooth processes' lengths and spreads are those most probable after the panels (expectation maximisation). How
    far amounts and builds go off, and what the theory leaves, are chosen by how probable panels are that are left out:
    within the fit, amounts would soak up what the theory leaves. Of a large bank some tints and panels are enough.
    Where no spectrum was read only the smooth processes are learnt.
    """
    if problem.tints > _MOST_TINTS or len(problem.panels.names) > _MOST_PANELS:
        some, start = _some(problem, state)
        return settled(problem, _learnt_from_all(some, beliefs, start).beliefs, state, exact=1e-5)
    return _learnt_from_all(problem, beliefs, state)


def _learnt_from_all(problem: Problem, beliefs: Beliefs, state: State) -> Posterior:
    """Return the posterior, its spreads learnt from every panel."""
    posterior = settled(problem, beliefs, state)
    for _ in range(3):
        posterior = settled(problem, _smoothness(posterior), posterior.state, rounds=3)
    if not problem.read.any():  # colours alone don't tell what the theory leaves
        return settled(problem, posterior.beliefs, posterior.state, rounds=10, exact=1e-7)
    posterior = _calibrated(posterior)
    films = bool(problem.factors.of_build.any())
    posterior = _chosen(posterior, "dispersal_sd", _DISPERSALS, cautious=films)
    if films:
        posterior = _chosen(posterior, "build_sd", _BUILDS, cautious=True)
    posterior = settled(problem, _smoothness(posterior), posterior.state, rounds=4)
    return settled(problem, posterior.beliefs, posterior.state, rounds=10, exact=1e-7)


def roughly(posterior: Posterior) -> Beliefs:
    """Return beliefs with what the theory leaves as the middle panel tells it, which mislabelled ones don't bear on."""
    linear, beliefs = posterior.linear, posterior.beliefs
    read = posterior.problem.read
    if not read.any():
        return beliefs
    off = float(np.median(np.abs(linear.misfit * linear.sd)[read]))
    expected = float(np.median(linear.sd[read])) / np.sqrt(beliefs.run)
    return replace(beliefs, theory=float(np.clip(off / (0.6745 * expected), 1.0, _THEORY_RANGE[1])))


def _some(problem: Problem, state: State) -> tuple[Problem, State]:
    """Return some of the tints, and some of the panels that hold no other."""
    tints = _some_tints(problem)
    rows = _some_panels(problem, tints)
    return problem.of_some(state, rows, tints)


def _some_tints(problem: Problem) -> Indices:
    """Return those in most panels, and others spread out."""
    n = problem.tints
    if n <= _MOST_TINTS:
        return np.arange(n)
    often = np.argsort(-(problem.panels.fractions > 0).sum(axis=0), kind="stable")[:2]
    spread = np.linspace(0, n - 1, _MOST_TINTS - 3).round().astype(int)
    return np.unique(np.concatenate([[problem.panels.anchor], often, spread]))


def _some_panels(problem: Problem, tints: Indices) -> Bools:
    """Return which panels hold those tints alone; of many some, spread out, with every tint in one at least.

    Panels of one mixture stay together.
    """
    panels = problem.panels
    rest = np.setdiff1d(np.arange(problem.tints), tints)
    rows: Bools = (panels.fractions[:, rest] == 0).all(axis=1)
    if rows.sum() <= _MOST_PANELS:
        return rows
    mixtures, first = np.unique(panels.mixture[rows], return_index=True)
    count = max(1, mixtures.size * _MOST_PANELS // int(rows.sum()))
    kept = np.linspace(0, mixtures.size - 1, count).round().astype(int)
    holds = panels.fractions[rows][first] > 0
    each = holds[:, tints].argmax(axis=0)
    return rows & np.isin(panels.mixture, mixtures[np.union1d(kept, each)])


@dataclass(frozen=True)
class _Tried:
    """Beliefs tried: how probable panels left out are, and how far off (mean ΔE00, mean contrast ratio)."""

    posterior: Posterior
    score: float
    off_de00: float
    ratio_off: float

    def off(self, name: str) -> float:
        """Return how far off panels are as it bears on a spread: a build is seen in the contrast ratio."""
        return self.off_de00 + (100 * self.ratio_off if name == "build_sd" else 0.0)


def _chosen(posterior: Posterior, name: str, values: tuple[float, ...], cautious: bool = False) -> Posterior:
    """Return the posterior with that of some spreads, rising, under which panels left out are predicted best.

    Where several predict as well it is the one under which what is left out is most probable, or, when `cautious`, the
    least. How probable it is can't settle it alone: what the theory leaves of films is alike in panels of one mixture,
    as if their amounts were off, and amounts would soak it up.
    """
    known: list[_Tried] = []
    spread: dict[str, Any]
    state = posterior.state
    for value in values:
        spread = {name: value}
        beliefs = replace(posterior.beliefs, **spread)
        known.append(_best_theory(settled(posterior.problem, beliefs, state, rounds=4)))
        state = known[-1].posterior.state
        least = min(each.off(name) for each in known)
        if known[-1].off(name) > _HOPELESS * least:
            break
    as_good = [each for each in known if each.off(name) <= _AS_GOOD * least]
    best = as_good[0] if cautious else max(as_good, key=lambda each: each.score)
    return settled(posterior.problem, best.posterior.beliefs, best.posterior.state, rounds=2)


def _calibrated(posterior: Posterior) -> Posterior:
    """Return the posterior with what the theory leaves as panels left out tell it."""
    for _ in range(2):
        before = posterior.beliefs.theory
        posterior = _best_theory(posterior).posterior
        posterior = settled(posterior.problem, posterior.beliefs, posterior.state, rounds=3)
        if abs(np.log(posterior.beliefs.theory / before)) < 0.15:
            break
    return posterior


def _best_theory(posterior: Posterior) -> _Tried:
    """Return the posterior with what the theory leaves at its most probable (not settled anew)."""
    problem, state, beliefs = posterior.problem, posterior.state, posterior.beliefs
    panels = problem.panels
    K, S = state.optics(panels.anchor)
    poured = with_amounts(panels, problem.factors, state.factors)
    booth = theory_sd(poured, K, S, state.surface, posterior.linear.reading)
    found = left_out(posterior, _LEFT_OUT)
    least, most = _THEORY_RANGE
    least = _FILM_THEORY if problem.factors.of_build.any() else least
    tried = {
        float(theory): score(found, panels.reading_sd, theory * booth, beliefs.run)
        for theory in np.clip(beliefs.theory * _FACTORS, least, most)
    }
    best = max(tried, key=lambda theory: tried[theory])
    again = replace(posterior, beliefs=replace(beliefs, theory=best))
    return _Tried(again, tried[best], *_mean_off(panels, found))


def _mean_off(panels: PanelSet, found: list[LeftOut]) -> tuple[float, float]:
    """Return how far panels left out are off, on the mean: ΔE00, and the contrast ratio of films."""
    rows = np.concatenate([each.rows for each in found])
    predicted = np.maximum(panels.readings[rows] + np.concatenate([each.residual for each in found]), 1e-4)
    off = de00(reflectance_to_lab(panels.readings[rows]), reflectance_to_lab(predicted))
    mean = float(np.minimum(off, _CAP_DE00).mean())
    luminous = np.stack([reflectance_to_xyz(each)[:, 1] for each in (panels.readings[rows], predicted)])
    ratios = []
    for film in {(panels.mixture[row], panels.build_um[row]) for row in rows if np.isfinite(panels.build_um[row])}:
        at = np.flatnonzero((panels.mixture[rows] == film[0]) & (panels.build_um[rows] == film[1]))
        true, ours = luminous[:, at]
        if at.size > 1:
            low, high = int(true.argmin()), int(true.argmax())
            ratios.append(abs(true[low] / true[high] - ours[low] / ours[high]))
    return mean, float(np.mean(ratios)) if ratios else 0.0


def _smoothness(posterior: Posterior) -> Beliefs:
    """Return beliefs with lengths and spreads of the smooth processes, and the run of what the theory leaves."""
    problem, state, beliefs = posterior.problem, posterior.state, posterior.beliefs
    n, m, anchor = problem.tints, problem.factors.count, problem.panels.anchor
    field, border = posterior.draws(_DRAWS)
    others = [i for i in range(n) if i != anchor]
    k, dk = state.field[:, :n].T, field[:, :, :n].transpose(0, 2, 1)
    k_mean = float(k.mean())
    k_length, k_sd = _process(k - k_mean, dk, _K_LENGTHS_NM, _K_SD)
    new = replace(beliefs, k_mean=k_mean, k_length_nm=k_length, k_sd=k_sd, run=_run(posterior))
    if not others:
        return new
    at = [n + i for i in others]
    s_length, s_sd = _process(state.field[:, at].T, field[:, :, at].transpose(0, 2, 1), _S_LENGTHS_NM, _S_SD)
    level, variance = state.level[others], border[:, m : m + n][:, others].var(axis=0)
    weight = 1 / (variance + beliefs.s_level_sd**2)
    mean, sd = _S_MEAN
    s_mean = float((weight @ level + mean / sd**2) / (weight.sum() + sd**-2))
    value, worth = _S_LEVEL_SD
    spread = ((level - s_mean) ** 2 + variance).sum() + worth * value**2
    s_level_sd = float(np.sqrt(spread / (len(others) + worth)))
    return replace(new, s_length_nm=s_length, s_sd=s_sd, s_mean=s_mean, s_level_sd=s_level_sd)


def _process(
    middle: Floats, draws: Floats, lengths: tuple[int, ...], believed: tuple[float, float]
) -> tuple[float, float]:
    """Return the length and the spread under which some spectra, shape (k, 31), are most probable.

    `draws` of shape (d, k, 31) are what their middle leaves open.
    """
    moment = middle.T @ middle + np.einsum("diw,div->wv", draws, draws) / len(draws)
    value, worth = believed
    best = (-np.inf, 0.0, 0.0)
    for length in lengths:
        unit = smooth_precision(length, 1.0)
        variance = ((unit * moment).sum() + worth * value**2) / (len(middle) * SIZE + worth)
        likely = len(middle) / 2 * (np.linalg.slogdet(unit)[1] - SIZE * np.log(variance))
        likely -= (unit * moment).sum() / (2 * variance)
        best = max(best, (float(likely), float(length), float(np.sqrt(variance))))
    return best[1], best[2]


def _run(posterior: Posterior) -> float:
    """Return over how many wavelengths in a row what the theory leaves is alike (integrated autocorrelation)."""
    trusted = posterior.problem.read
    if not trusted.any():
        return posterior.beliefs.run
    linear = posterior.linear
    misfit = linear.misfit[trusted]
    noise = float(((posterior.problem.panels.reading_sd / linear.sd)[trusted] ** 2).mean())
    total = float((misfit**2).mean())
    smooth = max(total - noise, 0.2 * total)  # reading noise has no run
    run = 1.0
    for apart in range(1, 16):
        alike = float((misfit[:, apart:] * misfit[:, :-apart]).mean()) / smooth
        if alike < 0.05:
            break
        run += 2 * (1 - apart / SIZE) * min(alike, 1.0)
    return float(np.clip((posterior.beliefs.run + run) / 2, 1.0, _LONGEST_RUN))
