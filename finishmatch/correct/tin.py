"""A tin to be added to, and what may be added to it in any grams: the lightest that reaches an aim, and the nearest."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field, replace

import numpy as np

from finishmatch.colour import Floats
from finishmatch.correct.convex_step import StepCosts, best_shares
from finishmatch.correct.seen_tin import drawn_labs
from finishmatch.evidence.target import ColourTarget
from finishmatch.mix.expected_difference import drawn_differences
from finishmatch.mix.subset_factors import Ints
from finishmatch.mix.weighing import Scale
from finishmatch.optics import TintOptics, mixture_slope, predicted_reflectance

_STEPS = 30  # of the search, at most: four or five do
_EXCESS_COSTS = 300.0  # shares of the tin that one ΔE00 beyond the aim is worth: more than nearness ever costs
_NEAR_ENOUGH = 0.002  # ΔE00: nearer isn't sought
_NEARER_PER_SHARE = 1e-3  # ΔE00: what comes no nearer than that isn't worth as much paint as is in the tin
_LEAST_STEP = 1e-3  # of a step of the search that makes nothing better
_STILL = 3e-5  # share of what is made small: a step that gains less is the last
_OVER = 5e-4  # share of the aim that counts as inside
_LEAST_ROOM = 1e-12
_BINDS = 1 - 1e-3  # of a limit: what weighs less isn't held back by it


class Solved:
    """What was worked out of a tin already: one question comes up again for many aims, scales, limits and parts.

    An addition that a limit of weight doesn't hold back is the answer for every limit that it fits.
    """

    def __init__(self) -> None:
        self.drawn: dict[tuple[bytes, Scale], Floats] = {}
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

    `reading_sd` and `place_sd` are what its spray-out's reading leaves open (`ReadingNoise`); `sprayed` is whether
    there is a reading: else its strengths and pours are as unknown as those of a recipe. `since`, shape (n,), is what
    of `poured` was added after that reading: it is known as what is still to be added is.
    `lab_root` is a root of the covariance, in all lights together, of a difference that was seen beside the standard.
    `counts`, shape (lights,), is how much a difference in each light counts, 1 at most: one that is told less well than
    another counts less. All differences here are counted so; `as_seen` takes that out again.
    """

    optics: TintOptics
    poured: Floats
    total: float
    offset: Floats
    lab_offset: Floats | None
    target: ColourTarget
    log_covariance: Floats
    reading_sd: Floats | float
    place_sd: Floats | float = 0.0
    sprayed: bool = True
    lab_root: Floats | None = None
    since: Floats | float = 0.0
    counts: Floats | float = 1.0
    solved: Solved = field(default_factory=Solved, repr=False, compare=False)

    def vectors(self, added: Floats) -> tuple[Floats, Floats]:
        """Return the difference vectors, (lights, 3), after adding grams (n,), and their slopes, (lights, 3, n)."""
        dry = self.optics.dry_ml_per_g
        optics = self.optics
        r, slope = mixture_slope((self.poured + added) * dry, optics.K, optics.S, optics.surface, optics.backing)
        vectors, per_r = self.moved().vectors_and_slope(r + self.offset)
        counts = np.reshape(self.counts, (-1, 1))
        return counts * vectors, counts[..., None] * (per_r @ (slope * dry[:, None]).T)

    def differences(self, added: Floats) -> Floats:
        """Return ΔE00 in each light as far as it counts, shape (..., lights)."""
        return self.counts * self.moved().differences(self.reflectance(added))

    def as_seen(self, differences: Floats) -> Floats:
        """Return ΔE00 in each light whatever it counts, shape (..., lights)."""
        return np.asarray(differences / self.counts)

    def worst_seen(self, added: Floats) -> float:
        """Return ΔE00 after adding grams, shape (n,), in the light that counts most there."""
        differences = self.differences(added)
        return float(self.as_seen(differences)[int(differences.argmax())])

    def reflectance(self, added: Floats) -> Floats:
        """Return the predicted spectrum after adding grams, shape (..., 31)."""
        return predicted_reflectance(self.optics, self.poured + added) + self.offset

    def moved(self) -> ColourTarget:
        """Return the target less what parts reading and model, when that is known as CIELAB only."""
        if self.lab_offset is None:
            return self.target
        return replace(self.target, labs=self.target.labs - self.lab_offset)

    def grown(self, added: Floats) -> Tin:
        """Return the tin with grams in it, shape (n,), that were added since its spray-out was read."""
        total = self.total + float(added.sum())
        return replace(self, poured=self.poured + added, total=total, since=self.since + added, solved=Solved())

    def drawn(self, added: Floats, scale: Scale) -> Floats:
        """Return draws of what counts of the difference in each light after adding grams, shape (draws, lights)."""
        key = (added.tobytes(), scale)
        if key not in self.solved.drawn:
            self.solved.drawn[key] = self._drawn(added, scale)
        return self.solved.drawn[key]

    def _drawn(self, added: Floats, scale: Scale) -> Floats:
        used = np.flatnonzero(self.poured + added > 0)
        target, pours, since = self.moved(), scale.pour_sd_g(added), self.since + np.zeros(len(added))
        if self.sprayed:
            pours = np.hypot(*(np.where(grams > 0, scale.pour_sd_g(grams), 0.0) for grams in (since, added)))
        return self.counts * drawn_differences(
            target if self.lab_root is None else replace(target, labs=drawn_labs(target.labs, self.lab_root)),
            self.optics.chosen([self.optics.names[i] for i in used]),
            (self.poured + added)[used],
            pours[used],
            self.log_covariance[np.ix_(used, used)],
            self.offset,
            self.reading_sd,
            (self.poured - since)[used] if self.sprayed else None,
            self.place_sd,
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
    known = tin.solved.known_nearest(grams.key, grams.limit)
    if known is None or tin.differences(known).max() <= aim:
        costs = grams.costs(aim, _EXCESS_COSTS, 1.0)

        def lightest(start: Floats) -> Floats | None:
            x, worst = _least(grams, costs, start)
            return grams.spread(x) if worst <= aim * (1 + _OVER) else None

        first = np.zeros(len(grams.members)) if near is None else np.minimum(grams.shares(near), grams.upper)
        if (found := lightest(first)) is not None:
            return found
        nearest = _nearest(grams)
        if tin.differences(nearest).max() <= aim:
            found = lightest(grams.shares(nearest))
            return nearest if found is None else found
    return None  # nothing does


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
    x, worst = _least(grams, grams.costs(_NEAR_ENOUGH, 1.0, _NEARER_PER_SHARE), np.zeros(len(grams.members)))
    nothing = np.zeros(grams.count)
    return grams.spread(x) if worst < grams.tin.differences(nothing).max() else nothing


def _least(grams: _Shares, costs: StepCosts, start: Floats) -> tuple[Floats, float]:
    """Return the shares that cost least, (m,), and their worst light.

    Each step is the best where the differences are linear as at the last (`best_shares`), shortened until it costs
    less.
    """
    x = start
    vectors, slope = grams.vectors(x)

    def cost(x: Floats, vectors: Floats) -> float:
        return float(costs.weight * x.sum() + costs.excess * max(_longest(vectors) - costs.aim, 0.0))

    now = cost(x, vectors)
    for _ in range(_STEPS):
        towards, step, after = best_shares(vectors - slope @ x, slope, costs) - x, 1.0, np.inf
        promised = cost(x + towards, vectors + slope @ towards)
        while step >= _LEAST_STEP and after > now:
            moved = x + step * towards
            new_vectors, new_slope = grams.vectors(moved)
            after, step = cost(moved, new_vectors), step / 3
        if after > now:
            break
        gained, now, x, vectors, slope = now - after, after, moved, new_vectors, new_slope
        if gained <= _STILL * now or abs(now - promised) <= _STILL * now:
            break
    return x, _longest(vectors)


def _longest(vectors: Floats) -> float:
    """Return the difference in the worst light, of vectors of shape (lights, 3)."""
    return float(np.sqrt((vectors**2).sum(axis=1).max()))


class _Shares:
    """Additions of some tints as shares of the tin."""

    def __init__(self, tin: Tin, members: Ints, room: Floats, most: float) -> None:
        self.tin, self.members, self.count = tin, members, len(room)
        self.most = most / tin.total
        self.upper = np.minimum(room[members], most) / tin.total
        self.limit, self.key = most, (members.tobytes(), room[members].tobytes())

    def spread(self, x: Floats) -> Floats:
        """Return the grams of all tints, shape (n,)."""
        added = np.zeros(self.count)
        added[self.members] = x * self.tin.total
        return added

    def shares(self, added: Floats) -> Floats:
        """Return the shares of grams of all tints."""
        shares: Floats = added[self.members] / self.tin.total
        return shares

    def vectors(self, x: Floats) -> tuple[Floats, Floats]:
        """Return the difference vectors after adding shares, (lights, 3), and their slopes, (lights, 3, m)."""
        vectors, per_gram = self.tin.vectors(self.spread(x))
        return vectors, per_gram[:, :, self.members] * self.tin.total

    def costs(self, aim: float, excess: float, weight: float) -> StepCosts:
        """Return what is made small within the room there is."""
        return StepCosts(aim, excess, weight, np.maximum(self.upper, _LEAST_ROOM), max(self.most, _LEAST_ROOM))
