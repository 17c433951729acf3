"""The lightest addition that brings a tin inside a tolerance, in any grams and in whole scale steps."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from finishmatch.colour import Floats
from finishmatch.match.strength import predicted_reflectance
from finishmatch.match.subsets import Ints
from finishmatch.match.target import ColourTarget
from finishmatch.match.weighing import Scale, weighed_grams
from finishmatch.optics import TintOptics, mixture_slope

MOST_ADDITIONS = 4  # more than a painter would pour for one correction («common practice»)
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

    def vectors(self, added: Floats) -> tuple[Floats, Floats]:
        """Return the difference vectors, (lights, 3), after adding grams (n,), and their slopes, (lights, 3, n)."""
        dry = self.optics.dry_ml_per_g
        r, slope = mixture_slope((self.poured + added) * dry, self.optics.K, self.optics.S, self.optics.surface)
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
        t = self.target
        return ColourTarget(t.name, t.reflectance, t.lights, t.observer, t.labs - self.lab_offset)


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
    smooth = _minimise(tin, np.flatnonzero(room > 0), room, aim, most)
    if smooth is None:
        return None
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
    if not found:
        return None
    return min(found, key=lambda added: float(added.sum() + (added > 0).sum() * EXTRA_PART_SHARE * tin.total))


def nearest_addition(tin: Tin, room: Floats, most: float, scale: Scale) -> Floats:
    """Return the weighable addition of at most `most` grams that comes nearest to the target, shape (n,)."""
    nothing = np.zeros(len(room))
    low, high = 0.0, float(tin.differences(nothing).max())
    everything = np.flatnonzero(room > 0)
    for _ in range(10):
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
            options={"maxiter": 200, "ftol": 1e-8},
        )
        if (inside(found.x) >= -1e-3).all() and found.x.sum() <= most / size * (1 + 1e-6):
            return np.maximum(spread(found.x), 0)
    return None


def _starts(tin: Tin, index: Ints, upper: Floats, most: float) -> list[Floats]:
    """Return where to start from: the linear solution of meeting the target, nothing, and a little of everything."""
    from scipy.optimize import nnls

    vectors, per_gram = tin.vectors(np.zeros(len(tin.poured)))
    rows = per_gram[:, :, index].reshape(-1, len(index)) * tin.total
    linear = np.minimum(nnls(rows, -vectors.ravel())[0], upper)
    if linear.sum() > most:
        linear *= most / linear.sum()
    return [linear, np.zeros(len(index)), np.minimum(upper, 0.3 * most / len(index))]


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
