"""How surely the consensus is known: the ΔE00 that holds the truth 95 times in 100, and what one more would bring."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

import numpy as np

from finishmatch.colour import Floats
from finishmatch.evidence.groups import likelihoods, tau_grid
from finishmatch.evidence.kinds import EvidenceCatalogue, Settings
from finishmatch.evidence.model import Model, Piece, make_model
from finishmatch.evidence.pool import Pooled

MEAN_DRAWS = 2000


@dataclass(frozen=True)
class Certainty:
    """Covariance of the mean in ΔE00 coordinates, tau integrated out, and the u95 in ΔE00."""

    covariance: Floats
    u95: float


@cache
def _draws() -> Floats:
    """Return unit normals, each with its mirror image: the same every time."""
    half = np.random.default_rng(95).standard_normal((MEAN_DRAWS // 2, 3))
    return np.concatenate([half, -half])


def tau_weights(model: Model, settings: Settings) -> tuple[Floats, Floats]:
    """Return values of tau and how likely each is by what was read."""
    taus, _ = tau_grid(settings.beyond_kinds)
    one, _ = likelihoods(model, np.zeros((0, len(model.pieces))), settings)
    weights = np.exp(one - one.max())
    return taus, weights / weights.sum()


def certainty(model: Model, mean: Floats, settings: Settings, tau: tuple[Floats, Floats] | None = None) -> Certainty:
    """Return how surely a mean is known.

    Parameters
    ----------
    model : Model
    mean : ndarray, shape (3,)
        What is stated, in the model's coordinates.
    settings : Settings
    tau : values and weights, or None
        Of the excess scatter; by what was read when left out.

    Notes
    -----
    The excess scatter is never known from a few samples. So every value of it counts by its likelihood, and what is
    stated is the length that 95 in 100 of all those means lie within.
    """
    taus, weights = tau_weights(model, settings) if tau is None else tau
    chosen = np.flatnonzero(weights > 1e-3)
    share = weights[chosen] / weights[chosen].sum()
    own = np.kron(model.B, np.eye(3))
    X = np.tile(np.eye(3), (len(model.pieces), 1))
    # the mean and its covariance for every tau at once
    inverse = np.linalg.inv(model.V + taus[chosen, None, None] ** 2 * own)
    each = np.linalg.inv(X.T @ inverse @ X)
    off = (each @ (X.T @ inverse @ model.y.reshape(-1, 1)))[..., 0] - mean
    covariance = np.einsum("k,kij->ij", share, each + off[:, :, None] * off[:, None, :])
    ends = _draws() @ np.swapaxes(np.linalg.cholesky(each), -1, -2) + off[:, None, :]
    length = np.sqrt(np.einsum("kdi,kdi->kd", ends, ends)).reshape(-1)
    mass = np.repeat(share / MEAN_DRAWS, MEAN_DRAWS)
    order = np.argsort(length)
    place = min(int(np.searchsorted(np.cumsum(mass[order]), 0.95)), len(order) - 1)
    return Certainty(covariance, float(length[order[place]]))


def with_one_more(
    model: Model, piece: Piece, catalogue: EvidenceCatalogue, measured: frozenset[str], found: Pooled
) -> Certainty:
    """Return how surely the mean would be known with one more sample that lies where the others do."""
    pieces = (*model.pieces, piece)
    more = make_model(pieces, catalogue, model.centre, measured)
    more.y[:-1], more.y[-1] = model.y, found.mean
    return certainty(more, found.mean, catalogue.settings, tau_weights(model, catalogue.settings))
