"""Bringing a poured tin to its target by adding only, and by adding as little as possible."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from finishmatch.colour import Floats
from finishmatch.correct.addition import nearest_addition
from finishmatch.correct.as_sprayed import off_in_words, sprayed_differences, tin_in_words
from finishmatch.correct.correction import Correction
from finishmatch.correct.finer_pour import Seek, finer_pour
from finishmatch.correct.likeliest_addition import NOT_WORTH, SURE, chance_after, likeliest_addition
from finishmatch.correct.limiting_factor import find_limiting_factor, stock_of, why_not_reached
from finishmatch.correct.limits import Limits, check_limits
from finishmatch.correct.rest_of_batch import filled_up, rest_of_batch
from finishmatch.correct.surer_addition import nearest_for_its_paint, surer_addition
from finishmatch.correct.tin import Solved, Tin
from finishmatch.correct.trade_off import TradeRow, chance_inside, parts_of, trade_off
from finishmatch.correct.updated_tin import TinRecord, UpdatedTin, updated_tin
from finishmatch.evidence.target import ColourTarget
from finishmatch.mix.expected_difference import intervals
from finishmatch.mix.letdowns import letdowns_of
from finishmatch.mix.weighing import Scale
from finishmatch.optics import Tint, TintOptics
from finishmatch.readings import Reading

_BENCH = Scale()
_GROWN = (1.0, 0.5, 0.25)  # shares of the growth limit that are looked at where none of it does
_SPOILT = 0.2  # chance that a finer scale must bring to be spoken of


def correct_batch(
    target: ColourTarget,
    optics: TintOptics,
    tints: tuple[Tint, ...],
    batch: tuple[tuple[str, float], ...],
    sprayed: Reading,
    tolerance: float | Sequence[float] = 0.5,
    max_growth: float = 0.2,
    scale: Scale | None = None,
    record: TinRecord | None = None,
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
    tolerance : float, or sequence of float
        ΔE00, above 0; or one in each light that the spray-out was seen in.
    max_growth : float
        Most that the tin may outgrow what was wanted of it by, as a share of that, above 0.
    scale : Scale or None
    record : TinRecord or None
        What is known of the tins and of this one from earlier spray-outs, and how much is wanted of it.

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
    growth. Where no addition is likely to end inside, the one that comes nearest on the average for its paint is taken
    (`surer_addition`). Drops of a strong tint are poured by a letdown where that pays (`finer_pour`). Where only a part
    of the batch was poured yet, its rest is what mends it, as near as it can (`rest_of_batch`).
    """
    scale, least = scale or Scale(), float(np.min(tolerance))
    check_limits(least, max_growth)
    tin = updated_tin(target, optics, tints, batch, sprayed, scale, record)
    tin = replace(tin, tin=replace(tin.tin, counts=least / np.asarray(tolerance), solved=Solved()))
    stock, wanted = stock_of(tin.tin.optics, tints), 0.0 if record is None else record.wanted
    found, how = _nothing_added(tin, sprayed)
    limits = Limits(tin.tin, stock, least, max_growth, tin.total, scale, how, wanted, scale.letdowns)
    return _brought_inside(found, limits)


def correct_unsprayed(
    tin: Tin,
    total: float,
    tints: tuple[Tint, ...],
    tolerance: float = 0.5,
    max_growth: float = 0.2,
    scale: Scale = _BENCH,
) -> Correction:
    """Return the smallest addition that brings a tin within tolerance before anything was sprayed of it.

    `tin` is as it is predicted, `total` the grams in it, clears included; the rest as for `correct_batch`.
    """
    check_limits(tolerance, max_growth)
    found, how = _as_it_is(tin)
    return _brought_inside(found, Limits(tin, stock_of(tin.optics, tints), tolerance, max_growth, total, scale, how))


def _brought_inside(found: Correction, limits: Limits) -> Correction:
    """Return the correction of a tin; `found` is that of one that is inside the tolerance as it is."""
    if limits.lacking and (filled := _filled(found, limits)) is not None:
        return filled
    if _inside(found, limits):
        return _expected(found, limits.tin, np.zeros(len(limits.stock)), limits.tolerance, limits.scale)
    return _corrected(found, limits)


def _inside(found: Correction, limits: Limits) -> bool:
    """Return whether a tin is inside the tolerance as it is."""
    return bool((limits.tin.counts * np.array([*found.before.values()]) <= limits.tolerance).all())


def _filled(found: Correction, limits: Limits) -> Correction | None:
    """Return the correction of a tin by the rest of its batch; None where that doesn't bring it inside."""

    def rest(room: Floats, scale: Scale) -> tuple[Floats | None, bool]:
        added = rest_of_batch(limits.tin, room, limits.lacking, scale)
        inside = added is not None and limits.tin.differences(added).max() <= limits.tolerance
        return (added if inside else None), False

    added, _ = rest(limits.room, limits.scale)
    found, limits, added, _ = _by_letdowns(found, limits, added, rest)
    if added is None:
        return None
    worst, how = float(limits.tin.as_seen(limits.tin.differences(added)).max()), limits.how
    if _inside(found, limits):
        limits = replace(limits, how=f"{how}, inside the tolerance")
    found = replace(
        found,
        why=f"the rest of the batch brings the worst light to ΔE00 {worst:.2f}",
        warnings=(*found.warnings, *_spoilt_by_the_scale(limits.tin, added, limits.tolerance, limits.scale)),
    )
    return _told(found, limits, added)


def _nothing_added(sprayed_tin: UpdatedTin, sprayed: Reading) -> tuple[Correction, str]:
    """Return the correction of a sprayed tin that is inside the tolerance as it is, and in words how it is off."""
    tin = sprayed_tin.tin
    if np.any(tin.since):
        found, how = _as_it_is(tin)
    else:
        words = off_in_words(tin.target, sprayed)
        how = f"the spray-out is {' and '.join(words[:2]) or 'only just off'}"
        found = _unchanged(sprayed_differences(tin.target, sprayed), sprayed.reflectance)
    found = replace(found, strengths=sprayed_tin.strengths, posterior=sprayed_tin.posterior)
    return replace(found, warnings=sprayed_tin.warnings), how


def _as_it_is(tin: Tin) -> tuple[Correction, str]:
    """Return the correction of a tin of which no card was sprayed as it is, where it is inside; in words how it is off.

    What only a difference is known of has no reflectance.
    """
    nothing = np.zeros(len(tin.poured))
    seen = tin.as_seen(tin.differences(nothing))
    before = {light: float(de) for light, de in zip(tin.target.lights, seen, strict=True)}
    reflectance = tin.reflectance(nothing) if tin.lab_offset is None else None
    off = " and ".join(tin_in_words(tin)[:2]) or "only just off"
    return _unchanged(before, reflectance), f"the batch comes out {off}"


def _unchanged(before: dict[str, float], reflectance: Floats | None) -> Correction:
    return Correction(
        reachable=True,
        additions=(),
        growth=0.0,
        before=before,
        lights=before,
        strengths={},
        why="already inside the tolerance in every light: add nothing",
        reflectance=reflectance,
        growth_needed=0.0,
    )


def _corrected(found: Correction, limits: Limits) -> Correction:
    """Return the correction of a tin that isn't inside the tolerance."""

    def likeliest(room: Floats, scale: Scale) -> tuple[Floats | None, bool]:
        added, bound = likeliest_addition(limits.tin, room, limits.tolerance, limits.most, scale)
        if added is not None:
            added = surer_addition(limits.tin, room, added, limits.tolerance, limits.most, scale)
            added = whole(added, room, scale)
        return added, bound

    def whole(added: Floats, room: Floats, scale: Scale) -> Floats:
        """What a batch lacks is poured with it: a tin of the same colour that is as large as was wanted."""
        filled = filled_up(limits.tin, added, room, limits.lacking, scale) if limits.short(added) else None
        return added if filled is None else filled

    tin = limits.tin
    added, bound = likeliest(limits.room, limits.scale)
    found, limits, added, bound = _by_letdowns(found, limits, added, likeliest, bound)
    if added is not None:
        return _told(_reached(found, limits, added, bound), limits, added)
    budgets = [limits.lacking + share * (limits.most - limits.lacking) for share in _GROWN]
    ways = [
        whole(nearest_addition(tin, limits.room, grams, limits.scale), limits.room, limits.scale) for grams in budgets
    ]
    if not limits.lacking:
        ways.append(np.zeros(len(limits.room)))
    added = nearest_for_its_paint(tin, ways, limits.growth, limits.tolerance, limits.scale)
    return _told(_not_reached(found, limits, added, ways[0]), limits, added)


def _by_letdowns(
    found: Correction, limits: Limits, added: Floats | None, seek: Seek, bound: bool = False
) -> tuple[Correction, Limits, Floats | None, bool]:
    """Return correction, limits and addition with letdowns where they pay, else as they are."""
    finer = finer_pour(limits, added, seek) if limits.letdowns else None
    if finer is None:
        return found, limits, added, bound
    added, fine, bound = finer
    letdowns = letdowns_of(limits.tin.optics.names, added, limits.total, fine)
    return replace(found, letdowns=letdowns), replace(limits, scale=fine), added, bound


def _told(found: Correction, limits: Limits, added: Floats) -> Correction:
    """Return a correction with what is added and what that is expected to do."""
    tin, last = limits.tin, {one.tint: at for at, one in enumerate(found.letdowns, 1)}
    found = replace(
        found,
        why=f"{limits.how}; {found.why}",
        additions=tuple(sorted(parts_of(tin, added), key=lambda part: last.get(part[0], 0))),
        growth=float(added.sum()) / limits.total if limits.short(added) else limits.growth(added),
        lights={
            light: float(de) for light, de in zip(tin.target.lights, tin.as_seen(tin.differences(added)), strict=True)
        },
        reflectance=None if tin.lab_offset is not None else tin.reflectance(added),
        fills_to=limits.wanted if limits.lacking and not limits.short(added) else None,
    )
    return _expected(found, tin, added, limits.tolerance, limits.scale)


def _reached(found: Correction, limits: Limits, added: Floats, bound: bool) -> Correction:
    """Return a correction that is inside the tolerance; `bound`: the growth limit kept it from aiming nearer."""
    worst = float(limits.tin.as_seen(limits.tin.differences(added)).max())
    return replace(
        found,
        why=f"with this the worst light is expected at ΔE00 {worst:.2f}",
        growth_needed=None,
        trade=_for_more_chance(limits, added) if bound else (),
        warnings=(*found.warnings, *_spoilt_by_the_scale(limits.tin, added, limits.tolerance, limits.scale)),
    )


def _not_reached(found: Correction, limits: Limits, added: Floats, nearest: Floats) -> Correction:
    """Return a correction that only comes nearer, with what is in the way and what would do.

    `nearest` is what comes nearest within the growth limit, whatever that takes.
    """
    tin, tolerance, scale, most = limits.tin, limits.tolerance, limits.scale, limits.most
    beyond, _ = likeliest_addition(tin, limits.room, tolerance, limits.far, scale)
    factor = find_limiting_factor(tin, limits.stock, tolerance, most, limits.far, scale, beyond)
    worst = tin.worst_seen(nearest)
    goal = tolerance * worst / max(float(tin.differences(nearest).max()), 1e-9)  # in the light that is meant
    found = replace(
        found,
        reachable=False,
        why=why_not_reached(factor, worst, goal, limits.max_growth, limits.growth, scale),
        growth_needed=None if beyond is None else limits.growth(beyond),
        additions_needed=parts_of(tin, factor.least),
        scale_needed=factor.finer,
    )
    if factor.within_limit or factor.short:
        return found
    ends = [added, nearest] if beyond is None else [added, nearest, beyond]
    between = (most / 2, 2 * most if beyond is None else float(np.sqrt(most * beyond.sum())))
    return replace(found, trade=_trade(limits, ends, [grams for grams in between if grams <= limits.far]))


def _expected(found: Correction, tin: Tin, added: Floats, tolerance: float, scale: Scale) -> Correction:
    """Return a correction with what the next card is expected to read."""
    drawn = tin.drawn(added, scale)
    return replace(found, chance=chance_inside(drawn, tolerance), intervals=intervals(tin.target, tin.as_seen(drawn)))


def _trade(limits: Limits, additions: Sequence[Floats], budgets: Sequence[float]) -> tuple[TradeRow, ...]:
    """Return what some additions, and the nearest ones of some weights (g), are expected to come to."""
    return trade_off(limits.tin, limits.room, additions, budgets, limits.growth, limits.tolerance, limits.scale)


def _for_more_chance(limits: Limits, added: Floats) -> tuple[TradeRow, ...]:
    """Return what more growth than the limit buys, where the chance is low for lack of it; else nothing."""
    tin, tolerance, scale = limits.tin, limits.tolerance, limits.scale
    chance = chance_after(tin, added, tolerance, scale)
    if chance >= SURE:
        return ()
    surer, _ = likeliest_addition(tin, limits.room, tolerance, limits.far, scale)
    if surer is None or chance_after(tin, surer, tolerance, scale) <= chance + NOT_WORTH:
        return ()
    return _trade(limits, [added, surer], [limits.most / 2])


def _spoilt_by_the_scale(tin: Tin, added: Floats, tolerance: float, scale: Scale) -> tuple[str, ...]:
    """Return a warning where the slips of the scale alone make it unlikely that an addition comes out inside."""
    chance = chance_after(tin, added, tolerance, scale)
    if not added.any() or chance >= 0.5:
        return ()
    finer = chance_inside(tin.drawn(added, Scale(scale.step_g / 10, scale.smallest_g)), tolerance)
    if finer < chance + _SPOILT:
        return ()
    return (
        f"the scale makes it unsure: in steps of {scale.step_g:g} g the chance of being inside is {chance:.0%}, in "
        f"steps of {scale.step_g / 10:g} g it would be {finer:.0%}",
    )
