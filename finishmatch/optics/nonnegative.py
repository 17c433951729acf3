"""Least squares with no negative unknowns, for all wavelengths at once."""

from __future__ import annotations

import numpy as np

from finishmatch.colour import Floats


def nonnegative_least_squares(rows: Floats, goal: Floats, rounds: int = 60) -> Floats:
    """Solve min |rows·x - goal| with x ≥ 0 for a stack of systems of one shape.

    Parameters
    ----------
    rows : ndarray, shape (m, p, u)
    goal : ndarray, shape (m, p)
    rounds : int
        Bound on the exchanges.

    Returns
    -------
    ndarray, shape (m, u)

    Notes
    -----
    Block principal pivoting (Portugal, Júdice and Vicente 1994): unknowns of the wrong sign change sides together;
    when that no longer helps a system, only its last one does, which can't cycle. A ridge of 1e-12 of the mean
    diagonal keeps unknowns that the rows don't settle at their least.
    """
    scale = np.sqrt((rows**2).sum(axis=1))  # (m, u): columns to length 1
    scale = np.where(scale > 0, scale, 1.0)
    scaled = rows / scale[:, None, :]
    gram = np.matmul(scaled.transpose(0, 2, 1), scaled)
    right = np.matmul(scaled.transpose(0, 2, 1), goal[:, :, None])[:, :, 0]
    u = gram.shape[1]
    gram = gram + 1e-12 * np.eye(u)
    active = np.ones(right.shape, dtype=bool)  # free to be positive
    best = np.full(len(right), u + 1)
    patience = np.full(len(right), 3)
    x = np.zeros_like(right)
    tolerance = 1e-12
    for _ in range(rounds):
        both = active[:, :, None] & active[:, None, :]
        masked = np.where(both, gram, 0.0) + np.eye(u) * ~active[:, :, None]
        x = np.linalg.solve(masked, np.where(active, right, 0.0)[:, :, None])[:, :, 0]
        slope = np.matmul(gram, x[:, :, None])[:, :, 0] - right
        wrong = (active & (x < -tolerance)) | (~active & (slope < -tolerance))
        count = wrong.sum(axis=1)
        if not count.any():
            break
        fewer = count < best
        best = np.where(fewer, count, best)
        patience = np.where(fewer, 3, patience - 1)
        last = wrong & (np.cumsum(wrong[:, ::-1], axis=1)[:, ::-1] == 1)
        active ^= np.where((patience >= 0)[:, None], wrong, last)
    unscaled: Floats = np.maximum(x, 0.0) / scale
    return unscaled
