"""The best addition where differences are linear in what is added: a convex problem, solved by an interior point."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from finishmatch.colour import Floats

_ROUNDS = 60  # of the solver, at most: about twenty do
_CLOSE = 1e-6  # share of its cost by which an answer may miss the best
_SETTLED, _SMALLEST = 1e-6, 1e-11  # of the slopes, where costs are 1 at most; and of a miss that still says something
_NOTHING = 1e-14
_CENTRED, _FIRST = (0.01, 0.5), 0.1  # how far a round goes towards the middle: the less, the freer the last step was
_TO_THE_EDGE = 0.99  # how far a step goes towards what it may not cross
_RIDGE = 1e-12  # share of the diagonal: what two tints that are alike leave open
_SHORTER, _SHORTENED = 0.7, 30  # of a step that leaves a light outside, and how often


@dataclass(frozen=True)
class StepCosts:
    """What is made small, and what holds it.

    Parameters
    ----------
    aim : float
        ΔE00 in every light; what the worst light exceeds it by is the excess.
    excess : float
        What an excess of one costs.
    weight : float
        What shares of one together cost.
    upper : ndarray, shape (m,)
        Most of each share, above 0.
    most : float
        Most of all together, above 0.
    """

    aim: float
    excess: float
    weight: float
    upper: Floats
    most: float


def best_shares(at_nothing: Floats, slope: Floats, costs: StepCosts) -> Floats:
    """Return the shares that cost least, shape (m,).

    Parameters
    ----------
    at_nothing : ndarray, shape (lights, 3)
        Difference vectors where nothing is added.
    slope : ndarray, shape (lights, 3, m)
        Of the vectors, per share.
    costs : StepCosts

    Notes
    -----
    Minimises weight·Σx + excess·t with |w(x)| ≤ aim + t in every light, t ≥ 0, 0 ≤ x ≤ upper and Σx ≤ most, written
    |w|²/(aim + t) - (aim + t) ≤ 0, which is convex; by the primal-dual interior point method of Boyd and Vandenberghe,
    Convex Optimization (2004), 11.7, from memory.
    """
    problem = _Problem.of(at_nothing, slope, costs)
    z = problem.start
    price, centring = np.zeros(0), _FIRST
    for _ in range(_ROUNDS):
        left, rows, curved = problem.room(z)
        price = price if price.size else 0.1 / left
        gap = float(left @ price)
        unsettled = float(np.abs(problem.cost + rows.T @ price).max())
        if gap < max(_CLOSE * float(problem.cost @ z), _NOTHING) and (unsettled < _SETTLED or gap < _SMALLEST):
            break
        centre = centring * gap / len(left) / left
        ratio = price / left
        weight = np.repeat(price[: problem.lights], 3)
        system = (curved.T * weight) @ curved + (rows.T * ratio) @ rows
        system.flat[:: len(z) + 1] *= 1 + _RIDGE
        move = np.asarray(-np.linalg.solve(system, problem.cost + rows.T @ centre), dtype=np.float64)
        along = rows @ move
        change = centre - price + ratio * along
        step = min(1.0, float((-price / np.minimum(change, -1e-300)).min()), problem.until_bound(left, along))
        step = problem.inside(z, move, _TO_THE_EDGE * step)
        z, price = z + step * move, price + step * change
        centring = min(max((1 - step) ** 2, _CENTRED[0]), _CENTRED[1])
    shares: Floats = np.clip(z[:-1], 0, costs.upper)
    return shares


@dataclass(frozen=True)
class _Problem:
    """The problem in ΔE00 of the size where it starts; z is the shares and then t.

    `vectors` has shape (3·lights,), `slope` (3·lights, m); `bounds`, (2m + 2, m + 1), times z stays below `limit`.
    """

    lights: int
    vectors: Floats
    slope: Floats
    aim: float
    cost: Floats
    bounds: Floats
    limit: Floats
    start: Floats

    @classmethod
    def of(cls, at_nothing: Floats, slope: Floats, costs: StepCosts) -> _Problem:
        """Return the problem, with where to start."""
        m, lights = len(costs.upper), len(at_nothing)
        flat = slope.reshape(-1, m)
        x = np.minimum(costs.upper, costs.most / m) / 2
        worst = np.sqrt(((at_nothing + (flat @ x).reshape(lights, 3)) ** 2).sum(axis=1).max())
        size = costs.aim + float(worst) + 1e-12
        bounds = np.zeros((2 * m + 2, m + 1))
        bounds[: m + 1] = -np.eye(m + 1)
        bounds[m + 1 : -1, :m] = np.eye(m)
        bounds[-1, :m] = 1
        limit = np.concatenate([np.zeros(m + 1), costs.upper, [costs.most]])
        cost = np.append(np.full(m, costs.weight), costs.excess * size)
        start = np.append(x, 2.0)
        return cls(
            lights, at_nothing.ravel() / size, flat / size, costs.aim / size, cost / cost.max(), bounds, limit, start
        )

    def squares(self, z: Floats) -> tuple[Floats, Floats]:
        """Return the difference vectors in one row, and their squares in each light."""
        w = self.vectors + self.slope @ z[:-1]
        return w, (w.reshape(self.lights, 3) ** 2).sum(axis=1)

    def room(self, z: Floats) -> tuple[Floats, Floats, Floats]:
        """Return what is left of everything that holds z, the slopes of what is held, and the root of its curvature."""
        w, square = self.squares(z)
        reach = self.aim + z[-1]
        left = np.concatenate([reach - square / reach, self.limit - self.bounds @ z])
        along = np.concatenate([self.slope, (-w / reach)[:, None]], axis=1)
        of_lights = (2 / reach) * (w[:, None] * along).reshape(self.lights, 3, -1).sum(axis=1)
        of_lights[:, -1] += square / reach**2 - 1
        return left, np.concatenate([of_lights, self.bounds]), along * np.sqrt(2 / reach)

    def until_bound(self, left: Floats, along: Floats) -> float:
        """Return how much of a move the shares have room for, by what is left of `room` and what a move takes of it."""
        return float((left[self.lights :] / np.maximum(along[self.lights :], 1e-300)).min())

    def inside(self, z: Floats, move: Floats, step: float) -> float:
        """Return the step, shortened until every light stays below aim + t."""
        for _ in range(_SHORTENED):
            new = z + step * move
            if (self.squares(new)[1] < (self.aim + new[-1]) ** 2).all():
                break
            step *= _SHORTER
        return step
