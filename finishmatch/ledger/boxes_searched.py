"""The nearest colours of an index of boxes: the box that may hold the nearest is opened first, and none in vain."""

from __future__ import annotations

import heapq
from collections.abc import Callable, Mapping
from itertools import count
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from finishmatch.colour import Floats, de00
from finishmatch.colour.least_difference import least_de00
from finishmatch.ledger.colour_trees import Numbers, Tree

HAIR = 1e-9  # ΔE00 that floats may lose
_AT_ONCE, _MOST_AT_ONCE = 16, 128  # boxes opened together, until some colours are found and in the end
_FEW = 32  # boxes that are sooner opened than looked at more closely
_PARTS = (1, 2, 2)  # of lightness, and across: hue and chroma bend there

Keys = NDArray[Any]


class Colours(NamedTuple):
    """Colours of an index: numbers and jobs, shape (n,), and CIELAB, shape (n, 3)."""

    numbers: Numbers
    jobs: Numbers
    labs: Floats


class Boxes(NamedTuple):
    """Boxes of CIELAB, corners of shape (n, 3), and numbers by which each is opened, shape (n, k)."""

    keys: Keys
    low: Floats
    high: Floats


class NearestSoFar:
    """What was found, and within which ΔE00 of it the nearest lie.

    Parameters
    ----------
    most : int
    within : float or None
    without : int or None
        As of `ColourIndex.nearest`.
    """

    def __init__(self, most: int, within: float | None, without: int | None) -> None:
        self._most, self._without = most, without
        self._within = np.inf if within is None else within
        self._away = dict[int, tuple[float, int]]()
        self.last = np.inf

    @property
    def reach(self) -> float:
        """ΔE00 beyond which none of the nearest lies."""
        return max(min(self.last, self._within), 0.0) + HAIR

    def take(self, lab: Floats, colours: Colours) -> None:
        """Take colours in, each with how far it lies from the one that is looked for."""
        if not len(colours.numbers):
            return
        away = de00(lab, colours.labs)
        kept = (colours.jobs != self._without) & (away <= self.reach)
        pairs = zip(away[kept].tolist(), colours.jobs[kept].tolist(), strict=True)
        self._away |= dict(zip(colours.numbers[kept].tolist(), pairs, strict=True))
        if len(self._away) >= self._most:
            self.last = sorted(far for far, _ in self._away.values())[self._most - 1]
            self._away = {number: pair for number, pair in self._away.items() if pair[0] <= self.reach}

    def nearest(self) -> dict[int, int]:
        """Return the numbers of the nearest, each with its job; all that lie as far as the last of them."""
        return {number: job for number, (_, job) in self._away.items()}


def search_boxes(
    wanted: Mapping[Tree, Floats],
    roots: Mapping[Tree, Boxes],
    open_boxes: Callable[[Tree, Keys], Boxes],
    nearest: NearestSoFar,
) -> None:
    """Find the nearest colours.

    Parameters
    ----------
    wanted : mapping of Tree to ndarray, shape (3,)
        What is looked for.
    roots : mapping of Tree to Boxes
        What is opened first.
    open_boxes : callable
        Opens boxes of a tree, by their keys: has the colours in them taken in, or returns the boxes that are in them.
    nearest : NearestSoFar

    Notes
    -----
    Several are opened at once, some of them in vain, since asking for one takes nearly as long; the more the longer it
    takes.
    """
    waiting = list[tuple[float, int, Tree, Keys]]()
    order = count()

    def put(tree: Tree, boxes: Boxes) -> None:
        if len(boxes.keys):
            least = least_de00(wanted[tree], boxes.low, boxes.high)
            near = np.flatnonzero(least <= nearest.reach)
            if np.isfinite(nearest.reach) and len(near) > _FEW:
                least[near] = _least_of_parts(wanted[tree], boxes.low[near], boxes.high[near])
                near = near[least[near] <= nearest.reach]
            for i in near.tolist():
                heapq.heappush(waiting, (float(least[i]), next(order), tree, boxes.keys[i]))

    for tree, boxes in roots.items():
        put(tree, boxes)
    most = _AT_ONCE
    while waiting and waiting[0][0] <= nearest.reach:
        tree, some = waiting[0][2], list[Keys]()
        while waiting and len(some) < most and waiting[0][0] <= nearest.reach and waiting[0][2] == tree:
            some.append(heapq.heappop(waiting)[3])
        put(tree, open_boxes(tree, np.stack(some)))
        if np.isfinite(nearest.reach):
            most = min(2 * most, _MOST_AT_ONCE)


def _least_of_parts(lab: Floats, low: Floats, high: Floats) -> Floats:
    """Return what `least_de00` says of the parts of boxes, the least of each box: it says more of small ones."""
    return np.asarray(least_de00(lab, *cut(low, high, _PARTS)).reshape(len(low), -1).min(axis=1))


def cut(low: Floats, high: Floats, parts: tuple[int, int, int]) -> tuple[Floats, Floats]:
    """Return the corners of boxes, shape (n, 3), cut into so many along each axis."""
    steps = np.stack(np.meshgrid(*map(np.arange, parts), indexing="ij"), axis=-1).reshape(-1, 3)
    side = (high - low) / parts
    corners = (low[:, None] + side[:, None] * steps).reshape(-1, 3)
    return corners, corners + np.repeat(side, len(steps), axis=0)
