"""What to add to a tin, and what that is expected to do."""

from __future__ import annotations

from dataclasses import dataclass, field

from finishmatch.colour import Floats
from finishmatch.correct.trade_off import TradeRow
from finishmatch.mix.letdowns import Letdown
from finishmatch.mix.weighing import Scale
from finishmatch.optics.strength import StrengthPrior


@dataclass(frozen=True)
class Correction:
    """What to add, and what it is expected to do.

    Parameters
    ----------
    reachable : bool
        Whether the tolerance is reached within the growth limit and the stock.
    additions : tuple of (tint, grams)
        Largest first, those by a letdown after all others; the best that can be done within the limit when it isn't
        reachable.
    growth : float
        By how much the tin outgrows what was wanted of it, as a share of that: of what was poured, where that was all.
    before, lights : dict of str to float
        ΔE00 to the target in each light as sprayed, and as predicted after the additions.
    strengths : dict of str to float
        Of the tints of the batch, 1 is as characterised.
    why : str
    reflectance : ndarray, shape (31,), or None
        Predicted after the additions; None when the spray-out was read as CIELAB.
    growth_needed : float or None
        Growth that would reach it when the limit doesn't allow it, None when none was found.
    scale_needed : Scale or None
        The scale that would reach it, where this one is in the way.
    letdowns : tuple of Letdown
        How those of the additions are poured of which drops count, in this order, after all the others.
    additions_needed : tuple of (tint, grams)
        What would be added then: on that scale, or beyond the limit.
    trade : tuple of TradeRow
        What more growth buys, where the growth limit binds.
    chance : float or None
        Of the next spray-out reading inside the tolerance in every light.
    intervals : dict of str to (low, high)
        What the ΔE00 of the next spray-out lies within in each light 95 times in 100.
    fills_to : float or None
        Grams that were wanted, where the additions are the rest of a batch of which a part was poured.
    posterior : StrengthPrior or None
        What is believed of the tins after this spray-out, to start from at the next.
    """

    reachable: bool
    additions: tuple[tuple[str, float], ...]
    growth: float
    before: dict[str, float]
    lights: dict[str, float]
    strengths: dict[str, float]
    why: str
    reflectance: Floats | None = None
    growth_needed: float | None = None
    scale_needed: Scale | None = None
    additions_needed: tuple[tuple[str, float], ...] = ()
    letdowns: tuple[Letdown, ...] = ()
    trade: tuple[TradeRow, ...] = ()
    chance: float | None = None
    intervals: dict[str, tuple[float, float]] = field(default_factory=dict)
    warnings: tuple[str, ...] = ()
    fills_to: float | None = None
    posterior: StrengthPrior | None = None
