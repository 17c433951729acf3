"""What a painter wants of a recipe besides its colour, and how thick a film of it must be to hide."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import numpy as np
import pytest

from booth.bank_writer import BLACK_GROUND, WHITE_GROUND
from booth.banks import booth_bank, tint_specs
from booth.virtual_booth import film_reflectance
from finishmatch.colour import de00, reflectance_to_lab, reflectance_to_xyz
from finishmatch.errors import InputError
from finishmatch.evidence.target import ColourTarget, colour_target
from finishmatch.mix.expected_difference import drawn_differences, intervals
from finishmatch.mix.hiding_build import contrast_ratio, ground_choices, hiding_build_um
from finishmatch.mix.propose import propose_recipes
from finishmatch.mix.recipe import RecipeList
from finishmatch.mix.wishes import RecipeRequest, Wishes
from finishmatch.optics import (
    Backing,
    BankFit,
    Panel,
    Tint,
    fit_bank,
    ground_in_contact,
    predicted_reflectance,
    volume_fractions,
)
from finishmatch.optics.next_panel import next_panels
from finishmatch.readings import Reading

SPECS = tint_specs(21, 9)
BANK = booth_bank(SPECS, thin=True)
GROUNDS = (("black", BLACK_GROUND), ("white", WHITE_GROUND))


@cache
def fit() -> BankFit:
    """The fit of a bank of nine invented tints with films of known build."""
    return fit_bank(BANK)


def grams(parts: dict[int, float]) -> np.ndarray:
    """Grams of all tints."""
    weighed = np.zeros(9)
    for index, amount in parts.items():
        weighed[index] = amount
    return weighed


def target() -> ColourTarget:
    """A colour of four of the bank's tints."""
    spectrum = predicted_reflectance(fit().optics, grams({0: 300, 2: 50, 4: 30, 5: 12}))
    return colour_target(Reading("t", spectrum[None]), ("D65", "A"), 10)


def propose(wishes: Wishes, **options: object) -> RecipeList:
    """Recipes under wishes."""
    return propose_recipes(target(), fit().optics, BANK.tints, 400.0, RecipeRequest(wishes=wishes, **options))


def test_locked_tints_are_in_every_recipe_even_when_the_colour_does_not_ask_for_them() -> None:
    names = fit().optics.names
    for must in ((names[7],), (names[3], names[8])):
        found = propose(Wishes(must=must))
        assert found.recipes
        for recipe in found.recipes:
            assert set(must) <= set(dict(recipe.parts))
            assert recipe.grams == pytest.approx(400, abs=0.11) or recipe.notes


def test_forbidden_tints_are_in_none() -> None:
    names = fit().optics.names
    found = propose(Wishes(without=(names[4], names[5])))
    assert found.recipes
    assert not any({names[4], names[5]} & set(dict(recipe.parts)) for recipe in found.recipes)


def test_a_recipe_near_another_brings_at_most_one_new_tint() -> None:
    names = fit().optics.names
    old = tuple((names[i], 100.0) for i in (0, 2, 6))
    for recipe in propose(Wishes(near=old)).recipes:
        assert len(set(dict(recipe.parts)) - {name for name, _ in old}) <= 1


@pytest.mark.parametrize(
    ("wishes", "options", "message"),
    [
        (Wishes(must=("nothing",)), {}, "there is no tint 'nothing'"),
        (Wishes(without=("whit",)), {}, "did you mean white"),
        (Wishes(must=("white",), without=("white",)), {}, "also named with `without`"),
        (Wishes(must=("white", "black")), {"max_tints": 1}, "2 tints are locked and 1 allowed"),
        (Wishes(near=(("white", 1.0),), without=("white",)), {}, "every tint of that recipe"),
        (Wishes(without=tuple(t.name for t in BANK.tints)), {}, "no tint in stock"),
        (Wishes(must=tuple(t.name for t in BANK.tints[:6])), {}, "6 tints are locked and 5 allowed; lock 5 at most"),
        (
            Wishes(must=tuple(t.name for t in BANK.tints[4:6]), near=(("white", 1.0),)),
            {},
            "aren't in the recipe of `near`, and 1 new tint is allowed",
        ),
    ],
)
def test_wishes_that_cannot_be_are_refused(wishes: Wishes, options: dict, message: str) -> None:
    with pytest.raises(InputError, match=message):
        propose(wishes, **options)


def test_the_hiding_build_is_where_the_contrast_ratio_says() -> None:
    # ISO 6504-3: Y over black / Y over white; 0.98 counts as hiding; the truth is adding-doubling (iadpython)
    optics = fit().optics
    for parts in ({0: 1.0}, {0: 3.0, 4: 1.0}, {2: 1.0, 0: 0.2}):
        weighed = grams(parts)
        build = hiding_build_um(optics, weighed, GROUNDS)
        assert contrast_ratio(optics, weighed, build, BLACK_GROUND, WHITE_GROUND) == pytest.approx(0.98, abs=0.002)
        assert contrast_ratio(optics, weighed, 0.7 * build, BLACK_GROUND, WHITE_GROUND) < 0.98
        share = volume_fractions(weighed, optics.dry_ml_per_g)
        true = [
            reflectance_to_xyz(film_reflectance(share, [s.pigment for s in SPECS], build_um=build, ground=ground))[1]
            for ground in (BLACK_GROUND, WHITE_GROUND)
        ]
        assert true[0] / true[1] == pytest.approx(0.98, abs=0.006)


def test_hiding_by_what_the_painter_sees_is_where_black_and_white_ground_part_by_that() -> None:
    optics = fit().optics
    weighed = grams({0: 3.0, 4: 1.0})
    builds = [hiding_build_um(optics, weighed, GROUNDS, unseen) for unseen in (0.2, 0.5, 2.0)]
    assert builds == sorted(builds, reverse=True)
    for build, unseen in zip(builds, (0.2, 0.5, 2.0), strict=True):
        over = [
            reflectance_to_lab(predicted_reflectance(optics.over(Backing("", build, ground)), weighed))
            for ground in (BLACK_GROUND, WHITE_GROUND)
        ]
        assert float(de00(*over)) == pytest.approx(unseen, rel=0.05)


def test_a_ground_like_the_colour_asks_for_less_paint() -> None:
    optics = fit().optics
    weighed = grams({0: 300, 2: 50, 4: 30})
    like = ground_in_contact(predicted_reflectance(optics, weighed), 1.5, True)  # a ground of about the colour itself
    choices = ground_choices(optics, weighed, (*GROUNDS, ("shade", like)), coat_um=10.0)
    assert choices[0].ground == "shade"
    assert choices[0].build_um < 0.7 * max(choice.build_um for choice in choices)
    assert all(choice.coats == max(1, int(np.ceil(choice.build_um / 10.0))) for choice in choices)


def test_without_films_of_known_build_hiding_is_not_told() -> None:
    hiding_only = fit_bank(booth_bank(SPECS)).optics
    assert hiding_build_um(hiding_only, grams({0: 1.0}), GROUNDS) is None
    assert ground_choices(hiding_only, grams({0: 1.0}), GROUNDS) == ()


def test_intervals_widen_with_what_is_unknown() -> None:
    optics, goal = fit().optics, target()
    weighed = grams({0: 300, 2: 50, 4: 30, 5: 12})
    used = [i for i in range(9) if weighed[i] > 0]
    own = optics.chosen([optics.names[i] for i in used])
    sure = intervals(goal, drawn_differences(goal, own, weighed[used], 0.1, 1e-8 * np.eye(4)))
    unsure = intervals(goal, drawn_differences(goal, own, weighed[used], 0.1))
    for light in goal.lights:
        assert sure[light][1] < 0.5 * unsure[light][1]


def test_the_panel_to_draw_next_is_one_of_a_tint_little_is_known_of() -> None:
    scarce = SPECS[5].name

    def told(panel: Panel) -> bool:
        holds = any(name == scarce for name, _ in panel.grams)
        return not holds or (panel.hides and ("masstone" in panel.name or "shaded" in panel.name))

    bank = replace(BANK, panels=tuple(panel for panel in BANK.panels if told(panel)))
    ideas = next_panels(bank, fit_bank(bank).optics)
    assert scarce in dict(ideas[0].parts)


def emptied(*names: str) -> tuple[Tint, ...]:
    """The bank's tints, some of them used up."""
    return tuple(replace(tint, stock_g=0.0) if tint.name in names else tint for tint in BANK.tints)


def test_wishes_that_the_stock_cannot_meet_are_refused() -> None:
    names = fit().optics.names

    def refused(wishes: Wishes, *empty: str) -> str:
        with pytest.raises(InputError) as caught:
            propose_recipes(target(), fit().optics, emptied(*empty), 400.0, RecipeRequest(wishes=wishes))
        return str(caught.value)

    assert f"`must`: there is too little {names[4]} in stock to weigh" in refused(Wishes(must=(names[4],)), names[4])
    near = ((names[0], 300.0), (names[4], 40.0))
    assert "`near`: none of its tints that are allowed is in stock" in refused(Wishes(near=near), names[0], names[4])
    # what is left of the old recipe is too little for two locked tints beside it
    locked = Wishes(must=(names[4], names[5]), near=(*near, (names[5], 2.0)))
    assert f"too little {names[5]}" in refused(locked, names[5])


def test_a_forbidden_tint_of_the_recipe_to_stay_near_is_left_out_and_it_is_said() -> None:
    names = fit().optics.names
    found = propose(Wishes(near=((names[0], 300.0), (names[2], 50.0), (names[4], 30.0)), without=(names[4],)))
    assert not any(names[4] in dict(recipe.parts) for recipe in found.recipes)
    assert any(f"{names[4]} of the recipe to stay near: left out" in warning for warning in found.warnings)
