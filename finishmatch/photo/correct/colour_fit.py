"""The correction from camera values to colour: fitted on known colours, kept by what it does to colours left out.

The numbers of `capture` and the matrix of the terms are solved together, by Levenberg-Marquardt on ΔE00, with ridge on
the matrix and a robust loss. What each patch would read if it were left out follows from the slopes at the end.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from finishmatch.colour import Floats, de00_metric, xyz_to_lab, xyz_to_lab_slope
from finishmatch.photo.correct.capture import SIZE, Known, Priors, undo, undo_raised, undo_slopes
from finishmatch.photo.correct.least_squares import damped_least_squares

_LEAST = 1e-5  # of full scale: roots have no slope at 0
ROBUST_DE00 = 2.5  # beyond it a patch pulls less (pseudo-Huber)
ITERATIONS, TRIES = 40, 8
LEAST_SCATTER = 0.02  # ΔE00² of one axis: no fit is surer than this
_BLACK = 1e-4  # of white: nothing is darker


def terms(rgb: Floats, degree: int) -> Floats:
    """Return the terms of linear camera values.

    Parameters
    ----------
    rgb : ndarray, shape (..., 3)
        Linear, 1 at full scale.
    degree : int
        1: the values; 2 and 3: with the square roots and cube roots of their products.

    Returns
    -------
    ndarray, shape (..., 3), (..., 6) or (..., 13)

    References
    ----------
    Finlayson, Mackiewicz and Hurlbert, IEEE Trans. Image Process. 24 (2015) 1460-1470.
    """
    r, g, b = np.moveaxis(np.maximum(rgb, _LEAST), -1, 0)
    found = [rgb[..., 0], rgb[..., 1], rgb[..., 2]]
    if degree >= 2:
        found += [np.sqrt(r * g), np.sqrt(g * b), np.sqrt(r * b)]
    if degree >= 3:
        found += [
            np.cbrt(product)
            for product in (r * g * g, r * b * b, g * r * r, g * b * b, b * r * r, b * g * g, r * g * b)
        ]
    return np.stack(found, axis=-1)


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
        step = 1e-4 * np.maximum(linear, 1e-3)
        raised = undo_raised(self.numbers, linear, places, step)
        by_value = (terms(raised, self.plan.degree) - at) @ self.matrix / step.T[:, :, None]
        return out, np.einsum("nij,snj->nis", by_xyz, by_value)


class _Problem:
    """The least squares of one plan at a point, shape (SIZE + 3k,): the numbers of the capture, then the matrix."""

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
        if under.any():
            off = off + np.einsum("nij,nj->ni", xyz_to_lab_slope(np.maximum(xyz, dark), self.known.white), under)
        return np.asarray(np.einsum("nij,nj->ni", self.metric, off))

    def slopes(self, at: Floats) -> tuple[Floats, Floats]:
        """Return residuals (n, 3), and how they move with the numbers and the matrix, (n, 3, SIZE + 3k)."""
        numbers, matrix = _parts(at)
        steps = 1e-4 * self.deviations
        here, moved = undo_slopes(numbers, self.known.linear, self.known.places, steps)
        found = terms(here, self.plan.degree) / self.scale
        xyz = found @ matrix
        by_xyz = self.metric @ xyz_to_lab_slope(xyz, self.known.white)
        n, k = found.shape
        out = np.empty((n, 3, SIZE + 3 * k))
        changes = (terms(moved, self.plan.degree) / self.scale @ matrix - xyz) / steps[:, None, None]
        out[:, :, :SIZE] = np.einsum("nij,snj->nis", by_xyz, changes)
        out[:, :, SIZE:] = np.einsum("nij,nk->nikj", by_xyz, found).reshape(n, 3, 3 * k)
        return self.misfits(xyz), out

    def penalty(self, at: Floats) -> Floats:
        numbers, matrix = _parts(at)
        paper = self.known.paper
        of_paper = np.zeros(0) if paper is None else paper.unevenness(numbers)
        return np.concatenate([numbers / self.deviations, ((matrix - self.anchor) * self.ridge).ravel(), of_paper])

    def penalty_slopes(self, at: Floats) -> Floats:
        own, paper = np.diag(np.concatenate([1 / self.deviations, self.ridge.ravel()])), self.known.paper
        if paper is None:
            return own
        of_paper = paper.slopes(at[:SIZE], self.deviations)
        return np.vstack([own, np.pad(of_paper, ((0, 0), (0, len(own) - SIZE)))])

    def loss_weights(self, residuals: Floats) -> Floats:
        """Return how much each colour pulls, shape (n,), by its residuals, shape (n, 3)."""
        off = np.linalg.norm(residuals, axis=1)
        weights: Floats = self.known.weights / np.sqrt(1 + (off / ROBUST_DE00) ** 2)
        return weights

    def cost(self, at: Floats) -> float:
        numbers, matrix = _parts(at)
        squared = (self.misfits(self.terms(numbers) @ matrix) ** 2).sum(axis=1)
        robust = 2 * ROBUST_DE00**2 * (np.sqrt(1 + squared / ROBUST_DE00**2) - 1)
        return float((self.known.weights * robust).sum() + (self.penalty(at) ** 2).sum())

    def normal(self, at: Floats) -> tuple[Floats, Floats]:
        return self.normal_of(at, *self.slopes(at))

    def normal_of(self, at: Floats, residuals: Floats, slopes: Floats) -> tuple[Floats, Floats]:
        weights = self.loss_weights(residuals)
        flat = (slopes * np.sqrt(weights)[:, None, None]).reshape(-1, slopes.shape[2])
        rows = self.penalty_slopes(at)
        gradient = flat.T @ (residuals * np.sqrt(weights)[:, None]).ravel() + rows.T @ self.penalty(at)
        return flat.T @ flat + rows.T @ rows, gradient


def _parts(at: Floats) -> tuple[Floats, Floats]:
    """Return the numbers of the capture, shape (SIZE,), and the matrix, shape (k, 3), of a point."""
    return at[:SIZE], at[SIZE:].reshape(-1, 3)


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
    numbers = np.zeros(SIZE) if start is None else start.numbers
    matrix = problem.anchor if start is not None else _first_matrix(problem, numbers)
    first = np.concatenate([numbers, matrix.ravel()])
    at = damped_least_squares(problem, first, iterations=ITERATIONS, tries=TRIES, settled=1e-4, settled_by=1e-7)
    numbers, matrix = _parts(at)
    residuals, slopes = problem.slopes(at)
    weights = problem.loss_weights(residuals)
    return ColourFit(
        plan,
        numbers,
        matrix / problem.scale[:, None],
        known.white,
        residuals,
        _left_out(residuals, slopes, problem.normal_of(at, residuals, slopes)[0], weights),
        _covariance(problem, at, residuals, slopes, weights),
    )


def _covariance(problem: _Problem, at: Floats, residuals: Floats, slopes: Floats, weights: Floats) -> Floats:
    """Return the covariance of what was fitted: curvature of the data by what they scatter, and the priors."""
    flat = (slopes * np.sqrt(weights)[:, None, None]).reshape(-1, slopes.shape[2])
    rows = problem.penalty_slopes(at)
    data, penalty = flat.T @ flat, rows.T @ rows
    inverse = np.linalg.inv(data + penalty)
    used = float(np.trace(data @ inverse))
    scatter = (weights[:, None] * residuals**2).sum() / max(residuals.size - used, 6.0)
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


def _left_out(left: Floats, slopes: Floats, normal: Floats, weights: Floats) -> Floats:
    """Return what each known colour would be off by without itself, shape (n, 3): exact where the fit is linear.

    References
    ----------
    Cook and Weisberg, Residuals and Influence in Regression (1982): e / (1 - h), by blocks of three.
    """
    leverage = weights[:, None, None] * (slopes @ np.linalg.inv(normal) @ slopes.transpose(0, 2, 1))
    # a colour that its own term alone reaches can't be judged by the rest: kept finite
    values, vectors = np.linalg.eigh((leverage + leverage.transpose(0, 2, 1)) / 2)
    along = np.matmul(left[:, None], vectors)[:, 0] / np.maximum(1 - values, 0.05)
    return np.asarray(np.matmul(vectors, along[..., None])[..., 0])
