"""The addition that is inside the tolerance as surely as adding can make it, with no more paint than that is worth."""

from __future__ import annotations

import numpy as np

from finishmatch.colour import Floats
from finishmatch.correct.addition import least_addition, nearest_addition
from finishmatch.correct.tin import Tin, smooth_addition
from finishmatch.correct.trade_off import chance_inside
from finishmatch.mix.weighing import Scale

AIMS = (1.0, 0.8, 0.6, 0.4, 0.2)  # shares of the tolerance aimed at, until the chance of being inside does
SURE = 0.9  # a chance of being inside that is sure enough
CHANCE_PER_GROWTH = 2.0  # a tin that grows by a twentieth more must be inside a tenth more often
NOT_WORTH = 0.04  # chance that more paint isn't added for


def likeliest_addition(
    tin: Tin, room: Floats, tolerance: float, most: float, scale: Scale
) -> tuple[Floats | None, bool]:
    """Return the lightest addition that is inside the tolerance as surely as adding can make it, or None.

    The surer an addition must be, the nearer it has to aim and the more it weighs. Paint must be worth the chance it
    brings (`CHANCE_PER_GROWTH`), and what reading noise alone keeps uncertain isn't chased: what is within a few
    hundredths of the best there is will do. Parts that the chance can do without are left out. Whether the growth limit
    kept it from aiming nearer is returned too.
    """
    everything = np.flatnonzero(room > 0)
    bound, missed = False, 0

    def worth(added: Floats) -> float:
        chance = min(chance_after(tin, added, tolerance, scale), SURE + NOT_WORTH)
        return chance - CHANCE_PER_GROWTH * float(added.sum()) / tin.total

    nothing = np.zeros(len(tin.poured))
    tried = [nothing] if tin.differences(nothing).max() <= tolerance else []
    for aim in AIMS:
        added = least_addition(tin, room, aim * tolerance, most, scale)
        if added is not None:
            tried.append(added)
            if chance_after(tin, added, tolerance, scale) >= SURE:
                break
        elif smooth_addition(tin, everything, room, aim * tolerance, most) is None:
            bound = True
            break
        else:
            missed += 1
            if missed > 1 and not tried:
                break
    if missed and not tried:  # what a nearer aim asks more of may be weighed more easily
        nearest = nearest_addition(tin, room, most, scale)
        tried += [nearest] if tin.differences(nearest).max() <= tolerance else []
    if not tried:
        return None, bound
    enough = max(map(worth, tried)) - NOT_WORTH
    least = min((added for added in tried if worth(added) >= enough), key=lambda added: float(added.sum()))
    for i in np.argsort(least, kind="stable"):
        without = np.where(np.arange(len(least)) == i, 0.0, least)
        inside = least[i] > 0 and tin.differences(without).max() <= tolerance
        if inside and worth(without) >= enough:
            least = without
    return least, bound


def chance_after(tin: Tin, added: Floats, tolerance: float, scale: Scale) -> float:
    """Return how often every light is inside a tolerance after adding grams, shape (n,)."""
    return chance_inside(tin.drawn(added, scale), tolerance)
