"""The lightest addition that brings a tin inside a tolerance, in any grams and in whole scale steps."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from finishmatch.colour import Floats
from finishmatch.match.expected import drawn_differences
from finishmatch.match.subsets import Ints
from finishmatch.match.target import ColourTarget
from finishmatch.match.weighing import Scale, weighed_grams
from finishmatch.optics import TintOptics, mixture_slope, predicted_reflectance

MOST_ADDITIONS = 4  # more than a painter would pour for one correction («common practice»)
_STRONG_TINTS_LEFT_OUT = 3
EXTRA_PART_SHARE = 0.005  # share of the batch that another part must save to be worth pouring


@dataclass(frozen=True)
class Tin:
    """The tin as it stands: all tints in one order, what is in it, and how its reading departs from the model."""

    optics: TintOptics
    poured: Floats
    total: float
    offset: Floats
    lab_offset: Floats | None
    target: ColourTarget
    log_covariance: Floats
    reading_sd: float

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
        used = np.flatnonzero(self.poured + added > 0)
        return drawn_differences(
            self.moved(),
            self.optics.chosen([self.optics.names[i] for i in used]),
            (self.poured + added)[used],
            step_g,
            self.log_covariance[np.ix_(used, used)],
            self.offset,
            self.reading_sd,
        )


def least_addition(tin: Tin, room: Floats, aim: float, most: float, scale: Scale) -> Floats | None:
    """Return the lightest weighable addition whose worst light is inside a tolerance.

    Parameters
    ----------
    tin : Tin
    room : ndarray, shape (n,)
        Grams of each tint in stock.
    aim : float
        ΔE00 in the worst light.
    most : float
        Most grams that may be added in all.
    scale : Scale

    Returns
    -------
    ndarray, shape (n,), or None
        None when there is none.

    Notes
    -----
    The lightest addition over all tints at once (SLSQP) uses few of them; then the smallest part is left out again and
    again, and the version is kept that adds least, another part being worth 0.5 % of the batch.
    """
    allowed = room > 0
    for _ in range(_STRONG_TINTS_LEFT_OUT + 1):
        smooth = _minimise(tin, np.flatnonzero(allowed), room, aim, most)
        if smooth is None:
            return None
        found = _weighable_of(tin, smooth, room, aim, most, scale)
        if found:
            worth = EXTRA_PART_SHARE * tin.total
            return min(found, key=lambda added: float(added.sum() + (added > 0).sum() * worth))
        # too strong for this scale: a weaker tint does what less than the smallest part of it would
        too_little = (smooth > 0.02 * scale.step_g) & (smooth < scale.smallest_g)
        if not too_little.any():
            return None
        allowed &= ~too_little
    return None


def _weighable_of(tin: Tin, smooth: Floats, room: Floats, aim: float, most: float, scale: Scale) -> list[Floats]:
    """Return weighable additions of the tints of a smooth one, leaving out the smallest part again and again."""
    members = np.array([i for i in np.argsort(-smooth, kind="stable") if smooth[i] > 0.02 * scale.step_g])
    found: list[Floats] = []
    while len(members):
        exact = _minimise(tin, members, room, aim, most)
        if exact is None:
            break
        if len(members) <= MOST_ADDITIONS + 1:
            stepped = _stepped(tin, exact, members, room, aim, most, scale)
            if stepped is not None and (stepped > 0).sum() <= MOST_ADDITIONS:
                found.append(stepped)
        members = members[np.argsort(-exact[members], kind="stable")][:-1]
    return found


def nearest_addition(tin: Tin, room: Floats, most: float, scale: Scale) -> Floats:
    """Return the weighable addition of at most `most` grams that comes nearest to the target, shape (n,)."""
    nothing = np.zeros(len(room))
    low, high = 0.0, float(tin.differences(nothing).max())
    everything = np.flatnonzero(room > 0)
    for _ in range(7):
        aim = (low + high) / 2
        low, high = (aim, high) if _minimise(tin, everything, room, aim, most) is None else (low, aim)
    for slack in (1.0, 1.02, 1.05, 1.1, 1.2, 1.5):
        added = least_addition(tin, room, high * slack, most, scale)
        if added is not None:
            return added
    return nothing


def _minimise(tin: Tin, members: Ints, room: Floats, aim: float, most: float) -> Floats | None:
    """Return the lightest addition of some tints that brings every light inside `aim`, in any grams, or None."""
    from scipy.optimize import minimize

    index = members
    size = tin.total
    upper = np.minimum(room[index], most) / size

    def spread(x: Floats) -> Floats:
        added = np.zeros(len(room))
        added[index] = x * size
        return added

    def inside(x: Floats) -> Floats:
        vectors, _ = tin.vectors(spread(x))
        left: Floats = 1 - (vectors**2).sum(axis=1) / aim**2
        return left

    def inside_slope(x: Floats) -> Floats:
        vectors, per_gram = tin.vectors(spread(x))
        slope: Floats = -2 * (vectors[:, :, None] * per_gram[:, :, index]).sum(axis=1) * size / aim**2
        return slope

    constraints = [
        {"type": "ineq", "fun": inside, "jac": inside_slope},
        {"type": "ineq", "fun": lambda x: most / size - x.sum(), "jac": lambda x: -np.ones(len(x))},
    ]
    for start in _starts(tin, index, upper, most / size):
        found: Any = minimize(
            lambda x: x.sum(),
            start,
            jac=lambda x: np.ones(len(x)),
            bounds=[(0, u) for u in upper],
            constraints=constraints,
            method="SLSQP",
            options={"maxiter": 80, "ftol": 1e-8},
        )
        if (inside(found.x) >= -1e-3).all() and found.x.sum() <= most / size * (1 + 1e-6):
            return np.maximum(spread(found.x), 0)
    return None


def _starts(tin: Tin, index: Ints, upper: Floats, most: float) -> list[Floats]:
    """Return where to start from: the linear solution of meeting the target, and a little of everything."""
    from scipy.optimize import nnls

    vectors, per_gram = tin.vectors(np.zeros(len(tin.poured)))
    rows = per_gram[:, :, index].reshape(-1, len(index)) * tin.total
    linear = np.minimum(nnls(rows, -vectors.ravel())[0], upper)
    if linear.sum() > most:
        linear *= most / linear.sum()
    return [linear, np.minimum(upper, 0.3 * most / len(index))]


def _stepped(
    tin: Tin, exact: Floats, members: Ints, room: Floats, aim: float, most: float, scale: Scale
) -> Floats | None:
    """Return the lightest addition near an exact one in whole scale steps that stays inside `aim`, or None."""
    index = members
    base = np.floor(exact[index] / scale.step_g).astype(int)
    reach = np.arange(-1, 4)
    grid = np.stack(np.meshgrid(*[base[i] + reach for i in range(len(index))], indexing="ij"), axis=-1)
    counts = grid.reshape(-1, len(index))
    lowest = scale.smallest_steps
    counts = np.where((counts > 0) & (counts < lowest), lowest, counts)
    weights = counts * scale.step_g
    fits = (counts >= 0).all(axis=1) & (weights <= room[index]).all(axis=1) & (weights.sum(axis=1) <= most * (1 + 1e-9))
    weights = weights[fits]
    if not len(weights):
        return None
    added = np.zeros((len(weights), len(room)))
    added[:, index] = weights
    worst = tin.differences(added).max(axis=-1)
    good = worst <= aim
    if not good.any():
        return None
    added, worst = added[good], worst[good]
    at = np.lexsort((worst, np.round(added.sum(axis=1), 6)))[0]
    return weighed_grams(added[at], scale.step_g)
