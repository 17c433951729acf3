"""What is weighed, as a recipe: how it is poured, and what its first card will differ by then."""

from __future__ import annotations

from dataclasses import replace
from itertools import compress

import numpy as np

from finishmatch.colour import Floats, reflectance_to_lab
from finishmatch.evidence.target import ColourTarget
from finishmatch.mix.expected_difference import drawn_differences, intervals, itself_drawn
from finishmatch.mix.first_pour import FirstPour, first_pour, part_of
from finishmatch.mix.greying import greying_pairs
from finishmatch.mix.hiding_build import contrast_ratio, darkest_and_lightest, hides_within_de00, hiding_build_um
from finishmatch.mix.let_down import Poured, let_down
from finishmatch.mix.letdowns import let_down_scale, letdowns_of_recipe
from finishmatch.mix.recipe import Recipe, worst_metamerism
from finishmatch.mix.weighed import Batch, Weighed
from finishmatch.mix.weighing import Scale, weighing_sensitivity
from finishmatch.optics import TintOptics, predicted_reflectance
from finishmatch.optics.strength import StrengthPrior


def recipe_of(weighed: Weighed, batch: Batch) -> Recipe:
    """Return what is weighed as a recipe, with what its first card will differ by, as a range and on the average.

    Notes
    -----
    The tints of which a drop shows most are poured by a letdown, in tenths of the scale's step: which these are hangs
    on what is poured before the first card.
    """
    return _recipe(*_as_poured(weighed, batch), batch)


def straight_recipe(weighed: Weighed, batch: Batch) -> Recipe:
    """Return what is weighed as a recipe poured at once, by no letdowns but of what is too little to pour otherwise."""
    return _recipe(weighed, None, _scale_of(weighed, batch.request.scale), batch)


def _recipe(weighed: Weighed, pour: FirstPour | None, scale: Scale, batch: Batch) -> Recipe:
    target, own, weights = batch.target, batch.optics.chosen(weighed.names), weighed.grams
    lab = reflectance_to_lab(weighed.reflectance, target.lights[0], target.observer)
    off, pour_sd = target.differences(weighed.reflectance), scale.pour_sd_g(weights)
    drawn = _drawn(target, own, weights, scale, batch)
    hues = np.array([batch.hues[name] for name in own.names])
    return Recipe(
        parts=weighed.parts,
        reflectance=weighed.reflectance,
        lab=lab,
        lights={light: float(de) for light, de in zip(target.lights, off, strict=True)},
        metamerism=worst_metamerism(target, weighed.reflectance),
        cost=float(sum(weight / 1000 * batch.tints[name].price_per_kg for name, weight in weighed.parts)),
        sensitivity_de00_p95=weighing_sensitivity(weights, pour_sd, own, target.lights[0], target.observer),
        distance=weighed.distance,
        intervals=intervals(target, drawn),
        expected_de00=float(drawn.max(axis=1).mean()),
        greying=tuple((own.names[i], own.names[j]) for i, j in greying_pairs(hues, lab)),
        risks=weighed.risks,
        first_pour=pour,
        letdowns=letdowns_of_recipe(weighed.parts, weighed.by_letdown, scale.step_g),
        notes=weighed.notes,
        step_g=scale.step_g,
    )


def _as_poured(weighed: Weighed, batch: Batch) -> tuple[Weighed, FirstPour | None, Scale]:
    """Return what is weighed as it is best poured, what of it before its card, and the scale with its letdowns."""
    request, own = batch.request, batch.optics.chosen(weighed.names)
    scale = _scale_of(weighed, request.scale)
    known = _known(own, batch)
    pour = None if own.backing is not None else first_pour(weighed.parts, known.log_covariance, scale)
    if pour is not None and weighed.by_letdown and not letdowns_of_recipe(pour.parts, weighed.by_letdown, scale.step_g):
        pour = None  # so little of it can't spare what goes into a cup
    grams = weighed.grams if pour is None else np.array([weight for _, weight in pour.parts])
    covariance = known.log_covariance if request.prior is not None or pour is not None else None
    stock = np.array([batch.tints[name].stock_g for name in own.names])
    poured = Poured(own, grams, stock, covariance, weighed.by_letdown)
    fine = let_down(poured, batch.target, request.tolerance, request.scale)
    if fine is None:
        return weighed, pour, scale
    by_letdown = tuple(compress(own.names, fine.let_down))
    weighed = replace(weighed.let_down(fine, batch), by_letdown=by_letdown)
    scale = _scale_of(weighed, request.scale)
    if pour is not None:
        grams = part_of(weighed.grams, pour.share, scale)
        parts = tuple(zip(weighed.names, grams.tolist(), strict=True))
        pour = replace(pour, parts=parts, letdowns=letdowns_of_recipe(parts, by_letdown, scale.step_g))
    return weighed, pour, scale


def _scale_of(weighed: Weighed, scale: Scale) -> Scale:
    """Return the scale with the letdowns by which a recipe is poured."""
    by_letdown = np.isin(weighed.names, weighed.by_letdown)
    return let_down_scale(by_letdown, scale) if by_letdown.any() else scale


def _known(own: TintOptics, batch: Batch) -> StrengthPrior:
    """Return what is known of the strengths of some tins."""
    prior = batch.request.prior
    return StrengthPrior.default(own.names) if prior is None else prior.chosen(own.names)


def _drawn(target: ColourTarget, own: TintOptics, grams: Floats, scale: Scale, batch: Batch) -> Floats:
    """Return draws of what a card of some grams will differ by, ΔE00, shape (draws, lights).

    Of what is drawn beyond the prediction the shop's own cards say how much comes true (`times_off`): in squares, as
    what is off goes any way. What comes nearer than is predicted may come so in any shop.
    """
    covariance = None if batch.request.prior is None else _known(own, batch).log_covariance
    drawn = drawn_differences(target, own, grams, scale.pour_sd_g(grams), covariance)
    predicted = batch.target.differences(predicted_reflectance(own, grams))
    beyond = batch.request.times_off**2 * np.maximum(drawn**2 - predicted**2, 0.0)
    return np.asarray(np.where(drawn > predicted, np.sqrt(predicted**2 + beyond), drawn))


def with_all_told(recipe: Recipe, batch: Batch) -> Recipe:
    """Return a recipe with what else is told of one that is listed: of its first pour, and the build that hides."""
    request, target = batch.request, batch.target
    own = batch.optics.chosen([name for name, _ in recipe.parts])
    weights = np.array([grams for _, grams in recipe.parts])
    backing, itself, pour = own.backing, itself_drawn(target), recipe.first_pour
    scale = let_down_scale(np.isin(own.names, [one.tint for one in recipe.letdowns]), request.scale)
    if itself is not None:
        recipe = replace(recipe, intervals_itself=intervals(itself, _drawn(itself, own, weights, scale, batch)))
    if pour is not None:
        grams = np.array([weight for _, weight in pour.parts])
        of_part = intervals(target, _drawn(target, own, grams, scale, batch))
        recipe = replace(recipe, first_pour=replace(pour, intervals=of_part))
    return replace(
        recipe,
        contrast_ratio=None
        if backing is None
        else contrast_ratio(own, weights, backing.build_um, *darkest_and_lightest(request.grounds)),
        hiding_build_um=hiding_build_um(own, weights, request.grounds, request.unseen_de00),
        hides_within_de00=hides_within_de00(own, weights, request.unseen_de00),
    )
