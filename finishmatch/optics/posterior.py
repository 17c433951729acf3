"""K and S of all tints, the amounts of all panels and the surface, as one posterior: its middle, and draws from it."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from finishmatch.colour import Floats
from finishmatch.colour.grid import SIZE
from finishmatch.optics.bordered import Bordered
from finishmatch.optics.curvature import (
    Linear,
    Processes,
    border_off,
    border_precision,
    by_border,
    field_off,
    linearised,
    system,
    told_pull,
)
from finishmatch.optics.panel_model import panel_readings, with_amounts
from finishmatch.optics.priors import Beliefs
from finishmatch.optics.seen_panels import seen_misfit
from finishmatch.optics.unknowns import BACK_RANGE, K2_RANGE, Problem, State, moved


@dataclass(frozen=True)
class Posterior:
    """The middle of what is believed after the panels, with what it rests on."""

    problem: Problem
    beliefs: Beliefs
    state: State

    @cached_property
    def linear(self) -> Linear:
        """The readings about the middle."""
        return linearised(self.problem, self.state, self.beliefs)

    @cached_property
    def system(self) -> Bordered:
        """The curvature at the middle, factored."""
        return system(self.problem, self.beliefs, self.linear)[0]

    def draws(self, count: int, seed: int = 5) -> tuple[Floats, Floats]:
        """Return draws of field and border less their middle, shapes (count, 31, 2n) and (count, m + n + 2 + …).

        References
        ----------
        Papandreou and Yuille 2010 (perturb readings and priors by their noise, then solve): exact for what is linear.
        """
        n, linear = self.problem.tints, self.linear
        r = np.random.default_rng(seed)
        noise = r.standard_normal((count, *linear.reading.shape))
        processes = Processes.believed(self.problem, self.beliefs).of_field(n, self.problem.panels.anchor)
        roots = np.linalg.cholesky(processes)
        z = r.standard_normal((2 * n, SIZE, count))
        field = (roots @ z).transpose(1, 0, 2) + np.einsum("puw,dpw->wud", linear.by_field, noise, optimize=True)
        border = by_border(self.problem.factors, linear, noise, self.problem.panels.shared)
        border += r.standard_normal(border.shape) * np.sqrt(border_precision(self.problem, self.beliefs))
        if self.problem.factors.told is not None:
            border[:, : self.problem.factors.count] += _noise_of(self.problem.factors.told[0], count, r)
        border = np.concatenate([border, r.standard_normal((count, _colours(linear)))], axis=1)
        drawn, common = self.system.solve(field, border.T)
        return drawn.transpose(2, 0, 1), common.T


def _noise_of(precision: Floats, count: int, r: np.random.Generator) -> Floats:
    """Return draws, shape (count, m), whose covariance is a precision, shape (m, m), that may say nothing of some."""
    values, vectors = np.linalg.eigh(precision)
    return np.asarray(r.standard_normal((count, len(values))) * np.sqrt(np.maximum(values, 0)) @ vectors.T)


def settled(problem: Problem, beliefs: Beliefs, state: State, rounds: int = 30, exact: float = 1e-4) -> Posterior:
    """Return the posterior from a state near or far, by Levenberg-Marquardt.

    Parameters
    ----------
    problem : Problem
    beliefs : Beliefs
    state : State
        Where to start.
    rounds : int
        Steps at most.
    exact : float
        It is settled when a step lowers the cost by no more than this share of it.
    """
    processes = Processes.believed(problem, beliefs)
    damping = 1e-4
    linear = linearised(problem, state, beliefs)
    for _ in range(rounds):
        cost = cost_of(problem, beliefs, processes, state, _all_misfits(linear))
        trial = state
        after = np.inf
        while damping < 1e6:
            trial = moved(problem, state, _step(problem, beliefs, linear, state, damping))
            after = cost_of(problem, beliefs, processes, trial, _misfit(problem, trial, linear))
            if after <= cost * (1 + 1e-12):
                break
            damping *= 10
        else:
            break
        state, damping = trial, max(damping * 0.1, 1e-8)
        linear = linearised(problem, state, beliefs)
        if cost - after < exact * max(cost, 1.0):
            break
    found = Posterior(problem, beliefs, state)
    vars(found)["linear"] = linear  # of this very state: it is asked for next, and needn't be worked out again
    return found


def log_optics(posterior: Posterior, count: int, seed: int = 5) -> Floats:
    """Return draws of log K and log S, shape (count, 2, n, 31), for the surface as fitted.

    Whoever predicts with a draw does so with the middle's surface, so that mustn't vary beneath it.
    """
    posterior = replace(posterior, problem=replace(posterior.problem, free_surface=False))
    return optics_of_draws(posterior, *posterior.draws(count, seed))


def optics_of_draws(posterior: Posterior, field: Floats, border: Floats) -> Floats:
    """Return log K and log S, shape (count, 2, n, 31), of draws of the field and the border less their middle."""
    n, m = posterior.problem.tints, posterior.problem.factors.count
    anchor, middle = posterior.problem.panels.anchor, posterior.state
    drawn = [
        State(
            middle.field + np.clip(f, -3, 3),
            middle.level + np.clip(b[m : m + n], -3, 3),
            middle.factors,
            middle.surface,
        )
        for f, b in zip(field, border, strict=True)
    ]
    logs: Floats = np.log(np.array([state.optics(anchor) for state in drawn]))
    return logs


def log_evidence(posterior: Posterior) -> float:
    """Return the logarithm of how probable all readings are, up to what all panels of one bank and beliefs share.

    By Laplace's approximation about the middle.
    """
    problem, beliefs = posterior.problem, posterior.beliefs
    processes = Processes.believed(problem, beliefs)
    linear = posterior.linear
    cost = cost_of(problem, beliefs, processes, posterior.state, _all_misfits(linear))
    seen = 0.0 if linear.seen is None else linear.seen.log_sd
    spread = np.log(linear.sd).sum() + seen - np.log(border_precision(problem, beliefs)).sum() / 2
    return float(-cost / 2 - spread - posterior.system.log_determinant / 2)


def _misfit(problem: Problem, state: State, linear: Linear) -> Floats:
    """Return the misfits of a state, over the standard deviations there were about another, flat."""
    panels = problem.panels
    K, S = state.optics(panels.anchor)
    readings = panel_readings(with_amounts(panels, problem.factors, state.factors), K, S, state.surface)
    misfit: Floats = ((readings - problem.aimed_at) / linear.sd).ravel()
    if panels.seen is None or linear.seen is None:
        return misfit
    seen = seen_misfit(panels.seen, readings, state.shared, state.surface, linear.seen.root)
    return np.concatenate([misfit, seen.ravel()])


def _all_misfits(linear: Linear) -> Floats:
    """Return the misfits of spectra and of colours, flat."""
    spectra = linear.misfit.ravel()
    return spectra if linear.seen is None else np.concatenate([spectra, linear.seen.misfit.ravel()])


def _colours(linear: Linear) -> int:
    """Return how many coordinates of colours were seen."""
    return 0 if linear.seen is None else linear.seen.misfit.size


def cost_of(problem: Problem, beliefs: Beliefs, processes: Processes, state: State, misfit: Floats) -> float:
    """Return twice what a state costs: its misfits, flat, squared, and how far it lies from what was believed."""
    off = field_off(problem, beliefs, state)
    n, scale = problem.tints, problem.tints + problem.panels.anchor
    k, s = off[:, :n], np.delete(off, scale, axis=1)[:, n:]
    smooth = (k * (processes.k @ k)).sum() + (s * (processes.s @ s)).sum()
    for tint, precision in processes.own:
        smooth += k[:, tint] @ (precision - processes.k) @ k[:, tint]
    smooth += off[:, scale] @ processes.scale @ off[:, scale]
    border = border_off(problem, beliefs, state) ** 2 @ border_precision(problem, beliefs)
    logs, told = state.factors, problem.factors.told
    letdowns = 0.0 if told is None else logs @ (told_pull(problem.factors, logs) - told[1])
    return float((misfit**2).sum() + smooth + border + letdowns)


def _step(problem: Problem, beliefs: Beliefs, linear: Linear, state: State, damping: float) -> tuple[Floats, Floats]:
    """Return the step of the field, shape (31, 2n), and of the border, shape (m + n + 2 + …,)."""
    curvature, each = system(problem, beliefs, linear, damping)
    prior = np.einsum("uwv,vu->wu", each, field_off(problem, beliefs, state))
    field = np.einsum("puw,pw->wu", linear.by_field, linear.misfit) + prior
    border = by_border(problem.factors, linear, linear.misfit, problem.panels.shared)
    border += border_off(problem, beliefs, state) * border_precision(problem, beliefs)
    border[: problem.factors.count] += told_pull(problem.factors, state.factors)
    if linear.seen is not None:
        border = np.concatenate([border, linear.seen.misfit.ravel()])
    step, common = curvature.solve(-field[:, :, None], -border[:, None])
    if not problem.free_surface:
        return step[:, :, 0], common[:, 0]
    return _within_surface(curvature, state, step[:, :, 0], common[:, 0], problem.factors.count + problem.tints)


def _within_surface(curvature: Bordered, state: State, step: Floats, common: Floats, at: int) -> tuple[Floats, Floats]:
    """Return a step that ends where the surface may be, with all else as it is best there.

    `at` is where the surface stands in the border. Where the surface is cut off after the step, all else would have
    moved to make up for what isn't there.
    """
    now = np.array([state.surface.k2, state.surface.beam_back])
    ends = np.clip(now + common[at : at + 2], *np.transpose([K2_RANGE, BACK_RANGE]))
    over = np.flatnonzero(ends != now + common[at : at + 2])
    if not over.size:
        return step, common
    places = at + over
    pull = np.zeros((len(common), over.size))
    pull[places, np.arange(over.size)] = 1.0
    by_field, by_border = curvature.solve(np.zeros((*step.shape, over.size)), pull)
    back = np.linalg.solve(by_border[places], common[places] - (ends - now)[over])
    return step - by_field @ back, common - by_border @ back
