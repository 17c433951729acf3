"""Damped least squares: how everything that is fitted to a photograph by steps is fitted."""

from __future__ import annotations

from typing import Protocol

import numpy as np

from finishmatch.colour import Floats

FIRST_DAMPING, LEAST_DAMPING = 1e-3, 1e-9
MORE, MUCH_MORE = 8.0, 10.0  # by what the damping grows when a step is no better, and when it can't be solved for


class Problem(Protocol):
    """What is to be made small: a sum of squares, or a robust loss that is one nearby."""

    def cost(self, at: Floats) -> float:
        """Return the sum at a point, shape (p,)."""

    def normal(self, at: Floats) -> tuple[Floats, Floats]:
        """Return the normal matrix, shape (p, p), and the gradient (half that of the cost), shape (p,), at a point."""


def damped_least_squares(
    problem: Problem, start: Floats, *, iterations: int, tries: int, settled: float, settled_by: float = 0.0
) -> Floats:
    """Return the point at which the cost no longer falls.

    Parameters
    ----------
    problem : Problem
    start : ndarray, shape (p,)
    iterations : int
        Steps taken at most.
    tries : int
        Dampings tried for each step at most.
    settled, settled_by : float
        It ends when a step lowers the cost by less than this share of it, and this beside.

    Returns
    -------
    ndarray, shape (p,)

    References
    ----------
    Marquardt, J. Soc. Ind. Appl. Math. 11 (1963) 431, each axis damped by its own curvature. Not SciPy's: the losses
    here are by colour, not by residual, and the few dozen numbers are found sooner without its trust region.
    """
    at, cost, damping = start, problem.cost(start), FIRST_DAMPING
    for _ in range(iterations):
        normal, gradient = problem.normal(at)
        for _ in range(tries):
            try:
                damped = normal.copy()
                damped.flat[:: len(gradient) + 1] += damping * normal.diagonal()
                step = np.linalg.solve(damped, gradient)
            except np.linalg.LinAlgError:
                damping *= MUCH_MORE
                continue
            lower = problem.cost(at - step)
            if np.isfinite(lower) and lower < cost:
                break
            damping *= MORE
        else:
            break
        gain, cost, at = cost - lower, lower, at - step
        damping = max(damping / MORE, LEAST_DAMPING)
        if gain < settled * cost + settled_by:
            break
    return at
