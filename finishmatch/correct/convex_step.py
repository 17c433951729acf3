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
_ONES = np.ones(3)


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
    problem = _Problem(at_nothing, slope, costs)
    z, cost, rows = problem.start, problem.cost, problem.rows
    w, square = problem.squares(z)
    left = problem.room(z, w, square)
    price, centring = 0.1 / left, _FIRST
    for _ in range(_ROUNDS):
        gap = float(left @ price)
        if gap < max(_CLOSE * float(cost @ z), _NOTHING):
            unsettled = float(np.maximum.reduce(np.abs(cost + price @ rows)))
            if unsettled < _SETTLED or gap < _SMALLEST:
                break
        centre = (centring * gap / len(left)) / left
        ratio = price / left
        system = problem.system(z, price, ratio)
        move = -np.linalg.solve(system, cost + centre @ rows)
        along = rows @ move
        change = centre - price + ratio * along
        # by how much of itself a price falls, or the room for a share is used up, at most
        used = max(1.0, -float(np.minimum.reduce(change / price)), problem.used(left, along))
        step = _TO_THE_EDGE / used
        for _ in range(_SHORTENED):  # until every light stays below aim + t
            new = z + step * move
            w, square = problem.squares(new)
            if float(np.maximum.reduce(square)) < (problem.aim + float(new[-1])) ** 2:
                break
            step *= _SHORTER
        z, price = new, price + step * change
        left = problem.room(z, w, square)
        centring = min(max((1 - step) ** 2, _CENTRED[0]), _CENTRED[1])
    shares: Floats = np.clip(z[:-1], 0, costs.upper)
    return shares


class _Problem:
    """The problem in ΔE00 of the size where it starts; z is the shares and then t.

    What holds z, `rows`, has a row for each light, which `room` writes anew, and then those of the bounds, (2m + 2,
    m + 1), which times z stay below `limit`.
    """

    def __init__(self, at_nothing: Floats, slope: Floats, costs: StepCosts) -> None:
        m, self.lights = len(costs.upper), len(at_nothing)
        flat = slope.reshape(-1, m)
        x = np.minimum(costs.upper, costs.most / m) / 2
        worst = np.sqrt(((at_nothing + (flat @ x).reshape(-1, 3)) ** 2).sum(axis=1).max())
        size = costs.aim + float(worst) + 1e-12
        self.aim = costs.aim / size
        self.start: Floats = np.append(x, 2.0)
        cost = np.append(np.full(m, costs.weight), costs.excess * size)
        self.cost: Floats = cost / cost.max()
        self._vectors, self._slope = at_nothing.ravel() / size, flat / size
        self._of_light = self._slope.reshape(self.lights, 3, m)
        self._limit: Floats = np.concatenate([np.zeros(m + 1), costs.upper, [costs.most]])
        # the root of the lights' curvature, a row for each coordinate, above what holds z: one array, so that the
        # system is one product
        self._both = np.zeros((4 * self.lights + len(self._limit), m + 1))
        self._along, self.rows = self._both[: 3 * self.lights], self._both[3 * self.lights :]
        self._bounds = self.rows[self.lights :]
        self._along[:, :m] = self._slope
        self._bounds[: m + 1] = -np.eye(m + 1)
        self._bounds[m + 1 : -1, :m] = np.eye(m)
        self._bounds[-1, :m] = 1
        self._weight = np.empty(len(self._both))

    def squares(self, z: Floats) -> tuple[Floats, Floats]:
        """Return the difference vectors in one row, and their squares in each light."""
        w = self._vectors + self._slope @ z[:-1]
        return w, (w * w).reshape(self.lights, 3) @ _ONES

    def room(self, z: Floats, w: Floats, square: Floats) -> Floats:
        """Return what is left of everything that holds z, whose `squares` these are, and set its slopes."""
        reach = self.aim + float(z[-1])
        self._along[:, -1] = w * (-1 / reach)
        lights = self.rows[: self.lights]
        lights[:, :-1] = np.matmul((w * (2 / reach)).reshape(self.lights, 1, 3), self._of_light)[:, 0]
        lights[:, -1] = square * (-1 / reach**2) - 1
        return np.concatenate([reach - square / reach, self._limit - self._bounds @ z])

    def system(self, z: Floats, price: Floats, ratio: Floats) -> Floats:
        """Return the curvature of the cost with what holds z, shape (m + 1, m + 1), about where `room` was asked."""
        weight, of_lights = self._weight, 3 * self.lights
        per_light = price[: self.lights] * (2 / (self.aim + float(z[-1])))
        weight[:of_lights].reshape(self.lights, 3)[:] = per_light[:, None]
        weight[of_lights:] = ratio
        system: Floats = (self._both.T * weight) @ self._both
        system.ravel()[:: len(z) + 1] *= 1 + _RIDGE
        return system

    def used(self, left: Floats, along: Floats) -> float:
        """Return how many times the shares' room a move takes, by what is left of `room` and what the move takes."""
        return float(np.maximum.reduce(along[self.lights :] / left[self.lights :]))
