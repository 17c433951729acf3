"""Whether samples are of one colour, or some of another: two hypotheses weighed against each other.

Of one colour: all scatter round one mean, by their kinds, what effects share, and an excess tau that isn't known. Of
two: besides that, those on one side of a cut are moved by one vector, which is as large as another colour usually is.
Which is likelier is the ratio of the two densities of what was read, the mean and tau integrated out («marginal
likelihood»).
"""

from __future__ import annotations

from itertools import combinations

import numpy as np

from finishmatch.colour import Floats
from finishmatch.evidence.kinds import Settings
from finishmatch.evidence.model import Model

TAU_FREEDOM = 4.0
EVERY_CUT_UP_TO = 11  # places; beyond, the cuts tried are those that some pair of samples suggests
Groups = tuple[tuple[int, ...], ...]


def tau_grid(scale: float) -> tuple[Floats, Floats]:
    """Return values of tau, ΔE00, and the logarithms of their prior weights.

    Half of Student's t with four degrees of freedom, half of it below about three quarters of `scale`: small excess is
    usual, and a large one is believed where enough samples show it (Gelman, Bayesian Analysis 1 (2006) 515).
    """
    edges = scale * 30 * np.linspace(0, 1, 41) ** 2.5
    tau = (edges[1:] + edges[:-1]) / 2
    weights = (1 + (tau / scale) ** 2 / TAU_FREEDOM) ** (-(TAU_FREEDOM + 1) / 2) * np.diff(edges)
    return tau, np.log(weights / weights.sum())


def likelihoods(model: Model, cuts: Floats, settings: Settings) -> tuple[Floats, Floats]:
    """Return the log densities of what was read, the mean integrated out, per tau.

    Parameters
    ----------
    model : Model
    cuts : ndarray, shape (m, n)
        1 for the samples on one side.
    settings : Settings

    Returns
    -------
    one : ndarray, shape (taus,)
        Of one colour, prior of tau included, less a constant.
    two : ndarray, shape (taus, m)
        The same when each cut separates two colours.
    """
    n = len(model.pieces)
    taus, prior = tau_grid(settings.beyond_kinds)
    X = np.tile(np.eye(3), (n, 1))
    shift = (cuts[:, :, None, None] * np.eye(3)).reshape(len(cuts), 3 * n, 3)
    flat, usual = model.y.reshape(-1), settings.another_colour
    sigma = model.V + taus[:, None, None] ** 2 * np.kron(model.B, np.eye(3))
    inverse = np.linalg.inv(sigma)
    information = X.T @ inverse @ X
    projector = inverse - inverse @ X @ np.linalg.solve(information, X.T @ inverse)
    misfit = np.einsum("i,kij,j->k", flat, projector, flat)
    one = prior - 0.5 * (np.linalg.slogdet(sigma)[1] + np.linalg.slogdet(information)[1] + misfit)
    two = np.zeros((len(taus), len(cuts)))
    for k in range(len(taus)) if len(cuts) else ():
        pulled = projector[k] @ shift  # (m, 3n, 3)
        inner = np.swapaxes(shift, -1, -2) @ pulled + np.eye(3) / usual**2
        pull = flat @ pulled  # (m, 3)
        gained = np.einsum("mi,mi->m", pull, np.linalg.solve(inner, pull[..., None])[..., 0])
        two[k] = one[k] - 0.5 * (np.linalg.slogdet(inner)[1] + 6 * np.log(usual) - gained)
    return one, two


def _log_sum(values: Floats) -> Floats:
    top = values.max(axis=0)
    summed: Floats = top + np.log(np.exp(values - top).sum(axis=0))
    return summed


def _cuts(model: Model) -> Floats:
    """Return the cuts to be tried, shape (m, n); samples of one place are never separated."""
    places = list(dict.fromkeys(piece.place for piece in model.pieces))
    of = np.array([places.index(piece.place) for piece in model.pieces])
    count = len(places)
    sides: list[tuple[int, ...]] = []
    if count <= EVERY_CUT_UP_TO:
        for size in range(1, count // 2 + 1):
            sides += [side for side in combinations(range(count), size) if size * 2 < count or 0 in side]
    else:
        means = np.array([model.y[of == place].mean(axis=0) for place in range(count)])
        sides = [(place,) for place in range(count)]
        for i, j in combinations(range(count), 2):
            near = ((means - means[i]) ** 2).sum(axis=1) < ((means - means[j]) ** 2).sum(axis=1)
            for _ in range(3):  # the two means settle
                if near.all() or not near.any():
                    break
                ours, theirs = means[near].mean(axis=0), means[~near].mean(axis=0)
                near = ((means - ours) ** 2).sum(axis=1) < ((means - theirs) ** 2).sum(axis=1)
            side = tuple(int(i) for i in np.flatnonzero(near if 2 * near.sum() <= count else ~near))
            if side:
                sides.append(side)
        sides = list(dict.fromkeys(sides))
    return np.array([np.isin(of, side).astype(float) for side in sides]).reshape(-1, len(of))


def chance_of_two(model: Model, settings: Settings) -> tuple[float, tuple[int, ...]]:
    """Return how likely it is that the samples are of two colours, and the side of the best cut with fewer samples."""
    cuts = _cuts(model)
    if not len(cuts):
        return 0.0, ()
    one, two = likelihoods(model, cuts, settings)
    # before they are read: as likely that one sample is a stranger as that several are; among those all alike
    alone = cuts.sum(axis=1) <= 1
    share = np.where(alone, 0.5 / max(alone.sum(), 1), 0.5 / max((~alone).sum(), 1))
    log_two = _log_sum(two) + np.log(share / share.sum())
    odds = np.log(settings.chance_of_stranger / (1 - settings.chance_of_stranger)) + _log_sum(log_two) - _log_sum(one)
    best = int(np.argmax(log_two))
    return float(1 / (1 + np.exp(-np.clip(odds, -700, 700)))), tuple(int(i) for i in np.flatnonzero(cuts[best]))


def separate_colours(model: Model, settings: Settings) -> Groups:
    """Return the samples separated into groups that each are of one colour, by index.

    A group is cut as long as it is surer than `sure_of_stranger` that it holds two colours.
    """

    def separated(index: tuple[int, ...]) -> list[tuple[int, ...]]:
        inside = model.only(index)
        chance, side = chance_of_two(inside, settings)
        if chance < settings.sure_of_stranger:
            return [index]
        one = tuple(index[i] for i in side)
        other = tuple(i for i in index if i not in one)
        return [*separated(one), *separated(other)]

    return tuple(separated(tuple(range(len(model.pieces)))))
