"""What stands between a tin and its tolerance: the growth limit, the scale, the stock, or the colour itself."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from finishmatch.colour import Floats
from finishmatch.correct.addition import least_addition
from finishmatch.correct.tin import Tin, smooth_addition
from finishmatch.mix.unreachable import more_than_there
from finishmatch.mix.weighing import SMALLEST_STEPS, Scale
from finishmatch.optics import Tint, TintOptics

FAR_GROWTH = 4.0  # growth looked at when the limit doesn't do
_SIZES_G = (50.0, 20.0, 10.0, 5.0, 2.0, 1.0, 0.5, 0.2, 0.1, 0.05, 0.02, 0.01, 0.005, 0.002, 0.001)


@dataclass(frozen=True)
class LimitingFactor:
    """What keeps a tin from its tolerance, and what would do.

    Parameters
    ----------
    beyond : ndarray, shape (n,), or None
        The addition on this scale that reaches it with more growth than the limit; None when none does.
    finer : Scale or None
        The coarsest scale that reaches it, where this one is in the way.
    on_finer : ndarray, shape (n,), or None
        The lightest addition on that scale.
    within_limit : bool
        Whether that is within the growth limit.
    short : tuple of (tint, needed grams, grams in stock)
        Where the stock is in the way.
    """

    beyond: Floats | None = None
    finer: Scale | None = None
    on_finer: Floats | None = None
    within_limit: bool = False
    short: tuple[tuple[str, float, float], ...] = ()

    @property
    def least(self) -> Floats:
        """The lightest addition that would reach it on a finer scale or beyond the limit; empty when none does."""
        found = [added for added in (self.on_finer, self.beyond) if added is not None]
        return min(found, key=lambda added: float(added.sum()), default=np.zeros(0))


def find_limiting_factor(
    tin: Tin, stock: Floats, tolerance: float, most: float, far: float, scale: Scale, beyond: Floats | None
) -> LimitingFactor:
    """Return what keeps a tin from its tolerance within a growth limit that doesn't do.

    Parameters
    ----------
    tin : Tin
    stock : ndarray, shape (n,)
        Grams of each tint.
    tolerance : float
        ΔE00 in the worst light.
    most, far : float
        Most grams that may be added by the limit, and that are looked at beyond it.
    scale : Scale
    beyond : ndarray, shape (n,), or None
        The addition of at most `far` grams that reaches it on this scale.

    Notes
    -----
    What can be reached in any grams and not in the steps of a scale is the scale's fault; the coarsest one that does is
    looked for, first with smaller parts on the same step, then with finer steps.
    """
    everything = np.flatnonzero(stock > 0)
    for limit in (most, far):
        if limit == far and beyond is not None:
            break
        if smooth_addition(tin, everything, stock, tolerance, limit) is None:
            continue
        for finer in _finer(scale):
            added = least_addition(tin, weighable_stock(stock, finer), tolerance, limit, finer)
            if added is not None:
                return LimitingFactor(beyond, finer, added, limit == most)
    if beyond is not None:
        return LimitingFactor(beyond)
    endless = np.full(len(stock), np.inf)
    if (added := least_addition(tin, endless, tolerance, far, scale)) is not None:
        names = tin.optics.names
        return LimitingFactor(
            short=tuple((names[i], float(added[i]), float(stock[i])) for i in np.flatnonzero(added > stock))
        )
    return LimitingFactor()


def stock_of(optics: TintOptics, tints: tuple[Tint, ...]) -> Floats:
    """Return the grams in stock of each tint of some optics, shape (n,)."""
    grams = {tint.name: tint.stock_g for tint in tints}
    return np.array([grams[name] for name in optics.names])


def weighable_stock(stock: Floats, scale: Scale) -> Floats:
    """Return the stock less what is too little to weigh, g."""
    return np.where(stock < scale.smallest_parts_g(len(stock)), 0.0, stock)


def _finer(scale: Scale) -> list[Scale]:
    """Return scales that weigh less, the coarsest first: smaller parts on the same step, then finer steps."""
    sizes = {*_SIZES_G, SMALLEST_STEPS * scale.step_g, scale.step_g}
    parts = sorted((size for size in sizes if scale.step_g <= size < scale.smallest_g * (1 - 1e-9)), reverse=True)
    same = [Scale(scale.step_g, round(size, 6)) for size in parts]
    steps = [step for step in _SIZES_G if step < scale.step_g * (1 - 1e-9)]
    return same + [Scale(step, round(min(SMALLEST_STEPS * step, scale.smallest_g), 6)) for step in steps]


def why_not_reached(
    factor: LimitingFactor,
    worst: float,
    tolerance: float,
    max_growth: float,
    growth: Callable[[Floats], float],
    scale: Scale,
) -> str:
    """Return in a painter's words what keeps a tin from its tolerance, and what would do.

    Parameters
    ----------
    factor : LimitingFactor
    worst : float
        ΔE00 that is come to within the limit.
    tolerance, max_growth : float
    growth : callable
        Of the tin with grams, shape (n,).
    scale : Scale
    """
    off = f"the worst light comes to ΔE00 {worst:.2f}, not {tolerance:g}"
    more = "" if factor.beyond is None else f"adding {percent(growth(factor.beyond))} % would reach it"
    if factor.finer is not None and factor.on_finer is not None:
        finer, grams = factor.finer, percent(growth(factor.on_finer))
        would = (
            f"parts from {finer.smallest_g:g} g would reach it, adding {grams} %"
            if finer.step_g == scale.step_g
            else f"a scale with steps of {finer.step_g:g} g would reach it, adding {grams} %"
        )
        steps = f"in steps of {scale.step_g:g} g with no part below {scale.smallest_g:g} g"
        if factor.within_limit:
            return f"the scale is in the way: {steps} {off}; {would}" + (f"; on this scale {more}" if more else "")
        return f"within a growth of {percent(max_growth)} % {off}; with more growth the scale is in the way: {would}"
    within = f"within a growth of {percent(max_growth)} % {off}"
    if more:
        return f"{within}; {more}"
    if factor.short:
        return f"{within}; the stock is in the way: it takes {more_than_there(factor.short)}"
    return (
        f"{within}; no addition reaches it, not even of {max(FAR_GROWTH, max_growth):g} times the tin: something in it "
        "can't be covered by adding"
    )


def percent(share: float) -> str:
    """Return a share as a painter says it, in percent: "129", "4.8", "0.31"."""
    value = 100 * share
    return f"{value:.0f}" if value >= 10 else f"{value:.2g}"
