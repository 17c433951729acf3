"""The rest of a batch of which a part was poured and sprayed: what brings the whole nearest to its target."""

from __future__ import annotations

from itertools import product

import numpy as np

from finishmatch.colour import Floats
from finishmatch.correct.surer_addition import average_cost
from finishmatch.correct.tin import Tin, nearest_smooth
from finishmatch.mix.subset_factors import Ints
from finishmatch.mix.weighing import Scale, weighed_grams

_CLEARLY = 0.02  # ΔE00 on the average that a tint which isn't in the batch yet must bring
_MOST_NEW = 2  # tints that come in with the rest: more than that is another recipe
_ROUNDED_PARTS = 6  # of which all ways to round are looked at


def rest_of_batch(tin: Tin, room: Floats, free: float, scale: Scale) -> Floats | None:
    """Return what fills a tin up to the batch that was wanted and brings it nearest on the average, or None.

    Parameters
    ----------
    tin : Tin
    room : ndarray, shape (n,)
        Grams of each tint in stock that can be weighed in.
    free : float
        Grams that the batch still lacks, above 0.
    scale : Scale

    Returns
    -------
    ndarray, shape (n,), or None
        Grams to add, of `free` together but for rounding; None where the stock doesn't do.

    Notes
    -----
    What comes nearest in at most so many grams comes as near when tin and addition grow alike, so the lightest of that
    is sought and the batch filled up with what it then is. Another tint than those in the tin must bring what a
    painter would see: no card has shown how strong it is.
    """
    best, least = None, np.inf
    members = np.flatnonzero(tin.poured > 0)
    for new in range(_MOST_NEW + 1):
        if new:
            left = float(tin.differences(nearest_smooth(tin, members, room, free)).max())
            more = None if left <= _CLEARLY else _next_tint(tin, members, room, free)  # what isn't off can't be mended
            if more is None:
                break
            members = np.append(members, more)
        filled = filled_up(tin, nearest_smooth(tin, members, room, free), room, free, scale)
        cost = np.inf if filled is None else average_cost(tin, filled, scale)
        if cost > least - (_CLEARLY if best is not None else 0.0):
            break
        best, least = filled, cost
    return best


def _next_tint(tin: Tin, members: Ints, room: Floats, free: float) -> int | None:
    """Return the tint that brings the tin nearest beside those named, or None where there is none."""
    others = [int(i) for i in np.flatnonzero(room > 0) if i not in members]

    def worst(tint: int) -> float:
        return float(tin.differences(nearest_smooth(tin, np.append(members, tint), room, free)).max())

    return min(others, key=worst, default=None)


def filled_up(tin: Tin, added: Floats, room: Floats, free: float, scale: Scale) -> Floats | None:
    """Return an addition with as much more of all that is in the tin then as the batch still lacks, in whole steps.

    Parameters
    ----------
    tin, room, free, scale
        As for `rest_of_batch`.
    added : ndarray, shape (n,)
        Of `free` grams at most.

    Returns
    -------
    ndarray, shape (n,), or None
        None where the stock doesn't do.
    """
    whole = tin.poured + added
    exact = whole * ((tin.poured.sum() + free) / whole.sum()) - tin.poured
    steps, smallest = scale.steps_g(len(room)), scale.smallest_parts_g(len(room))
    largest = int(np.argmax(exact))
    others = [int(i) for i in np.argsort(exact, kind="stable") if exact[i] > 0 and i != largest]
    counts = exact / steps
    ways = [
        sorted(
            {_weighable(np.floor(counts[i]), i, smallest / steps), _weighable(np.ceil(counts[i]), i, smallest / steps)}
        )
        if at < _ROUNDED_PARTS
        else [_weighable(np.round(counts[i]), i, smallest / steps)]
        for at, i in enumerate(others)
    ]
    added = np.zeros((int(np.prod([len(way) for way in ways])), len(room)))
    added[:, others] = np.array(list(product(*ways)), dtype=float).reshape(len(added), len(others)) * steps[others]
    added[:, largest] = np.round((free - added.sum(axis=1)) / steps[largest]) * steps[largest]
    added = added[(added[:, largest] >= smallest[largest]) & (added <= room + 1e-9).all(axis=1)]
    if not len(added):
        return None
    return weighed_grams(added[int(tin.differences(added).max(axis=-1).argmin())], float(steps.min()))


def _weighable(count: float, tint: int, smallest: Floats) -> float:
    """Return scale steps of a part as they can be weighed: none, or no fewer than the smallest part has."""
    least = float(np.ceil(smallest[tint] - 1e-9))
    return 0.0 if count < least / 2 else max(float(count), least)
