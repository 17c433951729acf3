"""A standard known in one light: what else it may be looks like it there, and what is told of other lights follows."""

from __future__ import annotations

from functools import cache

import numpy as np

from booth.banks import shelf
from finishmatch.colour import metamerism_index, reflectance_to_lab
from finishmatch.evidence.target import ColourTarget, colour_target
from finishmatch.mix.metamers import likely_metamers
from finishmatch.mix.propose import propose_recipes
from finishmatch.mix.recipe import RecipeList
from finishmatch.mix.shortlist import SEEN_DE00
from finishmatch.mix.wishes import RecipeRequest
from finishmatch.optics import predicted_reflectance
from finishmatch.readings import Reading
from finishmatch.readings.resolve import typed_lab

LIGHTS = ("D65", "A", "F11")
TINTS, OPTICS = shelf(61, 9)
GRAMS = np.array([300.0, 12, 0, 0, 30, 9, 0, 0, 0])


@cache
def known_in_one_light() -> ColourTarget:
    """The colour of a mixture, of which only CIELAB is known."""
    lab = reflectance_to_lab(predicted_reflectance(OPTICS, GRAMS), "D65", 10)
    return colour_target(typed_lab(",".join(f"{value:.4f}" for value in lab)), LIGHTS, 10)


@cache
def proposed() -> RecipeList:
    """Recipes for it."""
    return propose_recipes(known_in_one_light(), OPTICS, TINTS, 500.0, RecipeRequest(tolerance=0.5))


def test_what_the_standard_may_be_has_its_colour_in_the_light_that_is_known_and_none_of_its_own_elsewhere() -> None:
    target = known_in_one_light()
    likely = likely_metamers(target, OPTICS)
    assert likely is not None
    assert len(likely.spectra) > 20
    assert target.differences(likely.spectra).max() < 1
    in_a = reflectance_to_lab(likely.spectra, "A", 10)
    assert in_a.std(axis=0).max() > 0.5


def test_the_risk_is_told_for_every_further_light_and_is_what_such_standards_would_show() -> None:
    target, recipe = known_in_one_light(), proposed().recipes[0]
    assert [risk.light for risk in recipe.risks] == ["A", "F11"]
    assert all(0 < risk.median < risk.most < 10 for risk in recipe.risks)
    likely = likely_metamers(target, OPTICS)
    assert likely is not None
    for risk in recipe.risks:
        own = np.median(metamerism_index(likely.spectra, recipe.reflectance, "D65", risk.light, 10))
        assert abs(own - risk.median) < 0.35


def test_none_stands_first_that_may_part_visibly_more_than_another_as_near() -> None:
    first, *others = proposed().recipes
    as_near = [r for r in others if r.distance <= first.distance and r.expected_de00 <= first.expected_de00]
    assert first.expected_metamerism <= min(r.expected_metamerism for r in (first, *as_near)) + SEEN_DE00


def test_where_the_spectrum_is_known_or_one_light_is_asked_for_there_is_no_risk_to_tell() -> None:
    spectrum = colour_target(Reading("t", predicted_reflectance(OPTICS, GRAMS)[None]), LIGHTS, 10)
    assert likely_metamers(spectrum, OPTICS) is None
    assert likely_metamers(colour_target(typed_lab("50,1,1"), ("D65",), 10), OPTICS) is None
