"""A candidate in grams a scale can weigh: what is too little is let down, dropped, or a larger batch mixed for it."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from finishmatch.colour import Floats
from finishmatch.evidence.target import ColourTarget
from finishmatch.mix.greying import tint_hues
from finishmatch.mix.in_tenths import in_tenths
from finishmatch.mix.letdowns import MOST_LETDOWNS, Bools, LetdownScale, let_down_scale, letdowns_of_recipe
from finishmatch.mix.metamers import LightRisk
from finishmatch.mix.refine import Candidates, refine
from finishmatch.mix.subset_factors import Ints
from finishmatch.mix.weighing import polished, rounded, weighed_grams
from finishmatch.mix.wishes import RecipeRequest
from finishmatch.optics import Tint, TintOptics, predicted_reflectance

LARGEST_ENLARGEMENT = 2.0
# what keeping a tiny part must gain before a letdown is made or a larger batch mixed for it
WORTH_ITS_WORK_DE00 = 0.1


@dataclass(frozen=True)
class Batch:
    """What is to be mixed: for which target, from which tints with what stock (g), how much, and what is asked of it.

    The strengths of the request's prior are in the optics already.
    """

    target: ColourTarget
    optics: TintOptics
    tints: dict[str, Tint]
    grams: float
    request: RecipeRequest

    @cached_property
    def hues(self) -> dict[str, float]:
        """Hue of each strong tint of the optics, degrees, NaN for the others."""
        return dict(zip(self.optics.names, tint_hues(self.optics).tolist(), strict=True))

    @property
    def stock(self) -> Floats:
        """Grams in stock of each tint of the optics, shape (n,)."""
        return np.array([self.tints[name].stock_g for name in self.optics.names])

    @property
    def limits(self) -> Floats:
        """Largest share of the weight each tint may take, shape (n,)."""
        return np.minimum(self.stock / self.grams, 1.0)


@dataclass(frozen=True)
class Weighed:
    """A candidate in steps of the scale, of which no more is told yet than how near it comes.

    Parameters
    ----------
    parts : tuple of (tint, grams)
        Largest first.
    reflectance : ndarray, shape (31,)
        Predicted.
    distance : float
        ΔE00 in the worst light, for a far target ΔE*ab.
    notes : tuple of str
        What was done to make it weighable.
    risks : tuple of LightRisk
        How it may part, in further lights, from a target of which only CIELAB is known.
    by_letdown : tuple of str
        Its tints that are poured by a letdown, in tenths of the scale's step: too little to pour otherwise.
    """

    parts: tuple[tuple[str, float], ...]
    reflectance: Floats
    distance: float
    notes: tuple[str, ...] = ()
    risks: tuple[LightRisk, ...] = ()
    by_letdown: tuple[str, ...] = ()

    @property
    def names(self) -> tuple[str, ...]:
        """Its tints, in the order of the parts."""
        return tuple(name for name, _ in self.parts)

    @property
    def grams(self) -> Floats:
        """Grams of each, shape (k,)."""
        return np.array([weight for _, weight in self.parts])

    def let_down(self, scale: LetdownScale, batch: Batch) -> Weighed:
        """Return it with the tints that a scale lets down, in the order of the parts, in tenths of a step."""
        own = batch.optics.chosen(self.names)
        stock = np.array([batch.tints[name].stock_g for name in self.names])
        weights = in_tenths(self.grams, scale, stock, own, batch.target)
        return replace(_in_order(self.names, weights, own, batch.target), notes=self.notes, risks=self.risks)


def _in_order(names: tuple[str, ...], weights: Floats, own: TintOptics, target: ColourTarget) -> Weighed:
    """Return what weighs so much, its largest part first."""
    reflectance = predicted_reflectance(own, weights)
    order = np.argsort(-weights, kind="stable")
    parts = tuple((names[i], float(weights[i])) for i in order)
    return Weighed(parts, reflectance, float(target.distances(reflectance).max()))


def weigh(candidate: Candidates, batch: Batch) -> list[Weighed]:
    """Return a candidate in grams that can be weighed: as it is, or without what is too little to, or that let down.

    Nothing where nothing can be weighed, or fewer tints do the same.

    Parameters
    ----------
    candidate : Candidates
        One.
    batch : Batch
    """
    scale, optics = batch.request.scale, batch.optics
    used = candidate.members[0] >= 0
    members, shares = candidate.members[0][used], candidate.shares[0][used]
    locked = np.array([optics.names[int(m)] in batch.request.wishes.must for m in members])
    weights = np.where(locked, np.maximum(shares * batch.grams, scale.smallest_g), shares * batch.grams)
    shares = weights / weights.sum()
    weights = np.where(locked, weights, shares * batch.grams)
    if (weights < scale.too_little_g).any():
        return []  # in truth a recipe of fewer tints, which was searched too
    tiny = weights < scale.smallest_g * (1 - 1e-9)
    if not tiny.any():
        return _there(_in_steps(members, shares, batch))
    dropped = _without(members, shares, tiny, batch)
    by_letdown = _by_letdown(members, shares, tiny, batch)
    kept = by_letdown or _enlarged(members, weights, shares, batch)
    if dropped and (kept is None or dropped.distance <= kept.distance + WORTH_ITS_WORK_DE00):
        return [dropped]
    return _there(dropped, by_letdown) if by_letdown else _there(kept)


def _there(*found: Weighed | None) -> list[Weighed]:
    return [each for each in found if each is not None]


def _without(members: Ints, shares: Floats, tiny: Bools, batch: Batch) -> Weighed | None:
    """Return a candidate without what is too little to weigh; None where the rest can't be weighed either."""
    if tiny.all():
        return None
    rest = refine(Candidates(members[None, ~tiny], shares[None, ~tiny]), batch.optics, batch.target, batch.limits)
    if (rest.shares * batch.grams < batch.request.scale.smallest_g).any():
        return None
    note = "; ".join(
        f"{share * batch.grams:.2g} g of {batch.optics.names[member]} left out, too little to weigh"
        for member, share in zip(members[tiny], shares[tiny], strict=True)
    )
    found = _in_steps(rest.members[0], rest.shares[0], batch)
    return None if found is None else replace(found, notes=(note,))


def _by_letdown(members: Ints, shares: Floats, tiny: Bools, batch: Batch) -> Weighed | None:
    """Return a candidate with what is too little to weigh poured by letdowns, where these can be made and suffice."""
    scale, names = batch.request.scale, tuple(batch.optics.names[int(member)] for member in members)
    if not scale.letdowns or tiny.all() or tiny.sum() > MOST_LETDOWNS:
        return None
    own, stock = batch.optics.chosen(names), batch.stock[members]
    fine = let_down_scale(tiny, scale)
    weights = in_tenths(shares * batch.grams, fine, stock, own, batch.target)
    by_letdown = tuple(name for name, small in zip(names, tiny, strict=True) if small)
    letdowns = letdowns_of_recipe(tuple(zip(names, weights.tolist(), strict=True)), by_letdown, scale.step_g)
    there = all(one.straight_g + one.tint_g <= batch.tints[one.tint].stock_g for one in letdowns)
    if not letdowns or not there or (weights < fine.smallest_parts_g(len(names)) - 1e-9).any():
        return None
    return replace(_in_order(names, weights, own, batch.target), by_letdown=by_letdown)


def _enlarged(members: Ints, weights: Floats, shares: Floats, batch: Batch) -> Weighed | None:
    """Return a candidate in a batch so large that its smallest part can be weighed; None where that is too large."""
    scale = batch.request.scale
    factor = float(scale.smallest_g / weights.min())
    larger = float(np.ceil(batch.grams * factor * 1.001 / scale.step_g) * scale.step_g)
    if factor > LARGEST_ENLARGEMENT or (shares * larger > batch.stock[members]).any():
        return None
    note = f"batch enlarged from {batch.grams:g} g to {larger:.1f} g, so that the smallest part can be weighed"
    found = _in_steps(members, shares, replace(batch, grams=larger))
    return None if found is None else replace(found, notes=(note,))


def _in_steps(members: Ints, shares: Floats, batch: Batch) -> Weighed | None:
    """Return a candidate in whole steps of the scale; None where the stock doesn't allow them."""
    scale, grams, stock = batch.request.scale, batch.grams, batch.stock
    names = tuple(batch.optics.names[int(member)] for member in members)
    own = batch.optics.chosen(names)
    if (start_too_small := shares * grams < scale.smallest_g).any():
        shares = np.where(start_too_small, scale.smallest_g / grams * 1.001, shares)
    highest = np.floor(stock[members] / scale.step_g + 1e-9).astype(np.int64)
    start = np.minimum(rounded(shares, grams, scale.step_g), highest)
    start[int(np.argmax(highest - start))] += round(grams / scale.step_g) - int(start.sum())
    if (start < scale.smallest_steps).any() or (start > highest).any():
        return None
    steps, _ = polished(start, scale.smallest_steps, highest, own, batch.target)
    return _in_order(names, weighed_grams(steps.astype(float) * scale.step_g, scale.step_g), own, batch.target)
