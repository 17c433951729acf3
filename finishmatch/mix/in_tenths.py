"""Grams of a recipe whose strong tints go through a cup: these in tenths of the scale's step, the others in whole."""

from __future__ import annotations

from functools import cache

import numpy as np

from finishmatch.colour import Floats
from finishmatch.evidence.target import ColourTarget
from finishmatch.mix.letdowns import LetdownScale
from finishmatch.mix.subset_factors import Ints
from finishmatch.mix.weighing import how_near, weighed_grams
from finishmatch.optics import TintOptics

_MOVES, _MOVES_OF_TWO = (1, 2, 5, 10, 30), (1, 2, 5, 10)
_ROUNDS = 200


def in_tenths(grams: Floats, scale: LetdownScale, stock: Floats, optics: TintOptics, target: ColourTarget) -> Floats:
    """Return grams near some others that bring the worst light nearest, shape (k,), each in steps that it is poured in.

    Parameters
    ----------
    grams : ndarray, shape (k,)
        Of the batch; its total is kept to a step of the scale.
    scale : LetdownScale
        Says which tints are let down.
    stock : ndarray, shape (k,)
        Grams there are of each.
    optics : TintOptics
        Of these k tints.
    target : ColourTarget

    Notes
    -----
    The largest part is what the others leave of the batch, in whole steps: a step of it shows no more.
    """
    k, total, largest = len(grams), float(grams.sum()), int(np.argmax(grams))
    steps = scale.steps_g(k)
    lowest = np.ceil(scale.smallest_parts_g(k) / steps - 1e-9).astype(np.int64)
    highest = np.floor(stock / steps + 1e-9).astype(np.int64)
    moves = np.insert(_moves(k - 1), largest, 0, axis=1)

    def whole(counts: Ints) -> Ints:
        """Return counts with the largest part as the others leave it."""
        others = counts @ np.where(np.arange(k) == largest, 0.0, steps)
        counts = counts.copy()
        counts[..., largest] = np.round((total - others) / steps[largest])
        return counts

    start = np.clip(np.round(grams / steps).astype(np.int64), lowest, highest)
    counts = whole(start)
    nearest = float(how_near(counts * steps, optics, target)[0])
    for _ in range(_ROUNDS):
        near = whole(counts + moves)
        near = near[((near >= lowest) & (near <= highest)).all(axis=1)]
        if not len(near):
            break
        sizes, _ = how_near(near * steps, optics, target)
        at = int(np.argmin(sizes))
        if sizes[at] >= nearest - 1e-9:
            break
        counts, nearest = near[at], float(sizes[at])
    return weighed_grams(counts * steps, float(steps.min()))


@cache
def _moves(others: int) -> Ints:
    """Return moves of one or two of some parts, shape (moves, others)."""
    one = np.eye(others, dtype=np.int64)
    alone = [sign * d * one[i] for i in range(others) for d in _MOVES for sign in (1, -1)]
    both = [
        d * (a * one[i] + b * one[j])
        for i in range(others)
        for j in range(i)
        for d in _MOVES_OF_TWO
        for a in (1, -1)
        for b in (1, -1)
    ]
    moves = np.array([*alone, *both], dtype=np.int64).reshape(-1, others)
    moves.setflags(write=False)
    return moves
