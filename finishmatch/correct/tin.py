"""A tin to be added to, and what may be added to it in any grams: the lightest that reaches an aim, and the nearest."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field, replace
from typing import Any

import numpy as np
from scipy.optimize import minimize, nnls

from finishmatch.colour import Floats
from finishmatch.correct.seen_tin import drawn_labs
from finishmatch.evidence.target import ColourTarget
from finishmatch.mix.expected_difference import drawn_differences
from finishmatch.mix.subset_factors import Ints
from finishmatch.optics import TintOptics, mixture_slope, predicted_reflectance

_STEPS = 80  # of the solver, at most
_SOON_DONE = 20  # steps within which an addition that there is is found as a rule
_BINDS = 1 - 1e-3  # of a limit: what weighs less isn't held back by it


class Solved:
    """What was worked out of a tin already: one question comes up again for many aims, scales, limits and parts.

    An addition that a limit of weight doesn't hold back is the answer for every limit that it fits.
    """

    def __init__(self) -> None:
        self.drawn: dict[tuple[bytes, float], Floats] = {}
        self._lightest: dict[tuple[bytes, bytes, float], list[tuple[float, Floats | None]]] = {}
        self._nearest: dict[tuple[bytes, bytes], list[tuple[float, Floats]]] = {}

    def lightest(
        self, key: tuple[bytes, bytes, float], most: float, solve: Callable[[], Floats | None]
    ) -> Floats | None:
        """Return the lightest addition of at most `most` grams, known or solved for now."""
        known = self._lightest.setdefault(key, [])
        for limit, added in known:
            if added is None and most <= limit:
                return None
            if added is not None and added.sum() <= most:
                return added
        known.append((most, solve()))
        return known[-1][1]

    def nearest(self, key: tuple[bytes, bytes], most: float, solve: Callable[[], Floats]) -> Floats:
        """Return the nearest addition of at most `most` grams, known or solved for now."""
        if (added := self.known_nearest(key, most)) is None:
            added = solve()
            self._nearest.setdefault(key, []).append((most, added))
        return added

    def known_nearest(self, key: tuple[bytes, bytes], most: float) -> Floats | None:
        """Return the nearest addition of at most `most` grams, or None where it wasn't solved for yet."""
        for limit, added in self._nearest.get(key, []):
            if limit == most or added.sum() <= _BINDS * min(limit, most):
                return added
        return None


@dataclass(frozen=True)
class Tin:
    """The tin as it stands: all tints in one order, what is in it, and how its reading departs from the model.

    `sprayed` is whether there is a reading: else its strengths and pours are as unknown as those of a recipe.
    `lab_root` is a root of the covariance, in each light, of a difference that was seen beside the standard.
    """

    optics: TintOptics
    poured: Floats
    total: float
    offset: Floats
    lab_offset: Floats | None
    target: ColourTarget
    log_covariance: Floats
    reading_sd: Floats | float
    sprayed: bool = True
    lab_root: Floats | None = None
    solved: Solved = field(default_factory=Solved, repr=False, compare=False)

    def vectors(self, added: Floats) -> tuple[Floats, Floats]:
        """Return the difference vectors, (lights, 3), after adding grams (n,), and their slopes, (lights, 3, n)."""
        dry = self.optics.dry_ml_per_g
        optics = self.optics
        r, slope = mixture_slope((self.poured + added) * dry, optics.K, optics.S, optics.surface, optics.backing)
        vectors, per_r = self.moved().vectors_and_slope(r + self.offset)
        return vectors, per_r @ (slope * dry[:, None]).T

    def differences(self, added: Floats) -> Floats:
        """Return ΔE00 in each light, shape (..., lights)."""
        return self.moved().differences(self.reflectance(added))

    def reflectance(self, added: Floats) -> Floats:
        """Return the predicted spectrum after adding grams, shape (..., 31)."""
        return predicted_reflectance(self.optics, self.poured + added) + self.offset

    def moved(self) -> ColourTarget:
        """Return the target less what parts reading and model, when that is known as CIELAB only."""
        if self.lab_offset is None:
            return self.target
        return replace(self.target, labs=self.target.labs - self.lab_offset)

    def drawn(self, added: Floats, step_g: float) -> Floats:
        """Return draws of the difference in each light after adding grams, shape (draws, lights)."""
        key = (added.tobytes(), step_g)
        if key not in self.solved.drawn:
            self.solved.drawn[key] = self._drawn(added, step_g)
        return self.solved.drawn[key]

    def _drawn(self, added: Floats, step_g: float) -> Floats:
        used = np.flatnonzero(self.poured + added > 0)
        target = self.moved()
        return drawn_differences(
            target if self.lab_root is None else replace(target, labs=drawn_labs(target.labs, self.lab_root)),
            self.optics.chosen([self.optics.names[i] for i in used]),
            (self.poured + added)[used],
            step_g,
            self.log_covariance[np.ix_(used, used)],
            self.offset,
            self.reading_sd,
            self.poured[used] if self.sprayed else None,
        )


def smooth_addition(
    tin: Tin, members: Ints, room: Floats, aim: float, most: float, near: Floats | None = None
) -> Floats | None:
    """Return the lightest addition of some tints that brings every light inside `aim`, in any grams, or None.

    Parameters
    ----------
    tin : Tin
    members : ndarray of int
        The tints that may be added.
    room : ndarray, shape (n,)
        Grams of each tint in stock.
    aim : float
        ΔE00 in the worst light.
    most : float
        Most grams that may be added in all.
    near : ndarray, shape (n,), or None
        An addition it is likely to lie near, to start from.

    Returns
    -------
    ndarray, shape (n,), or None
    """
    if not len(members):
        return None
    grams = _Shares(tin, np.sort(members), room, most)
    return tin.solved.lightest((*grams.key, aim), most, lambda: _lightest(grams, aim, near))


def _lightest(grams: _Shares, aim: float, near: Floats | None) -> Floats | None:
    """Return the lightest addition inside `aim`, started from where it is likely to lie, or None."""
    tin = grams.tin
    constraints = [
        {
            "type": "ineq",
            "fun": lambda x: np.append(1 - grams.squares(x)[0] / aim**2, grams.most - x.sum()),
            "jac": lambda x: np.vstack([-grams.squares(x)[1] / aim**2, -np.ones(len(x))]),
        }
    ]

    def lightest(start: Floats, steps: int) -> Floats | None:
        x = _solved(lambda x: x.sum(), lambda x: np.ones(len(x)), start, grams.bounds, constraints, 1e-8, steps)
        inside = (1 - grams.squares(x)[0] / aim**2 >= -1e-3).all() and x.sum() <= grams.most * (1 + 1e-6)
        return np.maximum(grams.spread(x), 0) if inside else None

    linear, even = grams.starts()
    first = linear if near is None else np.minimum(grams.shares(near), grams.upper)
    # where nothing reaches the aim the solver is slow to give up: how near any addition comes is asked for sooner
    if tin.solved.known_nearest(grams.key, grams.limit) is None and (found := lightest(first, _SOON_DONE)) is not None:
        return found
    nearest = _nearest(grams)
    if tin.differences(nearest).max() > aim:
        return None  # nothing does, however the solver is started
    starts = (first, grams.shares(nearest), linear, even)
    return next((found for start in starts if (found := lightest(start, _STEPS)) is not None), nearest)


def nearest_smooth(tin: Tin, members: Ints, room: Floats, most: float) -> Floats:
    """Return the addition of some tints, of at most `most` grams, whose worst light is least, in any grams.

    Parameters
    ----------
    tin, members, room, most
        As for `smooth_addition`.

    Returns
    -------
    ndarray, shape (n,)
    """
    if not len(members):
        return np.zeros(len(room))
    return _nearest(_Shares(tin, np.sort(members), room, most))


def _nearest(grams: _Shares) -> Floats:
    """Return the nearest addition, solved for once."""
    return grams.tin.solved.nearest(grams.key, grams.limit, lambda: _minimax(grams))


def _minimax(grams: _Shares) -> Floats:
    """Return the addition whose worst light is least."""
    tin, best = grams.tin, np.zeros(grams.count)
    now = float((tin.vectors(best)[0] ** 2).sum(axis=1).max())
    if now == 0:
        return best
    free = np.append(np.zeros(len(grams.members)), 1.0)  # the last unknown is the worst light, which is brought down
    lights = np.ones((len(tin.target.lights), 1))
    constraints = [
        {
            "type": "ineq",
            "fun": lambda z: np.append(z[-1] - grams.squares(z[:-1])[0] / now, grams.most - z[:-1].sum()),
            "jac": lambda z: np.vstack([np.hstack([-grams.squares(z[:-1])[1] / now, lights]), free - 1]),
        }
    ]
    bounds = [*grams.bounds, (0, None)]
    for start in grams.starts():
        x = _solved(lambda z: z[-1], lambda z: free, np.append(start, 1.0), bounds, constraints, 1e-7, _STEPS)
        x = np.maximum(x[:-1], 0)
        added = grams.spread(x * min(1.0, grams.most / max(float(x.sum()), 1e-12)))
        if tin.differences(added).max() < tin.differences(best).max():
            best = added
    return best


class _Shares:
    """Additions of some tints as shares of the tin, which is the scale that the solver likes."""

    def __init__(self, tin: Tin, members: Ints, room: Floats, most: float) -> None:
        self.tin, self.members, self.count = tin, members, len(room)
        self.most = most / tin.total
        self.upper = np.minimum(room[members], most) / tin.total
        self.bounds: list[tuple[float, float | None]] = [(0, float(u)) for u in self.upper]
        self.limit, self.key = most, (members.tobytes(), room[members].tobytes())
        self._last: tuple[bytes, Floats, Floats] | None = None

    def spread(self, x: Floats) -> Floats:
        """Return the grams of all tints, shape (n,)."""
        added = np.zeros(self.count)
        added[self.members] = x * self.tin.total
        return added

    def shares(self, added: Floats) -> Floats:
        """Return the shares of grams of all tints."""
        shares: Floats = added[self.members] / self.tin.total
        return shares

    def squares(self, x: Floats) -> tuple[Floats, Floats]:
        """Return the squared difference in each light, (lights,), and its slopes, (lights, m)."""
        key = x.tobytes()  # the solver asks for the value and the slope of a point one after the other
        if self._last is None or self._last[0] != key:
            vectors, per_gram = self.tin.vectors(self.spread(x))
            slope = 2 * (vectors[:, :, None] * per_gram[:, :, self.members]).sum(axis=1) * self.tin.total
            self._last = key, (vectors**2).sum(axis=1), slope
        return self._last[1], self._last[2]

    def starts(self) -> tuple[Floats, Floats]:
        """Return where to start from: the linear solution of meeting the target, and a little of everything."""
        vectors, per_gram = self.tin.vectors(np.zeros(self.count))
        rows = per_gram[:, :, self.members].reshape(-1, len(self.members)) * self.tin.total
        linear = np.minimum(nnls(rows, -vectors.ravel())[0], self.upper)
        if linear.sum() > self.most:
            linear *= self.most / linear.sum()
        return linear, np.minimum(self.upper, 0.3 * self.most / len(self.members))


def _solved(
    value: Callable[[Floats], Any],
    slope: Callable[[Floats], Floats],
    start: Floats,
    bounds: list[tuple[float, float | None]],
    constraints: list[dict[str, Any]],
    closeness: float,
    steps: int,
) -> Floats:
    options = {"maxiter": steps, "ftol": closeness}
    found = minimize(value, start, jac=slope, bounds=bounds, constraints=constraints, method="SLSQP", options=options)
    return np.asarray(found.x, dtype=np.float64)
