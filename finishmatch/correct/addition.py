"""The lightest addition that brings a tin inside a tolerance, and the nearest one, in whole scale steps."""

from __future__ import annotations

import numpy as np

from finishmatch.colour import Floats
from finishmatch.correct.tin import Tin, nearest_smooth, smooth_addition
from finishmatch.mix.subset_factors import Ints
from finishmatch.mix.weighing import Scale, weighed_grams

MOST_ADDITIONS = 4  # more than a painter would pour for one correction («common practice»)
_STRONG_TINTS_LEFT_OUT = 3
EXTRA_PART_SHARE = 0.005  # share of the batch that another part must save to be worth pouring
_NEAR_ENOUGH_DE00 = 0.02  # nearer than this isn't sought
_ROUNDED = 1e-3  # ΔE00: one aim serves several limits of weight then, and is solved for once
_NO_PART = 0.02  # of a step: what is less is no part
_LOST_TO_STEPS = np.geomspace(0.002, 0.9, 5)
Tried = list[tuple[float, Floats]]


def least_addition(
    tin: Tin, room: Floats, aim: float, most: float, scale: Scale, tried: Tried | None = None
) -> Floats | None:
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
    tried : list of (worst light, ndarray of shape (n,)) or None
        Filled with the nearest of the weighable additions that were looked at, inside the tolerance or not.

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
        smooth = smooth_addition(tin, np.flatnonzero(allowed), room, aim, most)
        if smooth is None:
            return None
        found = _weighable_of(tin, smooth, room, aim, most, scale, [] if tried is None else tried)
        if found:
            worth = EXTRA_PART_SHARE * tin.total
            return min(found, key=lambda added: float(added.sum() + (added > 0).sum() * worth))
        # too strong for this scale: a weaker tint does what less than the smallest part of it would
        count = len(room)
        too_little = (smooth > _NO_PART * scale.steps_g(count)) & (smooth < scale.smallest_parts_g(count))
        if not too_little.any():
            return None
        allowed &= ~too_little
    return None


def _weighable_of(
    tin: Tin, smooth: Floats, room: Floats, aim: float, most: float, scale: Scale, tried: Tried
) -> list[Floats]:
    """Return weighable additions of the tints of a smooth one, leaving out the smallest part again and again."""
    steps = scale.steps_g(len(room))
    members = np.array([i for i in np.argsort(-smooth, kind="stable") if smooth[i] > _NO_PART * steps[i]])
    found: list[Floats] = []
    exact: Floats | None = smooth
    while len(members):
        exact = smooth_addition(tin, members, room, aim, most, exact)
        if exact is None:
            break
        if len(members) <= MOST_ADDITIONS + 1:
            stepped = _stepped(tin, exact, members, room, aim, most, scale, tried)
            if stepped is not None and (stepped > 0).sum() <= MOST_ADDITIONS:
                found.append(stepped)
        members = members[np.argsort(-exact[members], kind="stable")][:-1]
    return found


def nearest_addition(tin: Tin, room: Floats, most: float, scale: Scale) -> Floats:
    """Return the weighable addition of at most `most` grams that comes nearest to the target, shape (n,).

    Nothing is added where no addition comes nearer. How near one may come in any grams is solved for directly; in whole
    scale steps that aim is let go little by little. One aim may be missed and a nearer one met: where small parts can't
    be weighed, more of each, that make up for one another, can.
    """
    nothing = np.zeros(len(room))
    now = float(tin.differences(nothing).max())
    high = float(tin.differences(nearest_smooth(tin, np.flatnonzero(room > 0), room, most)).max())
    # of what any grams bring, whole steps lose a little as a rule and much where parts are too small to weigh
    aims = np.ceil((max(high, _NEAR_ENOUGH_DE00) + max(now - high, 0.0) * _LOST_TO_STEPS) / _ROUNDED) * _ROUNDED
    tried: Tried = [(now, nothing)]
    for aim in aims[aims < now]:
        added = least_addition(tin, room, float(aim), most, scale, tried)
        if added is not None and min(tried, key=_worst)[0] >= aim - _NEAR_ENOUGH_DE00:
            return added  # the lightest inside the aim, and none that was tried comes clearly nearer
        if added is not None:
            break
    return min(tried, key=_worst)[1]


def _worst(one: tuple[float, Floats]) -> float:
    return one[0]


def _stepped(
    tin: Tin, exact: Floats, members: Ints, room: Floats, aim: float, most: float, scale: Scale, tried: Tried
) -> Floats | None:
    """Return the lightest addition near an exact one in whole scale steps that stays inside `aim`, or None."""
    index = members
    steps = scale.steps_g(len(room))[index]
    base = np.floor(exact[index] / steps).astype(int)
    lowest_of = np.ceil(scale.smallest_parts_g(len(room))[index] / steps - 1e-9).astype(int)
    highest = np.floor(np.minimum(room[index], most) / steps + 1e-9)
    choices = []
    for middle, lowest, largest in zip(base, lowest_of, highest, strict=True):
        counts = np.arange(middle - 1, middle + 4)
        counts = np.unique(np.where((counts > 0) & (counts < lowest), lowest, counts))
        choices.append(counts[(counts >= 0) & (counts <= largest)])
    weights = np.stack(np.meshgrid(*choices, indexing="ij"), axis=-1).reshape(-1, len(index)) * steps
    weights = weights[weights.sum(axis=1) <= most * (1 + 1e-9)]
    if not len(weights):
        return None
    added = np.zeros((len(weights), len(room)))
    added[:, index] = weights
    worst = tin.differences(added).max(axis=-1)
    few = np.where((added > 0).sum(axis=1) <= MOST_ADDITIONS, worst, np.inf)
    tried.append((float(few.min()), weighed_grams(added[int(few.argmin())], float(steps.min()))))
    good = worst <= aim
    if not good.any():
        return None
    added, worst = added[good], worst[good]
    at = np.lexsort((worst, np.round(added.sum(axis=1), 6)))[0]
    return weighed_grams(added[at], float(steps.min()))
