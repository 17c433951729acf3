"""Bringing a poured tin to its target by adding only, and by adding as little as possible."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from finishmatch.colour import Floats, difference_words, reflectance_to_lab
from finishmatch.correct.addition import nearest_addition
from finishmatch.correct.as_sprayed import off_in_words, sprayed_differences
from finishmatch.correct.correction import Correction
from finishmatch.correct.finer_pour import finer_pour
from finishmatch.correct.letdowns import letdowns_of
from finishmatch.correct.likeliest_addition import NOT_WORTH, SURE, chance_after, likeliest_addition
from finishmatch.correct.limiting_factor import (
    FAR_GROWTH,
    find_limiting_factor,
    stock_of,
    weighable_stock,
    why_not_reached,
)
from finishmatch.correct.surer_addition import surer_addition
from finishmatch.correct.tin import Tin
from finishmatch.correct.trade_off import TradeRow, chance_inside, parts_of, trade_off
from finishmatch.correct.updated_tin import TinRecord, UpdatedTin, updated_tin
from finishmatch.errors import InputError
from finishmatch.evidence.target import ColourTarget
from finishmatch.mix.expected_difference import intervals
from finishmatch.mix.weighing import Scale
from finishmatch.optics import Tint, TintOptics
from finishmatch.readings import Reading

_BENCH = Scale()
_SPOILT = 0.2  # chance that a finer scale must bring to be spoken of


def correct_batch(
    target: ColourTarget,
    optics: TintOptics,
    tints: tuple[Tint, ...],
    batch: tuple[tuple[str, float], ...],
    sprayed: Reading,
    tolerance: float = 0.5,
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
    tolerance : float
        ΔE00, above 0.
    max_growth : float
        Largest weight added over weight poured, above 0.
    scale : Scale or None
    record : TinRecord or None
        What is known of the tins and of this one from earlier spray-outs.

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
    (`surer_addition`). Drops of a strong tint are poured by a letdown where that pays (`finer_pour`).
    """
    scale = scale or Scale()
    _check(tolerance, max_growth)
    tin = updated_tin(target, optics, tints, batch, sprayed, scale, record)
    words = off_in_words(tin.tin.target, sprayed)
    how = f"the spray-out is {' and '.join(words[:2]) or 'only just off'}"
    limits = _Limits(
        tin.tin, stock_of(tin.tin.optics, tints), tolerance, max_growth, tin.total, scale, how, scale.letdowns
    )
    return _brought_inside(_nothing_added(tin, sprayed), limits)


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
    _check(tolerance, max_growth)
    nothing = np.zeros(len(tin.poured))
    reflectance = tin.reflectance(nothing)
    before = {light: float(de) for light, de in zip(tin.target.lights, tin.differences(nothing), strict=True)}
    lab = reflectance_to_lab(reflectance, tin.target.lights[0], tin.target.observer)
    words = difference_words(tin.target.labs[0], lab)
    how = f"the batch comes out {' and '.join(words[:2]) or 'only just off'}"
    found = _unchanged(before, reflectance)
    return _brought_inside(found, _Limits(tin, stock_of(tin.optics, tints), tolerance, max_growth, total, scale, how))


def _brought_inside(found: Correction, limits: _Limits) -> Correction:
    """Return the correction of a tin; `found` is that of one that is inside the tolerance as it is."""
    if max(found.before.values()) <= limits.tolerance:
        return _expected(found, limits.tin, np.zeros(len(limits.stock)), limits.tolerance, limits.scale)
    return _corrected(found, limits)


def _nothing_added(sprayed_tin: UpdatedTin, sprayed: Reading) -> Correction:
    """Return the correction of a sprayed tin that is inside the tolerance as it is."""
    found = _unchanged(sprayed_differences(sprayed_tin.tin.target, sprayed), sprayed.reflectance)
    found = replace(found, strengths=sprayed_tin.strengths, posterior=sprayed_tin.posterior)
    return replace(found, warnings=sprayed_tin.warnings)


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


@dataclass(frozen=True)
class _Limits:
    """A tin, the stock (g of each tint), and what a correction of it is held to.

    `total` is the grams in the tin, `how` in words how it is off, `letdowns` whether strong tints may be let down.
    """

    tin: Tin
    stock: Floats
    tolerance: float
    max_growth: float
    total: float
    scale: Scale
    how: str
    letdowns: bool = False

    @property
    def room(self) -> Floats:
        """Grams of each tint that can be weighed in, shape (n,)."""
        return weighable_stock(self.stock, self.scale)

    @property
    def most(self) -> float:
        """Most grams that may be added."""
        return self.max_growth * self.total

    @property
    def far(self) -> float:
        """Most grams that are looked at beyond that."""
        return max(FAR_GROWTH, self.max_growth) * self.total

    def trade_off(self, additions: Sequence[Floats], budgets: Sequence[float]) -> tuple[TradeRow, ...]:
        """Return what some additions, and the nearest ones of some weights (g), are expected to come to."""
        return trade_off(self.tin, self.room, additions, budgets, self.total, self.tolerance, self.scale)


def _corrected(found: Correction, limits: _Limits) -> Correction:
    """Return the correction of a tin that isn't inside the tolerance."""
    tin, target, tolerance, scale = limits.tin, limits.tin.target, limits.tolerance, limits.scale
    added, bound = likeliest_addition(tin, limits.room, tolerance, limits.most, scale)
    if added is not None:
        added = surer_addition(tin, limits.room, added, tolerance, limits.most, scale)
    finer, last = None, dict[str, int]()
    if limits.letdowns:
        finer = finer_pour(tin, limits.stock, added, tolerance, limits.most, limits.total, scale)
    if finer is not None:
        added, fine, bound = finer
        poured = letdowns_of(tin.optics.names, added, limits.total, fine)
        last = {one.tint: at for at, one in enumerate(poured, 1)}
        scale, limits, found = fine, replace(limits, scale=fine), replace(found, letdowns=poured)
    if added is not None:
        found = _reached(found, limits, added, bound)
    else:
        added = nearest_addition(tin, limits.room, limits.most, scale)
        found = _not_reached(found, limits, added)
    found = replace(
        found,
        why=f"{limits.how}; {found.why}",
        additions=tuple(sorted(parts_of(tin, added), key=lambda part: last.get(part[0], 0))),
        growth=float(added.sum() / limits.total),
        lights={light: float(de) for light, de in zip(target.lights, tin.differences(added), strict=True)},
        reflectance=None if tin.lab_offset is not None else tin.reflectance(added),
    )
    return _expected(found, tin, added, tolerance, scale)


def _reached(found: Correction, limits: _Limits, added: Floats, bound: bool) -> Correction:
    """Return a correction that is inside the tolerance; `bound`: the growth limit kept it from aiming nearer."""
    worst = float(limits.tin.differences(added).max())
    return replace(
        found,
        why=f"with this the worst light is expected at ΔE00 {worst:.2f}",
        growth_needed=None,
        trade=_for_more_chance(limits, added) if bound else (),
        warnings=(*found.warnings, *_spoilt_by_the_scale(limits.tin, added, limits.tolerance, limits.scale)),
    )


def _not_reached(found: Correction, limits: _Limits, added: Floats) -> Correction:
    """Return a correction that only comes nearer, with what is in the way and what would do."""
    tin, tolerance, scale, total, most = limits.tin, limits.tolerance, limits.scale, limits.total, limits.most
    beyond, _ = likeliest_addition(tin, limits.room, tolerance, limits.far, scale)
    factor = find_limiting_factor(tin, limits.stock, tolerance, most, limits.far, scale, beyond)
    worst = float(tin.differences(added).max())
    found = replace(
        found,
        reachable=False,
        why=why_not_reached(factor, worst, tolerance, limits.max_growth, total, scale),
        growth_needed=None if beyond is None else float(beyond.sum() / total),
        additions_needed=parts_of(tin, factor.least),
        scale_needed=factor.finer,
    )
    if factor.within_limit or factor.short:
        return found
    ends = [added] if beyond is None else [added, beyond]
    between = (most / 2, 2 * most if beyond is None else float(np.sqrt(most * beyond.sum())))
    return replace(found, trade=limits.trade_off(ends, [grams for grams in between if grams <= limits.far]))


def _expected(found: Correction, tin: Tin, added: Floats, tolerance: float, scale: Scale) -> Correction:
    """Return a correction with what the next card is expected to read."""
    drawn = tin.drawn(added, scale)
    return replace(found, chance=chance_inside(drawn, tolerance), intervals=intervals(tin.target, drawn))


def _for_more_chance(limits: _Limits, added: Floats) -> tuple[TradeRow, ...]:
    """Return what more growth than the limit buys, where the chance is low for lack of it; else nothing."""
    tin, tolerance, scale = limits.tin, limits.tolerance, limits.scale
    chance = chance_after(tin, added, tolerance, scale)
    if chance >= SURE:
        return ()
    surer, _ = likeliest_addition(tin, limits.room, tolerance, limits.far, scale)
    if surer is None or chance_after(tin, surer, tolerance, scale) <= chance + NOT_WORTH:
        return ()
    return limits.trade_off([added, surer], [limits.most / 2])


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


def _check(tolerance: float, max_growth: float) -> None:
    if not (np.isfinite(tolerance) and tolerance > 0):
        raise InputError("`tolerance`", f"{tolerance:g} is not a tolerance", "give a ΔE00 above 0")
    if not (np.isfinite(max_growth) and 0 < max_growth <= 10):
        raise InputError("`max_growth`", f"{max_growth:g} is not a growth", "0.2 lets the tin grow by a fifth")
