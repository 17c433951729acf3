"""The addition that comes nearest on the average for its paint, where none is likely to end inside the tolerance."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence

import numpy as np

from finishmatch.colour import Floats
from finishmatch.correct.addition import least_addition, nearest_addition
from finishmatch.correct.likeliest_addition import AIMS, chance_after
from finishmatch.correct.tin import Tin, nearest_smooth
from finishmatch.mix.weighing import Scale

LIKELY = 0.5  # a chance of being inside from which that chance is what counts
DE00_PER_GROWTH = 1.0  # a tin that grows by a tenth more must come nearer by ΔE00 0.1 on the average: a choice
SHARE_PER_GROWTH = 2.0  # of what stays outside a tenth more must bring nearer by a fifth of the tolerance: a choice
_CLEARLY = 0.02  # ΔE00 that is worth another addition
_UNSURE_SD = 0.1  # of the logarithm of a strength: a tin known less that isn't in the batch is gone without as well
_LESS = (0.25, 0.5)  # shares of the most that may be added


def surer_addition(tin: Tin, room: Floats, added: Floats, tolerance: float, most: float, scale: Scale) -> Floats:
    """Return an addition inside the tolerance that comes nearer on the average for its paint, or the one given.

    Parameters
    ----------
    tin : Tin
    room : ndarray, shape (n,)
        Grams of each tint in stock.
    added : ndarray, shape (n,)
        The likeliest addition, in grams.
    tolerance : float
        ΔE00 in the worst light.
    most : float
        Most grams that may be added in all.
    scale : Scale

    Notes
    -----
    Where a tolerance is narrower than what pours, stirring and unknown tins leave open, all additions are unlikely to
    end inside it, and the chance of it no longer tells them apart. A drop of a strong tint, or of a tin that no card
    was sprayed of, may be right on the average and far off each time; and much white may be poured for a difference
    that the next card drowns. So the same is tried without such tins, without each of its parts, and with less.
    """
    if chance_after(tin, added, tolerance, scale) >= LIKELY:
        return added

    others = [
        one for one in _others(tin, room, added, tolerance, most, scale) if tin.differences(one).max() <= tolerance
    ]
    least, best = min(((average_cost(tin, one, scale), i) for i, one in enumerate(others)), default=(np.inf, -1))
    return others[best] if least < average_cost(tin, added, scale) - _CLEARLY else added


def average_cost(tin: Tin, added: Floats, scale: Scale) -> float:
    """Return the ΔE00 of the next card on the average, in the worst light, and what the paint added is worth."""
    return float(tin.drawn(added, scale).max(axis=1).mean()) + DE00_PER_GROWTH * float(added.sum()) / tin.total


def nearest_for_its_paint(
    tin: Tin, additions: Sequence[Floats], growth: Callable[[Floats], float], tolerance: float, scale: Scale
) -> Floats:
    """Return which of some additions outside the tolerance comes nearest on the average for its paint, shape (n,).

    Parameters
    ----------
    tin : Tin
    additions : sequence of ndarray, shape (n,)
        Grams.
    growth : callable
        By what share the tin outgrows its batch with grams, shape (n,).
    tolerance : float
        ΔE00 that is asked for in the worst light.
    scale : Scale

    Notes
    -----
    A fifth more paint for a difference that nobody sees is poured away: what stays outside the tolerance all the same
    must come nearer for it (`SHARE_PER_GROWTH`). Of two that are as good the lighter one is taken.
    """
    per_growth = SHARE_PER_GROWTH * tolerance
    costs = [float(tin.drawn(added, scale).max(axis=1).mean()) + per_growth * growth(added) for added in additions]
    good = [added for added, cost in zip(additions, costs, strict=True) if cost <= min(costs) + _CLEARLY]
    return min(good, key=lambda added: float(added.sum()))


def _others(tin: Tin, room: Floats, added: Floats, tolerance: float, most: float, scale: Scale) -> Iterator[Floats]:
    """Yield additions that may be surer."""

    def nearest(room: Floats, most: float) -> Iterator[Floats]:
        # whole steps come no nearer than any grams do
        exact = nearest_smooth(tin, np.flatnonzero(room > 0), room, most)
        if tin.differences(exact).max() <= tolerance:
            yield nearest_addition(tin, room, most, scale)

    unsure = (tin.poured == 0) & (np.sqrt(np.diag(tin.log_covariance)) > _UNSURE_SD)
    if added[unsure].any():
        yield from nearest(np.where(unsure, 0.0, room), most)
    for part in np.flatnonzero(added):
        without = np.arange(len(added)) == part
        yield np.where(without, 0.0, added)
        yield from nearest(np.where(without, 0.0, room), most)
    for aim in AIMS:
        nearer = least_addition(tin, room, aim * tolerance, most, scale)
        if nearer is not None:
            yield nearer
    for share in _LESS:
        yield from nearest(room, share * most)
