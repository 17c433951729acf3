"""Of which tints of a tin a drop shows so much that it is poured by a letdown."""

from __future__ import annotations

import numpy as np

from finishmatch.correct.tin import Tin
from finishmatch.mix.letdowns import FEWEST_STEPS, LetdownScale, most_tint_g
from finishmatch.mix.weighing import Scale

_SHOWS = 0.1  # share of the tolerance that a slip of one step must bring before a tint is let down: a choice


def letdown_scale(tin: Tin, total: float, tolerance: float, scale: Scale) -> LetdownScale | None:
    """Return the scale with letdowns of the tints of which a slip of one step shows; None where that is none of them.

    Parameters
    ----------
    tin : Tin
    total : float
        Grams in it.
    tolerance : float
        ΔE00 in the worst light.
    scale : Scale
        That is poured on. Where the tin is too small for what a letdown takes out of it there are none.
    """
    if most_tint_g(total, scale) < FEWEST_STEPS * scale.step_g:
        return None
    _, slopes = tin.vectors(np.zeros(len(tin.poured)))
    by_step = np.sqrt((slopes**2).sum(axis=1)).max(axis=0) * scale.step_g
    shows = by_step > _SHOWS * tolerance
    return LetdownScale(scale.step_g, scale.smallest_g, let_down=tuple(map(bool, shows))) if shows.any() else None
