"""Bringing a poured tin to its target by adding only, and by adding as little as possible."""

from __future__ import annotations

from dataclasses import dataclass, field, replace

import numpy as np

from finishmatch.colour import Floats, de00, difference_words
from finishmatch.correct.addition import least_addition, nearest_addition
from finishmatch.correct.growth import TradeRow, chance_inside, parts_of, trade_off
from finishmatch.correct.obstacle import FAR_GROWTH, find_obstacle, weighable, why_not_reached
from finishmatch.correct.tin import Tin, smooth_addition
from finishmatch.correct.updated_tin import updated_tin
from finishmatch.errors import InputError
from finishmatch.evidence.target import ColourTarget
from finishmatch.mix.expected import intervals
from finishmatch.mix.weighing import Scale
from finishmatch.optics import Tint, TintOptics
from finishmatch.optics.strength import StrengthPrior
from finishmatch.readings import Reading

AIMS = (1.0, 0.8, 0.6, 0.4, 0.2)  # shares of the tolerance aimed at, until the chance of being inside does
SURE = 0.9  # a chance of being inside that is sure enough
CHANCE_PER_GROWTH = 2.0  # a tin that grows by a twentieth more must be inside a tenth more often
_NOT_WORTH = 0.04  # chance that more paint isn't added for
_SPOILT = 0.2  # chance that a finer scale must bring to be spoken of


@dataclass(frozen=True)
class Correction:
    """What to add, and what it is expected to do.

    Parameters
    ----------
    reachable : bool
        Whether the tolerance is reached within the growth limit and the stock.
    additions : tuple of (tint, grams)
        Largest first; the best that can be done within the limit when it isn't reachable.
    growth : float
        Weight added over weight poured.
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
    additions_needed : tuple of (tint, grams)
        What would be added then: on that scale, or beyond the limit.
    trade : tuple of TradeRow
        What more growth buys, where the growth limit binds.
    chance : float or None
        Of every light being inside the tolerance at the next spray-out.
    intervals : dict of str to (low, high)
        What the ΔE00 of the next spray-out lies within in each light 95 times in 100.
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
    trade: tuple[TradeRow, ...] = ()
    chance: float | None = None
    intervals: dict[str, tuple[float, float]] = field(default_factory=dict)
    warnings: tuple[str, ...] = ()
    posterior: StrengthPrior | None = None


def correct_batch(
    target: ColourTarget,
    optics: TintOptics,
    tints: tuple[Tint, ...],
    batch: tuple[tuple[str, float], ...],
    sprayed: Reading,
    tolerance: float = 0.5,
    max_growth: float = 0.2,
    scale: Scale | None = None,
    prior: StrengthPrior | None = None,
) -> Correction:
    """Return the smallest addition that brings a tin within tolerance of its target in every light.

    Parameters
    ----------
    target : ColourTarget
    optics : TintOptics
        Of the usable tints of the bank.
    tints : tuple of Tint
        The bank's, for the stock.
    batch : tuple of (tint, grams)
        As poured.
    sprayed : Reading
        Of the spray-out of that batch.
    tolerance : float
        ΔE00, above 0.
    max_growth : float
        Largest weight added over weight poured, above 0.
    scale : Scale or None
    prior : StrengthPrior or None
        What is known of the tins from earlier spray-outs, not this one.

    Returns
    -------
    Correction

    Raises
    ------
    InputError
        A tint of the batch that isn't among the usable ones, or numbers that can't be.

    Notes
    -----
    The strengths of the tins are updated from the spray-out first; what then still separates reading and model is taken
    to stay as it is. For nearer and nearer aims the lightest addition is sought over all tints at once
    (`least_addition`), in whole scale steps, until the chance of being inside the tolerance (by what the spray-out
    leaves open of the strengths, by pouring and by the noise of the readings) is 0.9, or more of it isn't worth the
    growth.
    """
    scale = scale or Scale()
    _check(tolerance, max_growth)
    judged = updated_tin(target, optics, tints, batch, sprayed, scale, prior)
    tin, total = judged.tin, judged.total
    before = _sprayed_differences(target, sprayed)
    found = Correction(
        True, (), 0.0, before, before, judged.strengths, "already inside the tolerance in every light: add nothing",
        sprayed.reflectance, 0.0, warnings=judged.warnings, posterior=judged.posterior,
    )  # fmt: skip
    if max(before.values()) <= tolerance:
        return _expected(found, tin, np.zeros(len(tin.poured)), tolerance, scale)
    grams = {tint.name: tint.stock_g for tint in tints}
    stock = np.array([grams[name] for name in tin.optics.names])
    room, most, far = weighable(stock, scale), max_growth * total, max(FAR_GROWTH, max_growth) * total
    words = difference_words(target.labs[0], sprayed.lab_in(target.lights[0], target.observer))
    was = f"the spray-out is {' and '.join(words[:2]) or 'only just off'}"
    added, bound = _likeliest(tin, room, tolerance, most, scale)
    if added is not None:
        worst = float(tin.differences(added).max())
        found = replace(
            found,
            why=f"{was}; with this the worst light is expected at ΔE00 {worst:.2f}",
            growth_needed=None,
            trade=_for_more_chance(tin, room, added, tolerance, (most, far), total, scale) if bound else (),
            warnings=(*found.warnings, *_spoilt_by_the_scale(tin, added, tolerance, scale)),
        )
    else:
        added = nearest_addition(tin, room, most, scale)
        beyond, _ = _likeliest(tin, room, tolerance, far, scale)
        obstacle = find_obstacle(tin, stock, tolerance, most, far, scale, beyond)
        worst = float(tin.differences(added).max())
        found = replace(
            found,
            reachable=False,
            why=f"{was}; {why_not_reached(obstacle, worst, tolerance, max_growth, total, scale)}",
            growth_needed=None if beyond is None else float(beyond.sum() / total),
            additions_needed=parts_of(tin, obstacle.least),
            scale_needed=obstacle.finer,
        )
        if not obstacle.within_limit and not obstacle.short:
            ends = [added] if beyond is None else [added, beyond]
            between = (most / 2, 2 * most if beyond is None else float(np.sqrt(most * beyond.sum())))
            budgets = [grams for grams in between if grams <= far]
            found = replace(found, trade=trade_off(tin, room, ends, budgets, total, tolerance, scale))
    after = {light: float(de) for light, de in zip(target.lights, tin.differences(added), strict=True)}
    found = replace(
        found,
        additions=parts_of(tin, added),
        growth=float(added.sum() / total),
        lights=after,
        reflectance=None if tin.lab_offset is not None else tin.reflectance(added),
    )
    return _expected(found, tin, added, tolerance, scale)


def _expected(found: Correction, tin: Tin, added: Floats, tolerance: float, scale: Scale) -> Correction:
    """Return a correction with what the next card is expected to read."""
    drawn = tin.drawn(added, scale.step_g)
    return replace(found, chance=chance_inside(drawn, tolerance), intervals=intervals(tin.target, drawn))


def _for_more_chance(
    tin: Tin,
    room: Floats,
    added: Floats,
    tolerance: float,
    limits: tuple[float, float],
    total: float,
    scale: Scale,
) -> tuple[TradeRow, ...]:
    """Return what more growth than the limit buys, where the chance is low for lack of it; else nothing.

    `limits` are the most grams by the growth limit, and that are looked at beyond.
    """
    most, far = limits
    chance = _chance(tin, added, tolerance, scale)
    if chance >= SURE:
        return ()
    surer, _ = _likeliest(tin, room, tolerance, far, scale)
    if surer is None or _chance(tin, surer, tolerance, scale) <= chance + _NOT_WORTH:
        return ()
    return trade_off(tin, room, [added, surer], [most / 2], total, tolerance, scale)


def _likeliest(tin: Tin, room: Floats, tolerance: float, most: float, scale: Scale) -> tuple[Floats | None, bool]:
    """Return the lightest addition that is inside the tolerance as surely as adding can make it, or None.

    The surer an addition must be, the nearer it has to aim and the more it weighs. Paint must be worth the chance it
    brings (`CHANCE_PER_GROWTH`), and what reading noise alone keeps uncertain isn't chased: what is within a few
    hundredths of the best there is will do. Parts that the chance can do without are left out. Whether the growth limit
    kept it from aiming nearer is returned too.
    """
    everything = np.flatnonzero(room > 0)
    bound = scale_missed = False

    def worth(added: Floats) -> float:
        chance = min(_chance(tin, added, tolerance, scale), SURE + _NOT_WORTH)
        return chance - CHANCE_PER_GROWTH * float(added.sum()) / tin.total

    nothing = np.zeros(len(tin.poured))
    tried = [nothing] if tin.differences(nothing).max() <= tolerance else []
    for aim in AIMS:
        added = least_addition(tin, room, aim * tolerance, most, scale)
        if added is not None:
            tried.append(added)
            if _chance(tin, added, tolerance, scale) >= SURE:
                break
        elif smooth_addition(tin, everything, room, aim * tolerance, most) is None:
            bound = True
            break
        else:
            scale_missed = True
    if scale_missed and not tried:  # what a nearer aim asks more of may be weighed more easily
        nearest = nearest_addition(tin, room, most, scale)
        tried += [nearest] if tin.differences(nearest).max() <= tolerance else []
    if not tried:
        return None, bound
    enough = max(map(worth, tried)) - _NOT_WORTH
    least = min((added for added in tried if worth(added) >= enough), key=lambda added: float(added.sum()))
    for i in np.argsort(least, kind="stable"):
        without = np.where(np.arange(len(least)) == i, 0.0, least)
        inside = least[i] > 0 and tin.differences(without).max() <= tolerance
        if inside and worth(without) >= enough:
            least = without
    return least, bound


def _spoilt_by_the_scale(tin: Tin, added: Floats, tolerance: float, scale: Scale) -> tuple[str, ...]:
    """Return a warning where the slips of the scale alone make it unlikely that an addition comes out inside."""
    chance = _chance(tin, added, tolerance, scale)
    if not added.any() or chance >= 0.5:
        return ()
    finer = chance_inside(tin.drawn(added, scale.step_g / 10), tolerance)
    if finer < chance + _SPOILT:
        return ()
    return (
        f"the scale makes it unsure: in steps of {scale.step_g:g} g the chance of being inside is {chance:.0%}, in "
        f"steps of {scale.step_g / 10:g} g it would be {finer:.0%}",
    )


def _chance(tin: Tin, added: Floats, tolerance: float, scale: Scale) -> float:
    return chance_inside(tin.drawn(added, scale.step_g), tolerance)


def _check(tolerance: float, max_growth: float) -> None:
    if not (np.isfinite(tolerance) and tolerance > 0):
        raise InputError("`tolerance`", f"{tolerance:g} is not a tolerance", "give a ΔE00 above 0")
    if not (np.isfinite(max_growth) and 0 < max_growth <= 10):
        raise InputError("`max_growth`", f"{max_growth:g} is not a growth", "0.2 lets the tin grow by a fifth")


def _sprayed_differences(target: ColourTarget, sprayed: Reading) -> dict[str, float]:
    labs = np.stack([sprayed.lab_in(light, target.observer) for light in target.lights])
    return {light: float(de) for light, de in zip(target.lights, de00(target.labs, labs), strict=True)}
