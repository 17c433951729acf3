"""How well panels are predicted by the others: each mixture left out in turn, without fitting anew."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from finishmatch.colour import Floats
from finishmatch.optics.panel_model import Indices
from finishmatch.optics.posterior import Posterior

_TAIL = 8.0  # degrees of freedom of a t distribution: a mislabelled panel settles nothing


@dataclass(frozen=True)
class LeftOut:
    """A mixture's readings against what the other panels make of them.

    Parameters
    ----------
    rows : ndarray, shape (k,)
        The mixture's panels.
    residual : ndarray, shape (k, 31)
        Prediction less reading.
    covariance : ndarray, shape (31 k, 31 k)
        Of the prediction: what the others leave open, and amounts that are off; neither noise nor theory.
    """

    rows: Indices
    residual: Floats
    covariance: Floats


def left_out(posterior: Posterior, most: int | None = None) -> list[LeftOut]:
    """Return what mixtures are predicted to be by the rest.

    Parameters
    ----------
    posterior : Posterior
    most : int or None
        How many mixtures, spread over the bank; None is all. Those of which no spectrum was read are never left out.

    Notes
    -----
    With A the readings' slopes over their noise and Σ the covariance, H = A Σ A'. The residual of rows left out is
    (1 - H)⁻¹ times that of the fit, and the covariance of their prediction (1 - H)⁻¹ - 1, in units of their noise:
    exact where the readings are linear in what is unknown (Cook 1977 for one row).
    """
    problem, linear = posterior.problem, posterior.linear
    mixture, trusted = problem.panels.mixture, problem.read
    groups = [np.flatnonzero((mixture == number) & trusted) for number in np.unique(mixture[trusted])]
    if most is not None and len(groups) > most:
        groups = [groups[int(i)] for i in np.linspace(0, len(groups) - 1, most)]
    rows = np.concatenate(groups)
    field, border = _columns(posterior, rows)
    moved, common = posterior.system.solve(field, border)
    found, start = [], 0
    w = linear.misfit.shape[1]
    for group in groups:
        own = slice(start, start + group.size * w)
        start = own.stop
        hat = np.einsum("wuc,wud->cd", field[:, :, own], moved[:, :, own], optimize=True)
        hat += border[:, own].T @ common[:, own]
        inverse = np.linalg.inv(np.eye(len(hat)) - (hat + hat.T) / 2 * (1 - 1e-9))
        sd = linear.sd[group].ravel()
        residual = (inverse @ linear.misfit[group].ravel()) * sd
        found.append(LeftOut(group, residual.reshape(-1, w), (inverse - np.eye(len(hat))) * sd * sd[:, None]))
    return found


def score(found: list[LeftOut], noise_sd: Floats, theory_sd: Floats, run: float) -> float:
    """Return the logarithm of how probable the readings are, each mixture by the others.

    Parameters
    ----------
    found : list of LeftOut
    noise_sd : ndarray, shape (p, 31)
        Of the readings, each by its own.
    theory_sd : ndarray, shape (p, 31)
        What the theory leaves.
    run : float
        Over how many wavelengths it is off alike; a Markov process with that integrated correlation.

    References
    ----------
    Sundararajan and Keerthi, Neural Comput. 13 (2001) 1103: spreads are chosen by the predictive probability of what is
    left out, which a wrong theory misleads less than the probability of all.
    """
    along = (run - 1) / (run + 1)
    apart = np.arange(theory_sd.shape[1])
    alike = along ** np.abs(apart[:, None] - apart)
    total = 0.0
    for each in found:
        k, w = each.residual.shape
        covariance = each.covariance.reshape(k, w, k, w).copy()
        for i, row in enumerate(each.rows):
            covariance[i, :, i] += alike * theory_sd[row] * theory_sd[row][:, None] + np.diag(noise_sd[row] ** 2)
        root = np.linalg.cholesky(covariance.reshape(k * w, k * w))
        distance = float((np.linalg.solve(root, each.residual.ravel()) ** 2).sum())
        total -= np.log(np.diag(root)).sum() + (_TAIL + k * w) / 2 * np.log1p(distance / _TAIL)
    return float(total)


def _columns(posterior: Posterior, rows: Indices) -> tuple[Floats, Floats]:
    """Return the slopes of rows' readings, one a column, by the field and by the border."""
    problem, linear = posterior.problem, posterior.linear
    factors, n = problem.factors, problem.tints
    by_field = linear.by_field[rows]
    k, u, w = by_field.shape
    at = np.arange(w)
    field = np.zeros((w, u, k, w))
    field[at, :, :, at] = by_field.transpose(2, 1, 0)
    border = np.zeros((factors.count + 1, k, w))
    for slot, slope in zip(factors.slots[rows].T, linear.by_factor[rows].transpose(1, 0, 2), strict=True):
        border[slot, np.arange(k)] += slope
    rest = [by_field[:, n:].transpose(1, 0, 2), linear.by_surface[rows].transpose(1, 0, 2)]
    further = posterior.system.schur.shape[0] - factors.count - sum(map(len, rest))  # no spectrum bears on these
    both = np.concatenate([border[:-1], *rest, np.zeros((further, k, w))])
    return field.reshape(w, u, k * w), both.reshape(-1, k * w)
