"""Inside the tolerance the simplest recipe comes first, and a harder one says what a painter sees of it."""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from pathlib import Path

import numpy as np
import pytest

from finishmatch.colour import Floats
from finishmatch.evidence.target import ColourTarget, colour_target
from finishmatch.mix.greying import greying_pairs, tint_hues
from finishmatch.mix.propose import propose_recipes
from finishmatch.mix.recipe import Recipe, RecipeList
from finishmatch.mix.shortlist import SEEN_DE00, Bench, shortlist
from finishmatch.mix.why_first import why_first, why_harder
from finishmatch.mix.wishes import RecipeRequest
from finishmatch.optics import Bank, TintOptics, fit_bank, predicted_reflectance
from finishmatch.readings import Reading, read_bank

SWATCHES = Path(__file__).parents[2] / "swatches"
BENCH = Bench(1.0, 0.1)
BENT = 0.004 * np.sin(np.arange(31) / 4)


@cache
def bank() -> tuple[Bank, TintOptics]:
    """The bundled bank, fitted."""
    read = read_bank(SWATCHES / "bank")
    optics = fit_bank(read).optics
    coloured = [tint.name for tint in read.tints if tint.name in optics.names and tint.role != "clear"]
    return read, optics.chosen(coloured)


def spectrum_of(**grams: float) -> Floats:
    """The colour of a mixture of the bank's tints."""
    optics = bank()[1]
    return predicted_reflectance(optics, np.array([grams.get(name.replace(" ", "_"), 0.0) for name in optics.names]))


def target_of(spectrum: Floats, *lights: str) -> ColourTarget:
    """A target of a spectrum."""
    return colour_target(Reading("t", spectrum[None]), lights or ("D65", "A", "F11"), 10)


def recipes_of(target: ColourTarget, tolerance: float = 1.0, without: str = "") -> RecipeList:
    """Recipes of 500 g."""
    read, optics = bank()
    optics = optics.chosen([name for name in optics.names if name != without])
    return propose_recipes(target, optics, read.tints, 500.0, RecipeRequest(tolerance=tolerance))


@cache
def off_white(bent: float) -> RecipeList:
    """Recipes of an off-white, bent so far from what the bank can make exactly."""
    return recipes_of(target_of(spectrum_of(white=500, ochre=4, black=0.6, red_oxide=0.5) + bent * BENT))


@pytest.mark.parametrize("bent", [0.0, 1.0])
def test_an_off_white_is_white_with_one_to_three_tints(bent: float) -> None:
    first = off_white(bent).recipes[0]
    names = [tint for tint, _ in first.parts]
    assert names[0] == "white"
    assert 2 <= len(names) <= 4
    assert first.greying == ()


@pytest.mark.parametrize("white", [0.0, 3.0, 12.0])
def test_a_black_holds_no_orange(white: float) -> None:
    found = recipes_of(target_of(spectrum_of(black=480, blue=12, white=white)))
    first = found.recipes[0]
    assert found.within
    assert not {"orange", "scarlet", "warm yellow", "clean yellow"} & {tint for tint, _ in first.parts}
    assert first.greying == ()
    assert len(first.parts) <= 3


def test_a_tint_that_a_further_light_needs_stays_and_says_so() -> None:
    found = off_white(3.0)
    first = found.recipes[0]
    simpler = [recipe for recipe in found.recipes if len(recipe.parts) < len(first.parts) and BENCH.inside(recipe)]
    assert len(first.parts) == 4
    assert simpler
    for recipe in simpler:
        worse = max(recipe.lights[light] - first.lights[light] for light in ("A", "F11"))
        assert worse > SEEN_DE00 or recipe.expected_de00 > first.expected_de00
    assert f"in F11 instead of {first.lights['F11']:.2f}" in why_harder(found, BENCH)


def made_up(worst: float, tints: int, expected: float, greying: tuple[tuple[str, str], ...] = ()) -> Recipe:
    """A recipe of so many tints, as near as is said."""
    parts = tuple((f"{worst:g} {i}", 500.0 / tints) for i in range(tints))
    lights = {"D65": worst, "A": worst / 2}
    return Recipe(parts, np.ones(31), np.zeros(3), lights, 0.1, 10.0, 0.1, worst, {}, expected, greying)


def test_what_is_inside_is_behind_what_is_not_only_for_a_first_card_that_comes_nearer() -> None:
    r = np.random.default_rng(7)
    outside_first = 0
    for _ in range(200):
        drawn = [
            made_up(float(worst), int(tints), float(np.hypot(worst, doubt)))
            for worst, tints, doubt in zip(
                r.uniform(0, 1.6, 12), r.integers(1, 6, 12), r.uniform(0.2, 3, 12), strict=True
            )
        ]
        first, *others = listed = shortlist(drawn, BENCH, lambda recipe: recipe, lambda recipe: recipe)
        inside = [BENCH.inside(recipe) for recipe in others]
        assert any(map(BENCH.inside, listed)) == any(map(BENCH.inside, drawn))
        if BENCH.inside(first) or not any(inside):
            assert inside == sorted(inside, reverse=True)
            continue
        outside_first += 1
        assert first.worst_de00 <= 1.5 * BENCH.tolerance
        least = min(recipe.expected_de00 for recipe in drawn if BENCH.inside(recipe))
        assert first.expected_de00 < least - 0.05
        told = min(recipe.expected_de00 for recipe in listed if BENCH.inside(recipe))
        found = RecipeList(listed, True, "", recipes_of(target_of(spectrum_of(white=500, black=5))).searched)
        for said in (why_harder(found, BENCH), why_first(found, BENCH)[0]):
            assert f"expected at ΔE00 {told:.2f} instead of {first.expected_de00:.2f}" in said
    assert outside_first > 3


def test_of_known_tins_what_is_outside_never_comes_first() -> None:
    near, outside, surer = made_up(0.9, 3, 0.95), made_up(1.4, 2, 0.92), made_up(1.6, 2, 0.5)
    assert shortlist([near, outside], BENCH, lambda recipe: recipe, lambda recipe: recipe)[0] is near
    assert shortlist([near, surer], BENCH, lambda recipe: recipe, lambda recipe: recipe)[0] is near
    nearer = replace(outside, expected_de00=0.8)
    assert shortlist([near, nearer], BENCH, lambda recipe: recipe, lambda recipe: recipe)[0] is nearer


def test_what_comes_to_the_same_once_it_is_poured_by_letdowns_stands_once() -> None:
    """Two that were put in whole steps otherwise may be the same in tenths, as `expected` returns them."""
    one, other, far = made_up(0.2, 3, 1.0), made_up(0.25, 3, 1.0), made_up(0.6, 2, 1.6)
    as_poured = {one.parts: one, other.parts: replace(one, notes=("left out",)), far.parts: far}
    listed = shortlist([one, other, far], BENCH, lambda recipe: as_poured[recipe.parts], lambda recipe: recipe)
    assert [recipe.parts for recipe in listed].count(one.parts) == 1
    assert listed[0].notes == ("left out",)  # what was left out is worth saying


def test_fewer_tints_win_below_what_is_seen_and_not_above() -> None:
    hard, simple, far = made_up(0.05, 5, 1.5), made_up(0.3, 3, 1.53), made_up(0.5, 2, 1.6)
    assert shortlist([hard, simple, far], BENCH, lambda recipe: recipe, lambda recipe: recipe)[0] is simple
    surer = replace(hard, expected_de00=1.2)
    assert shortlist([surer, simple, far], BENCH, lambda recipe: recipe, lambda recipe: recipe)[0] is surer
    tight = Bench(0.2, 0.1)
    assert shortlist([hard, simple, far], tight, lambda recipe: recipe, lambda recipe: recipe)[0] is hard


def test_what_is_too_little_to_pour_surely_and_what_fights_count() -> None:
    sure = made_up(0.2, 4, 1.0)
    fighting = made_up(0.1, 4, 1.0, (("orange", "blue"),))
    assert shortlist([sure, fighting], BENCH, lambda recipe: recipe, lambda recipe: recipe)[0] is sure
    drops = replace(sure, parts=(("white", 498.0), ("a", 0.5), ("b", 0.8), ("c", 0.7)), distance=0.1)
    assert shortlist([sure, drops], BENCH, lambda recipe: recipe, lambda recipe: recipe)[0] is sure
    only = RecipeList((fighting,), True, "", recipes_of(target_of(spectrum_of(white=500, black=5))).searched)
    assert why_harder(only, BENCH) == "orange and blue grey each other: nothing simpler is inside the tolerance"
    assert "none other comes as near" in why_first(only, BENCH)


def test_opposed_hues_grey_each_other_and_a_green_is_made_of_yellow_and_blue() -> None:
    optics = bank()[1]
    hues = dict(zip(optics.names, tint_hues(optics), strict=True))
    assert {name for name, hue in hues.items() if np.isnan(hue)} == {"white", "black", "soft black", "brown umber"}
    pair = np.array([hues["blue"], hues["clean yellow"]])
    assert greying_pairs(pair, np.array([40.0, 1.0, 2.0])) == [(0, 1)]
    assert greying_pairs(pair, np.array([50.0, -30.0, 10.0])) == []
    assert greying_pairs(np.array([hues["orange"], hues["blue"]]), np.array([25.0, 1.0, -1.0])) == [(0, 1)]
    assert greying_pairs(np.array([hues["scarlet"], hues["green"]]), np.array([40.0, 35.0, 15.0])) == [(0, 1)]
    assert greying_pairs(np.array([hues["scarlet"], hues["warm yellow"]]), np.array([40.0, 1.0, 1.0])) == []
