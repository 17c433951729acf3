"""Strong tints of a recipe poured by a letdown: where that is worth its work, and what it does to the first card."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from booth.virtual_booth import specular_reflectance
from booth.workshop import CALM, Workshop
from finishmatch.colour import de00, reflectance_to_lab
from finishmatch.evidence.target import colour_target
from finishmatch.mix.let_down import Poured, let_down
from finishmatch.mix.letdowns import MOST_LETDOWNS, OF_A_RECIPE, letdowns_of_recipe
from finishmatch.mix.propose import propose_recipes
from finishmatch.mix.recipe import Recipe
from finishmatch.mix.shortlist import Bench, as_near
from finishmatch.mix.weighing import PARTS, Scale
from finishmatch.mix.wishes import RecipeRequest
from finishmatch.optics import predicted_reflectance
from finishmatch.optics.strength import StrengthPrior
from finishmatch.readings import Reading
from tests.helpers.plain_paints import NAMES, PAINTS, TINTS, grams

SCALE = Scale()
OPTICS = PAINTS.chosen(NAMES)
GREY = grams(white=145.0, black=0.6, red=4.0)
TARGET = colour_target(Reading("grey", predicted_reflectance(OPTICS, GREY)[None]), ("D65", "A"), 10)
USED = GREY > 0
OWN = OPTICS.chosen([name for name, used in zip(NAMES, USED, strict=True) if used])
KNOWN = np.eye(3) * 0.01**2
PLENTY = np.full(3, 1e4)


def poured(**other: np.ndarray) -> Poured:
    """Half a recipe of a light grey, of tins that are known."""
    return replace(Poured(OWN, GREY[USED], PLENTY, KNOWN), **other)


def of(found: tuple[bool, ...]) -> dict[str, bool]:
    """Which of the tints are let down, by name."""
    return dict(zip(OWN.names, found, strict=True))


def test_the_strongest_tint_is_let_down_and_never_what_fills_the_cup() -> None:
    fine = let_down(poured(), TARGET, 0.5, SCALE)
    assert fine is not None
    assert of(fine.let_down)["black"]
    assert not of(fine.let_down)["white"]
    assert sum(fine.let_down) <= MOST_LETDOWNS
    np.testing.assert_array_less(fine.pour_sd_g(GREY[USED])[np.array(fine.let_down)], 0.4 * SCALE.step_g)


@pytest.mark.parametrize(
    ("what", "scale", "tolerance"),
    [
        (poured(covariance=np.eye(3) * 0.2**2, grams=GREY[USED] * 3), SCALE, 0.5),  # tins leave more open than the pour
        (poured(grams=GREY[USED] * 40), SCALE, 0.5),  # of a large batch a slip doesn't show
        (poured(), Scale(0.01, 0.03), 0.5),
        (poured(), Scale(letdowns=False), 0.5),
        (poured(), SCALE, 20.0),
        (poured(grams=GREY[USED] / 2), SCALE, 0.5),  # too little to fill a cup from
        (poured(stock=np.array([1e4, 4.5, 0.9])), SCALE, 0.5),  # enough for the recipe, and not for a cup
    ],
    ids=["unknown tins", "large", "fine scale", "not wanted", "wide", "small", "scarce"],
)
def test_none_is_let_down_where_that_is_not_worth_its_work_or_cannot_be(
    what: Poured, scale: Scale, tolerance: float
) -> None:
    assert let_down(what, TARGET, tolerance, scale) is None


@pytest.mark.parametrize("size", [1.0, 2.0, 5.0])
def test_what_goes_through_a_cup_leaves_the_recipe_as_it_is(size: float) -> None:
    """By the sums of a tin and a cup, each pour exact."""
    parts = tuple((name, float(weight)) for name, weight in zip(NAMES, GREY * size, strict=True) if weight)
    letdowns = letdowns_of_recipe(parts, ("black", "red"), SCALE.step_g)
    assert [one.tint for one in letdowns] == ["red", "black"]
    tin = grams(white=145.0) * size
    for one in letdowns:
        tin[NAMES.index(one.tint)] = one.straight_g
    for one in letdowns:
        taken = (one.filled_g - one.tint_g) * tin / tin.sum()
        assert one.filled_g == pytest.approx(PARTS * one.tint_g)
        assert taken.sum() <= OF_A_RECIPE * GREY.sum() * size
        cup = taken + np.eye(len(NAMES))[NAMES.index(one.tint)] * one.tint_g
        assert one.back_g <= cup.sum()
        tin = tin - taken + cup * one.back_g / cup.sum()
    np.testing.assert_allclose(tin / tin.sum(), GREY / GREY.sum(), atol=0.006 / (GREY.sum() * size) + 4e-5)


@pytest.mark.parametrize("size", [0.0, 0.01, 0.2, 0.6])
def test_of_a_recipe_too_small_for_a_cup_nothing_is_let_down(size: float) -> None:
    parts = tuple((name, float(weight)) for name, weight in zip(NAMES, GREY * size, strict=True))
    assert letdowns_of_recipe(parts, ("black", "red"), SCALE.step_g) == ()
    assert letdowns_of_recipe(parts[3:], ("black", "red"), SCALE.step_g) == ()


def test_first_cards_come_nearer_by_it() -> None:
    """In the booth, whose hand slips by a step: half a recipe of two or three strong tints in white, tins known."""
    off: dict[bool, list[float]] = {True: [], False: []}
    chosen = 0
    for seed in range(6):
        shop, r = Workshop(CALM, seed + 40, 8, 0.3), np.random.default_rng(seed)
        names = [tint.name for tint in shop.tints]
        for _ in range(6):
            wanted = np.zeros(8)
            used = r.choice(np.arange(1, 8), 2, replace=False)
            wanted[used] = np.exp(r.uniform(np.log(0.5), np.log(5), 2))
            wanted[0] = 150 - wanted.sum()
            by_step = [
                float(de00(*_labs(shop, wanted, wanted + 0.1 * np.eye(8)[i]))) if wanted[i] else 0 for i in range(8)
            ]
            strong = [names[i] for i in used if by_step[i] > 0.15]
            chosen += len(strong)
            for by_letdown, came in off.items():
                parts = tuple(zip(names, wanted.tolist(), strict=True))
                letdowns = letdowns_of_recipe(parts, strong if by_letdown else (), SCALE.step_g)
                tin, _ = shop.fill(wanted, letdowns, r)
                came.append(float(de00(*_labs(shop, wanted, tin))))
    assert chosen > 20
    by_hand, by_cup = (float(np.sqrt(np.square(off[by]).mean())) for by in (False, True))
    assert by_cup < 0.6 * by_hand


def _labs(shop: Workshop, *tins: np.ndarray) -> np.ndarray:
    strengths = np.ones(len(shop.tints))
    return reflectance_to_lab(np.stack([shop.spray(tin, strengths) for tin in tins]) - specular_reflectance())


def _first(**request: object) -> Recipe:
    known = StrengthPrior(NAMES, np.zeros(len(NAMES)), np.eye(len(NAMES)) * 0.01**2)
    asked = replace(RecipeRequest(prior=known, tolerance=0.5), **request)
    return propose_recipes(TARGET, OPTICS, TINTS, 150.0, asked).recipes[0]


def test_a_recipe_says_how_it_is_poured_and_promises_what_that_brings() -> None:
    found, straight = _first(), _first(scale=Scale(letdowns=False))
    assert dict(found.parts) == pytest.approx(dict(straight.parts), abs=0.051)
    assert found.worst_de00 <= straight.worst_de00
    assert "black" in {one.tint for one in found.letdowns}
    assert straight.letdowns == ()
    assert found.sensitivity_de00_p95 < 0.7 * straight.sensitivity_de00_p95
    assert found.expected_de00 < straight.expected_de00
    assert found.intervals["D65"][1] < straight.intervals["D65"][1]


def test_recipes_are_ranked_as_they_are_poured() -> None:
    """By what their cards come to with their letdowns, not by what they would poured straight."""
    known = StrengthPrior(NAMES, np.zeros(len(NAMES)), np.eye(len(NAMES)) * 0.01**2)
    found = propose_recipes(TARGET, OPTICS, TINTS, 150.0, RecipeRequest(prior=known, tolerance=0.5))
    bench, (first, *others) = Bench(0.5, SCALE.step_g), found.recipes
    assert any(one.letdowns for one in found.recipes)
    near = as_near(list(found.recipes), bench)
    assert first in near
    assert all(bench.effort(first) <= bench.effort(one) for one in near)
    easier = [one for one in others if bench.effort(one) < bench.effort(first) and bench.inside(one)]
    assert all(one.expected_de00 > first.expected_de00 for one in easier)
    assert bench.effort(first) > bench.effort(replace(first, letdowns=()))


def test_half_a_recipe_is_poured_in_tenths_of_a_step_by_its_letdowns() -> None:
    """Its tins known but for one that isn't strong: half is poured, and the drop of black by a letdown."""
    sd = np.array([0.12 if name == "red" else 0.01 for name in NAMES])
    prior = StrengthPrior(NAMES, np.zeros(len(NAMES)), np.diag(sd**2))
    asked = RecipeRequest(prior=prior, tolerance=0.5)
    target = colour_target(
        Reading("pink", predicted_reflectance(OPTICS, grams(white=145.0, black=0.55, red=60.0))[None]), ("D65",), 10
    )
    recipe = propose_recipes(target, OPTICS, TINTS, 290.0, asked).recipes[0]
    pour = recipe.first_pour
    assert pour is not None
    assert pour.letdowns
    whole = dict(recipe.parts)
    for one in pour.letdowns:
        assert dict(pour.parts)[one.tint] == pytest.approx(pour.share * whole[one.tint], abs=0.0051)
