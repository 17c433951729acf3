"""How well panels are predicted by the others: each mixture left out in turn, without fitting anew."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from finishmatch.colour import Floats
from finishmatch.optics.panel_model import Indices
from finishmatch.optics.posterior import Posterior

_CORNER = 1e300  # more than any distance squared
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
    field, border = posterior.system.rooted(linear.by_field[rows], _by_border(posterior, rows))
    found, start = [], 0
    w = linear.misfit.shape[1]
    for group in groups:
        own = slice(start, start + group.size)
        start = own.stop
        root, common = (part[..., own].transpose(0, 2, 1).reshape(len(part), -1) for part in (field, border))
        hat = root.T @ root + common.T @ (posterior.system.schur @ common)
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
        # with the residual as a last row its factor holds the root's inverse times the residual
        bordered = np.full((k * w + 1, k * w + 1), _CORNER)
        bordered[-1, :-1] = each.residual.ravel()
        covariance = bordered[:-1, :-1]
        covariance[:] = each.covariance
        for i, row in enumerate(each.rows):
            own = slice(i * w, i * w + w)
            covariance[own, own] += alike * theory_sd[row] * theory_sd[row][:, None] + np.diag(noise_sd[row] ** 2)
        root = np.linalg.cholesky(bordered)
        distance = float(root[-1, :-1] @ root[-1, :-1])
        total -= np.log(np.diag(root)[:-1]).sum() + (_TAIL + k * w) / 2 * np.log1p(distance / _TAIL)
    return float(total)


def _by_border(posterior: Posterior, rows: Indices) -> Floats:
    """Return the slopes of rows' readings by the border, shape (b, k, 31)."""
    problem, linear = posterior.problem, posterior.linear
    factors, n = problem.factors, problem.tints
    k, _, w = linear.by_field[rows].shape
    border = np.zeros((factors.count + 1, k, w))
    for slot, slope in zip(factors.slots[rows].T, linear.by_factor[rows].transpose(1, 0, 2), strict=True):
        border[slot, np.arange(k)] += slope
    rest = [linear.by_field[rows, n:].transpose(1, 0, 2), linear.by_surface[rows].transpose(1, 0, 2)]
    further = posterior.system.schur.shape[0] - factors.count - sum(map(len, rest))  # no spectrum bears on these
    return np.concatenate([border[:-1], *rest, np.zeros((further, k, w))])
