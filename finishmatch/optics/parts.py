"""A bank of many tints settled few at a time first: a step of all of them takes as long as hundreds of steps of few."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from finishmatch.optics.panel_model import Indices
from finishmatch.optics.panel_set import Bools
from finishmatch.optics.posterior import Posterior, settled
from finishmatch.optics.priors import Beliefs
from finishmatch.optics.unknowns import Problem, State

LARGE_TINTS = 32  # of more, steps of all are saved
_PART = 12  # tints settled together, beside those that stand in most panels
_NEAR = 1e-2  # where a step lowers the cost by no more than this share of it the next fit goes on


def often_mixed(problem: Problem) -> Indices:
    """Return the white, or what stands for it, and the two tints that stand in most panels."""
    often = np.argsort(-(problem.panels.fractions > 0).sum(axis=0), kind="stable")[:2]
    return np.unique([problem.panels.anchor, *often])


def settled_in_parts(problem: Problem, beliefs: Beliefs, state: State) -> Posterior:
    """Return the posterior from a state far off; of a large bank near enough to look for what doesn't fit.

    The tints of a large bank are settled part by part, each beside those that are mixed most, on the panels that hold
    no other. How far amounts are off, and mixtures of tints of two parts, are left to the next fit of all.
    """
    if problem.tints <= LARGE_TINTS:
        return settled(problem, beliefs, state)
    common = often_mixed(problem)
    others = np.setdiff1d(np.arange(problem.tints), common)
    for i, part in enumerate(np.array_split(others, -(-others.size // _PART))):
        tints = np.union1d(common, part)
        state = _with_part(problem, beliefs, state, tints, part if i else tints)
    return Posterior(problem, beliefs, state)


def _with_part(problem: Problem, beliefs: Beliefs, state: State, tints: Indices, own: Indices) -> State:
    """Return a state with those tints that are its `own` as they settle among `tints`; the first finds the surface."""
    n = problem.tints
    beside = np.setdiff1d(np.arange(n), tints)
    rows: Bools = (problem.panels.fractions[:, beside] == 0).all(axis=1)
    near, start = problem.of_some(state, rows, tints)
    near = replace(near, free_surface=problem.free_surface and own.size == tints.size)
    found = settled(near, beliefs, start, exact=_NEAR).state
    field, level = state.field.copy(), state.level.copy()
    at = np.searchsorted(tints, own)
    field[:, own], field[:, n + own] = found.field[:, at], found.field[:, tints.size + at]
    level[own] = found.level[at]
    return replace(state, field=field, level=level, surface=found.surface)
