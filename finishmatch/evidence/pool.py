"""The consensus of samples that disagree: random effects by Paule-Mandel, DerSimonian-Laird, and a robust variant.

Samples are points of p numbers each with one joint covariance, since errors may be shared: y = mean + error,
error ~ N(0, V + tau² B). B says which samples share their own deviation: the identity, or ones between the samples of
one place.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.special import gammaincinv

from finishmatch.colour import Floats

ROBUST_FREEDOM = 4.0  # of Student's t: far samples count less, none counts nothing
ROBUST_STEPS = 30


@dataclass(frozen=True)
class Pooled:
    """A consensus of n samples of p numbers: mean (p,), its covariance (p, p), tau² and the weights (n, p, p)."""

    mean: Floats
    covariance: Floats
    tau2: float
    weights: Floats


def _design(n: int, p: int) -> Floats:
    stacked: Floats = np.tile(np.eye(p), (n, 1))
    return stacked


def pooled_at(y: Floats, V: Floats, B: Floats, tau2: float) -> Pooled:
    """Return the generalised least squares mean for a given tau².

    Parameters
    ----------
    y : ndarray, shape (n, p)
    V : ndarray, shape (n p, n p)
        Known covariance, sample by sample.
    B : ndarray, shape (n, n)
        Which samples share their own deviation.
    tau2 : float
    """
    n, p = y.shape
    X = _design(n, p)
    inverse = np.linalg.inv(V + tau2 * np.kron(B, np.eye(p)))
    covariance = np.asarray(np.linalg.inv(X.T @ inverse @ X), dtype=np.float64)
    weights = covariance @ X.T @ inverse
    return Pooled(weights @ y.reshape(-1), covariance, tau2, weights.reshape(p, n, p).swapaxes(0, 1))


def _misfit_terms(y: Floats, V: Floats, B: Floats) -> tuple[Floats, Floats]:
    """Return squares q and factors f by which the weighted misfit from the mean is the sum of q / (1 + tau² f).

    The misfit is that of the contrasts, which hold no mean; where V is the unit matrix and B diagonal the sum is plain.
    """
    n, p = y.shape
    contrast = np.kron(_helmert(n), np.eye(p))
    root = np.linalg.cholesky(contrast @ V @ contrast.T)
    scaled = np.linalg.solve(root, contrast)
    factors, turn = np.linalg.eigh(scaled @ np.kron(B, np.eye(p)) @ scaled.T)
    return (turn.T @ (scaled @ y.reshape(-1))) ** 2, np.maximum(factors, 0.0)


def _helmert(n: int) -> Floats:
    """Return n - 1 contrasts of n numbers, shape (n - 1, n), orthogonal to each other and to the mean."""
    found = np.zeros((n - 1, n))
    for k in range(1, n):
        found[k - 1, :k], found[k - 1, k] = 1, -k
    unit: Floats = found / np.linalg.norm(found, axis=1, keepdims=True)
    return unit


def paule_mandel(y: Floats, V: Floats, B: Floats | None = None) -> Pooled:
    """Return the consensus whose tau² makes the weighted misfit as large as it should be, p (n - 1).

    Parameters
    ----------
    y : ndarray, shape (n, p)
    V : ndarray, shape (n p, n p)
    B : ndarray, shape (n, n), or None
        The identity when left out.

    Returns
    -------
    Pooled
        tau² 0 where the samples agree better than their covariance says.

    References
    ----------
    Paule and Mandel, J. Res. NBS 87 (1982) 377; here with one tau² for all p numbers, and correlated samples.
    """
    n, p = y.shape
    B = np.eye(n) if B is None else B
    wanted = p * (n - 1)
    if n < 2:
        return pooled_at(y, V, B, 0.0)
    squares, factors = _misfit_terms(y, V, B)

    def misfit(tau2: float) -> float:
        return float((squares / (1 + tau2 * factors)).sum())

    # samples of one place alone have contrasts that no tau² explains
    if misfit(0.0) <= wanted or float(squares[factors < 1e-12].sum()) >= wanted:
        return pooled_at(y, V, B, 0.0)
    low, high = 0.0, 1.0
    while misfit(high) > wanted:
        high *= 4
    for _ in range(200):  # the misfit falls with tau², so halving finds the one root
        middle = (low + high) / 2
        low, high = (middle, high) if misfit(middle) > wanted else (low, middle)
        if high - low <= 1e-13 * high:
            break
    return pooled_at(y, V, B, (low + high) / 2)


def dersimonian_laird(y: Floats, V: Floats, B: Floats | None = None) -> Pooled:
    """Return the consensus with tau² from one step of moments; arguments and result as in `paule_mandel`.

    References
    ----------
    DerSimonian and Laird, Controlled Clinical Trials 7 (1986) 177; E[Q] by the trace, so that samples may correlate.
    """
    n, p = y.shape
    B = np.eye(n) if B is None else B
    X, inverse = _design(n, p), np.linalg.inv(V)
    projector = inverse - inverse @ X @ np.linalg.inv(X.T @ inverse @ X) @ X.T @ inverse
    spread = float(np.trace(projector @ np.kron(B, np.eye(p))))
    flat = y.reshape(-1)
    excess = float(flat @ projector @ flat) - p * (n - 1)
    return pooled_at(y, V, B, max(0.0, excess / spread) if spread > 0 else 0.0)


def robust_mean(y: Floats, V: Floats, own: Floats, B: Floats | None = None, freedom: float = ROBUST_FREEDOM) -> Pooled:
    """Return a consensus in which a sample counts the less the further off it lies.

    Parameters
    ----------
    y, V, B
        As in `paule_mandel`.
    own : ndarray, shape (n, p, p)
        The part of V that is each sample's own, and grows with its distance.
    freedom : float
        Degrees of freedom of Student's t.

    Returns
    -------
    Pooled
        tau² makes the middle squared distance what it should be, where Paule-Mandel takes the mean of them all: so up
        to half of the samples may lie anywhere.

    References
    ----------
    Weights (freedom + p) / (freedom + d²): Lange, Little and Taylor, J. Am. Stat. Assoc. 84 (1989) 881.
    """
    n, p = y.shape
    B = np.eye(n) if B is None else B
    # the median of chi² of p, and a sample's share in the mean
    usual = 2 * float(gammaincinv(p / 2, 0.5)) * max(n - 1, 1) / n
    mean = np.median(y, axis=0)
    found = pooled_at(y, V, B, 0.0)
    for _ in range(ROBUST_STEPS):
        tau2 = _middle_tau2(y - mean, own, usual)
        scale = own + tau2 * np.eye(p)
        factor = (freedom + p) / (freedom + _squared(y - mean, scale))
        widened = V.copy()
        for i in range(n):
            at = slice(i * p, i * p + p)
            widened[at, at] += scale[i] * max(1 / factor[i] - 1, 0.0)
        found = pooled_at(y, widened, B, tau2)
        if np.abs(found.mean - mean).max() < 1e-5:
            break
        mean = found.mean
    return found


def _squared(off: Floats, scale: Floats) -> Floats:
    squared: Floats = np.einsum("ni,ni->n", off, np.linalg.solve(scale, off[..., None])[..., 0])
    return squared


def _middle_tau2(off: Floats, own: Floats, usual: float) -> float:
    """Return the tau² by which the median squared distance is as it should be, or 0."""
    variances, axes = np.linalg.eigh(own)  # alike in all directions, tau² adds to each variance and turns no axis
    along = np.einsum("nij,ni->nj", axes, off) ** 2
    upper = len(off) // 2
    lower = upper - 1 + len(off) % 2

    def middle(tau2: float) -> float:
        squared = np.sort((along / (variances + tau2)).sum(axis=1))
        return float(squared[lower] + squared[upper]) / 2

    if middle(0.0) <= usual:
        return 0.0
    low, high = 0.0, 1.0
    while middle(high) > usual:
        high *= 4
    for _ in range(40):
        at = (low + high) / 2
        low, high = (at, high) if middle(at) > usual else (low, at)
    return (low + high) / 2
