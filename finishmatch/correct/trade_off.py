"""What more growth buys: for a few weights of addition the difference to expect, and the chance of being inside."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass

import numpy as np

from finishmatch.colour import Floats
from finishmatch.correct.addition import nearest_addition
from finishmatch.correct.tin import Tin
from finishmatch.mix.expected_difference import range_of_95
from finishmatch.mix.weighing import Scale


@dataclass(frozen=True)
class TradeRow:
    """What an addition is expected to come to.

    Parameters
    ----------
    growth : float
        Of the tin, beyond what was wanted.
    additions : tuple of (tint, grams)
        Largest first.
    worst : float
        Predicted ΔE00 in the worst light.
    low, high : float
        What that lies within at the next spray-out 95 times in 100.
    chance : float
        Of that spray-out reading inside the tolerance in every light.
    """

    growth: float
    additions: tuple[tuple[str, float], ...]
    worst: float
    low: float
    high: float
    chance: float


def parts_of(tin: Tin, added: Floats) -> tuple[tuple[str, float], ...]:
    """Return the tints and grams of an addition, largest first."""
    order = [int(i) for i in np.argsort(-added, kind="stable") if added[i] > 0]
    return tuple((tin.optics.names[i], float(added[i])) for i in order)


def chance_inside(drawn: Floats, tolerance: float) -> float:
    """Return how often every light is inside a tolerance; `drawn` has shape (draws, lights)."""
    return float((drawn.max(axis=1) <= tolerance).mean())


def trade_row(tin: Tin, added: Floats, growth: Callable[[Floats], float], tolerance: float, scale: Scale) -> TradeRow:
    """Return what an addition, shape (n,), is expected to come to."""
    drawn = tin.drawn(added, scale)
    low, high = range_of_95(tin.as_seen(drawn)[np.arange(len(drawn)), drawn.argmax(axis=1)])
    return TradeRow(
        growth=growth(added),
        additions=parts_of(tin, added),
        worst=tin.worst_seen(added),
        low=low,
        high=high,
        chance=chance_inside(drawn, tolerance),
    )


def trade_off(
    tin: Tin,
    room: Floats,
    known: Iterable[Floats],
    budgets: Iterable[float],
    growth: Callable[[Floats], float],
    tolerance: float,
    scale: Scale,
) -> tuple[TradeRow, ...]:
    """Return what each weight of addition is expected to come to, least growth first.

    Parameters
    ----------
    tin : Tin
    room : ndarray, shape (n,)
        Grams of each tint in stock.
    known : iterable of ndarray, shape (n,)
        Additions found already.
    budgets : iterable of float
        Grams for which the nearest addition is looked for besides.
    growth : callable
        Of the tin with grams, shape (n,).
    tolerance : float
    scale : Scale

    Returns
    -------
    tuple of TradeRow
        Each comes nearer than those that add less; what doesn't isn't shown.
    """
    additions = [np.zeros(len(room)), *known, *(nearest_addition(tin, room, most, scale) for most in budgets)]
    rows = sorted(
        (trade_row(tin, added, growth, tolerance, scale) for added in additions),
        key=lambda row: (row.growth, row.worst),
    )
    kept: list[TradeRow] = []
    for row in rows:
        if not kept or (row.growth > kept[-1].growth and row.worst < kept[-1].worst):
            kept.append(row)
    return tuple(kept)
