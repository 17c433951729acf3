"""The correction from camera values to colour: fitted on known colours, kept by what it does to colours left out.

The numbers of `capture` and the matrix of the terms are solved together, by Levenberg-Marquardt on ΔE00, with ridge on
the matrix and a robust loss. What each patch would read if it were left out follows from the slopes at the end.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from finishmatch.colour import Floats, de00_metric, xyz_to_lab, xyz_to_lab_slope
from finishmatch.photo.correct.capture import SIZE, Paper, Priors, undo, undo_slopes
from finishmatch.photo.correct.features import terms

ROBUST_DE00 = 2.5  # beyond it a patch pulls less (pseudo-Huber)
ITERATIONS = 40
LEAST_SCATTER = 0.02  # ΔE00² of one axis: no fit is surer than this
_BLACK = 1e-4  # of white: nothing is darker


@dataclass(frozen=True)
class Known:
    """Known colours in a picture.

    Parameters
    ----------
    linear : ndarray, shape (n, 3)
        Camera values by the file's own curve, 1 at full scale.
    places : ndarray, shape (n, 2)
        In the frame, from its middle, by its longer side.
    xyz : ndarray, shape (n, 3)
        What they are, white 100.
    white : ndarray, shape (3,)
        XYZ of the perfect diffuser.
    weights : ndarray, shape (n,)
        1 for a patch of the chart.
    noise : ndarray, shape (n, 3, 3), or None
        Covariance of the camera values; None is none.
    paper : Paper or None
        Bare paper, which shows how the light falls off.
    """

    linear: Floats
    places: Floats
    xyz: Floats
    white: Floats
    weights: Floats
    noise: Floats | None = None
    paper: Paper | None = None

    def without(self, left_out: Sequence[int]) -> Known:
        """Return them less some."""
        keep = np.setdiff1d(np.arange(len(self.linear)), np.asarray(left_out, int))
        noise = None if self.noise is None else self.noise[keep]
        return Known(
            self.linear[keep], self.places[keep], self.xyz[keep], self.white, self.weights[keep], noise, self.paper
        )

    def variances(self) -> Floats:
        """Return the variance of each camera value, shape (n, 3)."""
        if self.noise is None:
            return np.zeros_like(self.linear)
        return np.asarray(np.einsum("nii->ni", self.noise))


@dataclass(frozen=True)
class Plan:
    """One way to correct: the degree of the terms, the ridge on them, and how free the capture is."""

    degree: int
    ridge: float
    priors: Priors
    name: str = ""


@dataclass(frozen=True)
class ColourFit:
    """A fitted correction.

    Parameters
    ----------
    plan : Plan
    numbers : ndarray, shape (SIZE,)
        Tone, flare, light: see `capture`.
    matrix : ndarray, shape (k, 3)
        From terms to XYZ.
    white : ndarray, shape (3,)
    residuals, misses : ndarray, shape (n, 3)
        By what the known colours are off as fitted, and would be off if each were left out, in the axes of
        `de00_metric`.
    covariance : ndarray, shape (SIZE + 3k, SIZE + 3k)
        Of the numbers and the matrix.
    """

    plan: Plan
    numbers: Floats
    matrix: Floats
    white: Floats
    residuals: Floats
    misses: Floats
    covariance: Floats

    def xyz(self, linear: Floats, places: Floats) -> Floats:
        """Return XYZ, shape (n, 3), of camera values, shape (n, 3), at places."""
        found = terms(undo(self.numbers, linear, places), self.plan.degree) @ self.matrix
        return np.maximum(found, _BLACK * self.white)

    def lab(self, linear: Floats, places: Floats) -> Floats:
        """Return CIELAB, shape (n, 3), of camera values at places."""
        return xyz_to_lab(self.xyz(linear, places), self.white)

    def slopes(self, linear: Floats, places: Floats) -> tuple[Floats, Floats]:
        """Return how CIELAB moves with the numbers and the matrix, (n, 3, p), and with the camera values, (n, 3, 3)."""
        steps = 1e-4 * self.plan.priors.deviations()
        here, moved = undo_slopes(self.numbers, linear, places, steps)
        at = terms(here, self.plan.degree)
        by_xyz = xyz_to_lab_slope(np.maximum(at @ self.matrix, _BLACK * self.white), self.white)
        out = np.empty((len(linear), 3, len(self.covariance)))
        changes = (terms(moved, self.plan.degree) - at) @ self.matrix / steps[:, None, None]
        out[:, :, :SIZE] = np.einsum("nij,snj->nis", by_xyz, changes)
        out[:, :, SIZE:] = np.einsum("nij,nk->nikj", by_xyz, at).reshape(len(linear), 3, -1)
        # a value undone depends on its own channel alone
        step = 1e-4 * np.maximum(linear, 1e-3)
        growth = undo(self.numbers, linear + step, places) - here
        raised = here + growth * np.eye(3)[:, None, :]
        by_value = (terms(raised, self.plan.degree) - at) @ self.matrix / step.T[:, :, None]
        return out, np.einsum("nij,snj->nis", by_xyz, by_value)


class _Problem:
    """The least squares of one plan: residuals and slopes at a point (numbers, matrix)."""

    def __init__(self, known: Known, plan: Plan, anchor: Floats | None) -> None:
        self.known, self.plan = known, plan
        self.lab = xyz_to_lab(known.xyz, known.white)
        self.metric = de00_metric(self.lab)
        self.deviations = plan.priors.deviations()
        first = terms(known.linear, plan.degree)
        self.scale = np.sqrt((first**2).mean(axis=0)) + 1e-9
        k = first.shape[1]
        self.anchor = np.zeros((k, 3))
        if anchor is not None:
            self.anchor[:3] = anchor * self.scale[:3, None]
        self.ridge = np.sqrt(plan.ridge) * np.ones((k, 1)) * (100 / known.white)
        if anchor is None:
            self.ridge = self.ridge * 0 + 1e-3

    def terms(self, numbers: Floats) -> Floats:
        found: Floats = terms(undo(numbers, self.known.linear, self.known.places), self.plan.degree) / self.scale
        return found

    def misfits(self, xyz: Floats) -> Floats:
        """Return residuals in ΔE00 by three axes, shape (n, 3)."""
        dark = _BLACK * self.known.white
        # below black the roots are gone on with straight, so that a way back is seen
        off = xyz_to_lab(np.maximum(xyz, dark), self.known.white) - self.lab
        under = np.minimum(xyz - dark, 0)
        off = off + np.einsum("nij,nj->ni", xyz_to_lab_slope(np.maximum(xyz, dark), self.known.white), under)
        return np.asarray(np.einsum("nij,nj->ni", self.metric, off))

    def slopes(self, numbers: Floats, matrix: Floats) -> tuple[Floats, Floats, Floats]:
        """Return residuals (n, 3), and slopes (n, 3, SIZE + 3k)."""
        steps = 1e-4 * self.deviations
        here, moved = undo_slopes(numbers, self.known.linear, self.known.places, steps)
        at = terms(here, self.plan.degree) / self.scale
        xyz = at @ matrix
        by_xyz = self.metric @ xyz_to_lab_slope(xyz, self.known.white)
        n, k = at.shape
        out = np.empty((n, 3, SIZE + 3 * k))
        changes = (terms(moved, self.plan.degree) / self.scale @ matrix - xyz) / steps[:, None, None]
        out[:, :, :SIZE] = np.einsum("nij,snj->nis", by_xyz, changes)
        out[:, :, SIZE:] = np.einsum("nij,nk->nikj", by_xyz, at).reshape(n, 3, 3 * k)
        return self.misfits(xyz), out, xyz

    def penalty(self, numbers: Floats, matrix: Floats) -> Floats:
        paper = self.known.paper
        seen = np.zeros(0) if paper is None else paper.unevenness(numbers)
        return np.concatenate([numbers / self.deviations, ((matrix - self.anchor) * self.ridge).ravel(), seen])

    def penalty_slopes(self, numbers: Floats) -> Floats:
        own, paper = np.diag(np.concatenate([1 / self.deviations, self.ridge.ravel()])), self.known.paper
        if paper is None:
            return own
        seen = paper.slopes(numbers, self.deviations)
        return np.vstack([own, np.pad(seen, ((0, 0), (0, len(own) - SIZE)))])

    def cost(self, numbers: Floats, matrix: Floats) -> float:
        squared = (self.misfits(self.terms(numbers) @ matrix) ** 2).sum(axis=1)
        robust = 2 * ROBUST_DE00**2 * (np.sqrt(1 + squared / ROBUST_DE00**2) - 1)
        return float((self.known.weights * robust).sum() + (self.penalty(numbers, matrix) ** 2).sum())


def fit_colours(known: Known, plan: Plan, start: ColourFit | None = None) -> ColourFit:
    """Return the correction of a plan.

    Parameters
    ----------
    known : Known
        At least 12 colours.
    plan : Plan
    start : ColourFit or None
        A fit of degree 1 to start from, whose matrix the higher terms are drawn to.

    Returns
    -------
    ColourFit

    References
    ----------
    Levenberg-Marquardt; pseudo-Huber loss by reweighting (Hartley and Zisserman, appendix 6).
    """
    problem = _Problem(known, plan, None if start is None else start.matrix[:3])
    numbers = np.zeros(SIZE) if start is None else start.numbers.copy()
    matrix = problem.anchor.copy() if start is not None else _first_matrix(problem, numbers)
    k = matrix.shape[0]
    damping, cost = 1e-3, problem.cost(numbers, matrix)
    for _ in range(ITERATIONS):
        left, slopes, _ = problem.slopes(numbers, matrix)
        normal, gradient = _normal(problem, left, slopes, numbers, matrix)
        better = False
        for _ in range(8):
            try:
                step = np.linalg.solve(normal + damping * np.diag(np.diag(normal)), gradient)
            except np.linalg.LinAlgError:
                damping *= 10
                continue
            new_numbers = numbers - step[:SIZE]
            new_matrix = matrix - step[SIZE:].reshape(k, 3)
            new_cost = problem.cost(new_numbers, new_matrix)
            if np.isfinite(new_cost) and new_cost < cost:
                better = True
                break
            damping *= 8
        if not better:
            break
        gain, cost = cost - new_cost, new_cost
        numbers, matrix, damping = new_numbers, new_matrix, max(damping / 8, 1e-9)
        if gain < 1e-4 * cost + 1e-7:
            break
    left, slopes, _ = problem.slopes(numbers, matrix)
    normal, _ = _normal(problem, left, slopes, numbers, matrix)
    weights = _loss_weights(problem, np.linalg.norm(left, axis=1))
    return ColourFit(
        plan,
        numbers,
        matrix / problem.scale[:, None],
        known.white,
        left,
        _left_out(left, slopes, normal, weights),
        _covariance(problem, numbers, left, slopes, weights),
    )


def _covariance(problem: _Problem, numbers: Floats, left: Floats, slopes: Floats, weights: Floats) -> Floats:
    """Return the covariance of what was fitted: curvature of the data by what they scatter, and the priors."""
    flat = (slopes * np.sqrt(weights)[:, None, None]).reshape(-1, slopes.shape[2])
    rows = problem.penalty_slopes(numbers)
    data, penalty = flat.T @ flat, rows.T @ rows
    inverse = np.linalg.inv(data + penalty)
    used = float(np.trace(data @ inverse))
    scatter = (weights[:, None] * left**2).sum() / max(left.size - used, 6.0)
    found = np.linalg.inv(data / max(scatter, LEAST_SCATTER) + penalty)
    scale = np.concatenate([np.ones(SIZE), np.repeat(problem.scale, 3)])
    return np.asarray(found / np.outer(scale, scale))


def _first_matrix(problem: _Problem, numbers: Floats) -> Floats:
    """Return a matrix to start from: least squares in XYZ, dark patches weighted up as L* does."""
    known = problem.known
    at = problem.terms(numbers)
    weight = known.weights / np.maximum(known.xyz[:, 1], 1.0) ** (2 / 3)
    system = np.vstack([at * weight[:, None], 1e-3 * np.eye(at.shape[1])])
    goal = np.vstack([known.xyz * weight[:, None], np.zeros((at.shape[1], 3))])
    return np.asarray(np.linalg.lstsq(system, goal, rcond=None)[0])


def _loss_weights(problem: _Problem, residuals: Floats) -> Floats:
    weights: Floats = problem.known.weights / np.sqrt(1 + (residuals / ROBUST_DE00) ** 2)
    return weights


def _normal(problem: _Problem, left: Floats, slopes: Floats, numbers: Floats, matrix: Floats) -> tuple[Floats, Floats]:
    weights = _loss_weights(problem, np.linalg.norm(left, axis=1))
    flat = (slopes * np.sqrt(weights)[:, None, None]).reshape(-1, slopes.shape[2])
    rows = problem.penalty_slopes(numbers)
    gradient = flat.T @ (left * np.sqrt(weights)[:, None]).ravel() + rows.T @ problem.penalty(numbers, matrix)
    return flat.T @ flat + rows.T @ rows, gradient


def _left_out(left: Floats, slopes: Floats, normal: Floats, weights: Floats) -> Floats:
    """Return what each known colour would be off by without itself, shape (n, 3): exact where the fit is linear.

    References
    ----------
    Cook and Weisberg, Residuals and Influence in Regression (1982): e / (1 - h), by blocks of three.
    """
    out = np.empty_like(left)
    inverse = np.linalg.inv(normal)
    for i, (residual, slope, weight) in enumerate(zip(left, slopes, weights, strict=True)):
        leverage = weight * (slope @ inverse @ slope.T)
        # a colour that its own term alone reaches can't be judged by the rest: kept finite
        values, vectors = np.linalg.eigh((leverage + leverage.T) / 2)
        gain = 1 / np.maximum(1 - values, 0.05)
        out[i] = vectors @ (gain * (vectors.T @ residual))
    return out
