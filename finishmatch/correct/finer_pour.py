"""Whether an addition is worth pouring by letdowns, and of which tints."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np

from finishmatch.colour import Floats
from finishmatch.correct.letdown_scale import letdown_scale
from finishmatch.correct.likeliest_addition import SURE, chance_after
from finishmatch.correct.limiting_factor import weighable_stock
from finishmatch.correct.limits import Limits
from finishmatch.correct.surer_addition import average_cost
from finishmatch.correct.tin import Tin
from finishmatch.mix.letdowns import FEWEST_STEPS, MOST_LETDOWNS, LetdownScale, letdowns_of, worth_de00
from finishmatch.mix.weighing import Scale, weighed_grams

# finds an addition in the room there is on a scale, and whether the growth limit held it
Seek = Callable[[Floats, Scale], tuple[Floats | None, bool]]


def finer_pour(limits: Limits, straight: Floats | None, seek: Seek) -> tuple[Floats, LetdownScale, bool] | None:
    """Return an addition with letdowns, the scale with them, and whether the growth limit held it, or None.

    Parameters
    ----------
    limits : Limits
        The tin, and what its correction is held to.
    straight : ndarray, shape (n,), or None
        The addition that is poured straight; None where that reaches no tolerance.
    seek : callable
        Finds an addition from the stock that can be weighed in on a scale.

    Notes
    -----
    A drop of a strong tint on a scale of 0.1 g is often off by a third of it, which parts a card from its target by
    more than what isn't known of tins and bank. A letdown is work: where pouring straight is sure enough there is
    none, and each must bring the next card nearer on the average by ΔE00 0.01 or a twentieth of the tolerance.
    """
    tin, stock, tolerance, scale = limits.tin, limits.stock, limits.tolerance, limits.scale
    if straight is not None and chance_after(tin, straight, tolerance, scale) >= SURE:
        return None
    fine = letdown_scale(tin, limits.batch, tolerance, scale)  # what a batch lacks goes in before a cup is filled
    if fine is None:
        return None
    added, bound = seek(weighable_stock(stock, fine), fine)
    if added is None:
        return None
    added, fine = _fewer(tin, added, tolerance, fine)
    count = sum(fine.let_down)
    if not count or not _can_be_poured(tin, added, stock, limits.total, fine):
        return None
    worth = count * worth_de00(tolerance)
    if straight is not None and average_cost(tin, added, fine) + worth > average_cost(tin, straight, scale):
        return None
    return added, fine, bound


def _can_be_poured(tin: Tin, added: Floats, stock: Floats, total: float, fine: LetdownScale) -> bool:
    """Return whether there is enough of each tint for its cup, of which most is lost, and paint enough to fill it."""
    names, least = tin.optics.names, FEWEST_STEPS * fine.step_g
    cups = letdowns_of(names, added, total, fine)
    there = all(one.straight_g + one.tint_g <= stock[names.index(one.tint)] + 1e-9 for one in cups)
    return there and all(one.tint_g >= least - 1e-9 for one in cups)


def _fewer(tin: Tin, added: Floats, tolerance: float, fine: LetdownScale) -> tuple[Floats, LetdownScale]:
    """Return an addition with the parts poured straight that lose little by it, and the scale with what is left.

    The part that loses least goes first; more letdowns than a painter would make are given up whatever they bring.
    """
    let_down = np.array(fine.let_down) & (added > 0)
    fine = replace(fine, let_down=tuple(map(bool, let_down)))
    while any(fine.let_down):
        now, ways = average_cost(tin, added, fine), []
        for i in np.flatnonzero(fine.let_down):
            for other in _straight(added, int(i), fine):
                rest = replace(fine, let_down=tuple(one and at != i for at, one in enumerate(fine.let_down)))
                if tin.differences(other).max() <= tolerance or sum(fine.let_down) > MOST_LETDOWNS:
                    ways.append((average_cost(tin, other, rest), other, rest))
        if not ways:
            break
        least, other, rest = min(ways, key=lambda way: way[0])
        if least > now + worth_de00(tolerance) and sum(fine.let_down) <= MOST_LETDOWNS:
            break
        added, fine = other, rest
    return added, fine


def _straight(added: Floats, part: int, scale: Scale) -> list[Floats]:
    """Return an addition with one part in whole steps of the scale: without it, and with the weights around it."""
    steps = np.floor(added[part] / scale.step_g + 1e-9) + np.arange(2)
    grams = [0.0, *(count * scale.step_g for count in steps if count * scale.step_g >= scale.smallest_g * (1 - 1e-9))]
    here = np.arange(len(added)) == part
    return [weighed_grams(np.where(here, one, added), scale.step_g / 10) for one in grams]
