"""A candidate in whole scale steps: what is too little to weigh is dropped, or the batch enlarged for it."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property
from itertools import compress

import numpy as np

from finishmatch.colour import Floats, reflectance_to_lab
from finishmatch.evidence.target import ColourTarget
from finishmatch.mix.expected_difference import drawn_differences, intervals, itself_drawn
from finishmatch.mix.first_pour import first_pour, part_of
from finishmatch.mix.greying import greying_pairs, tint_hues
from finishmatch.mix.hiding_build import contrast_ratio, darkest_and_lightest, hides_within_de00, hiding_build_um
from finishmatch.mix.let_down import Poured, let_down
from finishmatch.mix.letdowns import LetdownScale, letdowns_of_recipe
from finishmatch.mix.metamers import LightRisk
from finishmatch.mix.recipe import Recipe, worst_metamerism
from finishmatch.mix.refine import Candidates, refine
from finishmatch.mix.subset_factors import Ints
from finishmatch.mix.weighing import Scale, polished, rounded, weighed_grams, weighing_sensitivity
from finishmatch.mix.wishes import RecipeRequest
from finishmatch.optics import Tint, TintOptics, predicted_reflectance
from finishmatch.optics.strength import StrengthPrior

LARGEST_ENLARGEMENT = 2.0
WORTH_ENLARGING_DE00 = 0.1  # what keeping a tiny part must gain before a larger batch is mixed for it


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
    def hues(self) -> Floats:
        """Hue of each strong tint of the optics, degrees, NaN for the others, shape (n,)."""
        return tint_hues(self.optics)

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
    """A candidate in whole scale steps, of which no more is told yet than how near it comes.

    Parameters
    ----------
    parts : tuple of (tint, grams)
        Largest first.
    members : ndarray, shape (k,)
        Which tints of the optics, in the order of the candidate.
    weights : ndarray, shape (k,)
        Grams of each.
    reflectance : ndarray, shape (31,)
        Predicted.
    distance : float
        ΔE00 in the worst light, for a far target ΔE*ab.
    notes : tuple of str
        What was done to make it weighable.
    risks : tuple of LightRisk
        How it may part, in further lights, from a target of which only CIELAB is known.
    """

    parts: tuple[tuple[str, float], ...]
    members: Ints
    weights: Floats
    reflectance: Floats
    distance: float
    notes: tuple[str, ...] = ()
    risks: tuple[LightRisk, ...] = ()


def weigh(candidate: Candidates, batch: Batch) -> Weighed | None:
    """Return a candidate in grams that can be weighed, or None when there are none or fewer tints do the same.

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
    tiny = weights < scale.smallest_g * (1 - 1e-9)
    if (weights < scale.step_g / 2).any():
        return None  # in truth a recipe of fewer tints, which was searched too
    if not tiny.any():
        return _weighed(members, shares, batch, ())
    dropped = None
    if not tiny.all():
        rest = refine(Candidates(members[None, ~tiny], shares[None, ~tiny]), optics, batch.target, batch.limits)
        if (rest.shares * batch.grams >= scale.smallest_g).all():
            note = "; ".join(
                f"{weight:.2g} g of {optics.names[member]} left out, too little to weigh"
                for member, weight in zip(members[tiny], weights[tiny], strict=True)
            )
            dropped = _weighed(rest.members[0], rest.shares[0], batch, (note,))
    factor = float(scale.smallest_g / weights.min())
    larger = float(np.ceil(batch.grams * factor * 1.001 / scale.step_g) * scale.step_g)
    if factor > LARGEST_ENLARGEMENT or (shares * larger > batch.stock[members]).any():
        return dropped
    note = f"batch enlarged from {batch.grams:g} g to {larger:.1f} g, so that the smallest part can be weighed"
    enlarged = _weighed(members, shares, replace(batch, grams=larger), (note,))
    if dropped and (enlarged is None or dropped.distance <= enlarged.distance + WORTH_ENLARGING_DE00):
        return dropped
    return enlarged


def _weighed(members: Ints, shares: Floats, batch: Batch, notes: tuple[str, ...]) -> Weighed | None:
    target, scale, grams, stock = batch.target, batch.request.scale, batch.grams, batch.stock
    names = [batch.optics.names[int(member)] for member in members]
    own = batch.optics.chosen(names)
    if (start_too_small := shares * grams < scale.smallest_g).any():
        shares = np.where(start_too_small, scale.smallest_g / grams * 1.001, shares)
    highest = np.floor(stock[members] / scale.step_g + 1e-9).astype(np.int64)
    start = np.minimum(rounded(shares, grams, scale.step_g), highest)
    start[int(np.argmax(highest - start))] += round(grams / scale.step_g) - int(start.sum())
    if (start < scale.smallest_steps).any() or (start > highest).any():
        return None
    steps, _ = polished(start, scale.smallest_steps, highest, own, target)
    weights = weighed_grams(steps.astype(float) * scale.step_g, scale.step_g)
    reflectance = predicted_reflectance(own, weights)
    order = np.argsort(-weights, kind="stable")
    return Weighed(
        tuple((names[i], float(weights[i])) for i in order),
        members,
        weights,
        reflectance,
        float(target.distances(reflectance).max()),
        notes,
    )


def recipe_of(weighed: Weighed, batch: Batch) -> Recipe:
    """Return what is weighed as a recipe, with what its first card will differ by, as a range and on the average."""
    target, scale = batch.target, batch.request.scale
    names, weights = [batch.optics.names[int(member)] for member in weighed.members], weighed.weights
    own, reference = batch.optics.chosen(names), target.lights[0]
    lab = reflectance_to_lab(weighed.reflectance, reference, target.observer)
    off = target.differences(weighed.reflectance)
    recipe = Recipe(
        parts=weighed.parts,
        reflectance=weighed.reflectance,
        lab=lab,
        lights={light: float(de) for light, de in zip(target.lights, off, strict=True)},
        metamerism=worst_metamerism(target, weighed.reflectance),
        cost=float(sum(w / 1000 * batch.tints[name].price_per_kg for name, w in zip(names, weights, strict=True))),
        sensitivity_de00_p95=weighing_sensitivity(weights, scale.pour_sd_g(weights), own, reference, target.observer),
        distance=weighed.distance,
        greying=tuple((names[i], names[j]) for i, j in greying_pairs(batch.hues[weighed.members], lab)),
        risks=weighed.risks,
        notes=weighed.notes,
    )
    own, weights, covariance = _poured(recipe, batch)
    drawn = drawn_differences(target, own, weights, scale.pour_sd_g(weights), covariance)
    return replace(recipe, intervals=intervals(target, drawn), expected_de00=float(drawn.max(axis=1).mean()))


def _poured(recipe: Recipe, batch: Batch) -> tuple[TintOptics, Floats, Floats | None]:
    """Return the tints of a recipe, their grams, and the covariance of the logarithms of their strengths."""
    own = batch.optics.chosen([name for name, _ in recipe.parts])
    prior = batch.request.prior
    covariance = None if prior is None else prior.chosen(own.names).log_covariance
    return own, np.array([grams for _, grams in recipe.parts]), covariance


def with_all_told(recipe: Recipe, batch: Batch) -> Recipe:
    """Return a recipe with what else is told of one that is listed: how it is poured, and the build that hides."""
    request = batch.request
    own, weights, covariance = _poured(recipe, batch)
    recipe = _with_pours(recipe, own, batch)
    backing, fine = own.backing, _pour_sd(recipe, weights, request.scale)
    itself = itself_drawn(batch.target)
    if itself is not None:
        recipe = replace(
            recipe, intervals_itself=intervals(itself, drawn_differences(itself, own, weights, fine, covariance))
        )
    if recipe.letdowns:
        drawn = drawn_differences(batch.target, own, weights, fine, covariance)
        light, observer = batch.target.lights[0], batch.target.observer
        recipe = replace(
            recipe,
            intervals=intervals(batch.target, drawn),
            expected_de00=float(drawn.max(axis=1).mean()),
            sensitivity_de00_p95=weighing_sensitivity(weights, fine, own, light, observer),
        )
    return replace(
        recipe,
        contrast_ratio=None
        if backing is None
        else contrast_ratio(own, weights, backing.build_um, *darkest_and_lightest(request.grounds)),
        hiding_build_um=hiding_build_um(own, weights, request.grounds, request.unseen_de00),
        hides_within_de00=hides_within_de00(own, weights, request.unseen_de00),
    )


def _pour_sd(recipe: Recipe, weights: Floats, scale: Scale) -> Floats:
    """Return what the pours of a recipe, its letdowns with them, are off by, one standard deviation, g, shape (k,)."""
    by_letdown = {one.tint for one in recipe.letdowns}
    flags = tuple(tint in by_letdown for tint, _ in recipe.parts)
    return LetdownScale(scale.step_g, scale.smallest_g, let_down=flags).pour_sd_g(weights)


def _with_pours(recipe: Recipe, own: TintOptics, batch: Batch) -> Recipe:
    """Return a recipe with its first pour, and with the letdowns by which that, or else all of it, is poured."""
    request, target = batch.request, batch.target
    prior, scale = request.prior, request.scale
    known = StrengthPrior.default(own.names) if prior is None else prior.chosen(own.names)
    pour = None if own.backing is not None else first_pour(recipe.parts, known.log_covariance, scale)
    grams = np.array([weight for _, weight in (recipe.parts if pour is None else pour.parts)])
    covariance = known.log_covariance if prior is not None or pour is not None else None
    stock = np.array([batch.tints[name].stock_g for name in own.names])
    fine = let_down(Poured(own, grams, stock, covariance), target, request.tolerance, scale)
    by_letdown = () if fine is None else tuple(compress(own.names, fine.let_down))
    recipe = replace(recipe, letdowns=letdowns_of_recipe(recipe.parts, by_letdown, scale.step_g))
    if pour is None:
        return recipe
    if fine is not None:
        grams = part_of(np.array([weight for _, weight in recipe.parts]), pour.share, fine)
    parts = tuple((name, float(weight)) for name, weight in zip(own.names, grams, strict=True))
    drawn = drawn_differences(target, own, grams, (fine or scale).pour_sd_g(grams), known.log_covariance)
    letdowns = letdowns_of_recipe(parts, by_letdown, scale.step_g)
    pour = replace(pour, parts=parts, intervals=intervals(target, drawn), letdowns=letdowns)
    return replace(recipe, first_pour=pour)
