"""What a list of recipes says of itself, which stand in it, and what of the wishes can't be: by recipes made up."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from finishmatch.colour import metamerism_index, reflectance_to_lab
from finishmatch.errors import InputError
from finishmatch.evidence.target import colour_target
from finishmatch.mix.metamers import LightRisk, risks_document
from finishmatch.mix.propose import first_recipe, propose_recipes
from finishmatch.mix.recipe import Recipe, RecipeList, worst_metamerism
from finishmatch.mix.relaxed_search import Searched
from finishmatch.mix.shortlist import Bench, as_near, pareto_front, shortlist
from finishmatch.mix.weighing import Scale
from finishmatch.mix.why_first import why_first, why_harder
from finishmatch.mix.wishes import RecipeRequest, Wishes
from finishmatch.optics import Backing, predicted_reflectance
from finishmatch.readings import Reading
from tests.helpers.plain_paints import GOAL, NAMES, PAINTS, TINTS, WISHED, grams

BENCH = Bench(1.0, 0.1)
SEARCHED = Searched(1234, 12, 4, 4)


def made(worst: float, parts: int = 3, **other: object) -> Recipe:
    """A recipe made up: its worst light, how many tints, and what else is told of it."""
    tints = tuple((name, 10.0) for name in ("white", "blue", "red", "black", "green")[:parts])
    recipe = Recipe(
        tints, np.ones(31), np.zeros(3), {"D65": worst, "A": worst / 2}, 0.1, 10.0, 0.1, worst, expected_de00=worst
    )
    return replace(recipe, **other)


def listed(*recipes: Recipe, within: bool = True) -> RecipeList:
    return RecipeList(recipes, within, "", SEARCHED)


def goal_of(poured: np.ndarray, lights: tuple[str, ...] = ("D65", "A")) -> object:
    return colour_target(Reading("goal", predicted_reflectance(PAINTS, poured)[None]), lights, 10)


# what a recipe is


def test_a_recipe_weighs_what_its_parts_weigh_and_is_as_far_as_its_worst_light() -> None:
    recipe = made(0.4)
    assert (recipe.grams, recipe.worst_de00, recipe.expected_metamerism) == (30.0, 0.4, 0.1)
    risks = (LightRisk("A", 0.6, 1.2), LightRisk("F11", 0.9, 1.1))
    assert replace(recipe, metamerism=None, risks=risks).expected_metamerism == 0.9
    assert replace(recipe, metamerism=None).expected_metamerism == 0.0
    assert risks_document(risks) == {"A": {"median": 0.6, "most": 1.2}, "F11": {"median": 0.9, "most": 1.1}}


def test_the_worst_metamerism_is_that_of_the_worst_further_light() -> None:
    target = goal_of(WISHED, ("D65", "A", "F11"))
    other = predicted_reflectance(PAINTS, grams(white=300, blue=60, black=5))
    each = [float(metamerism_index(target.reflectance, other, "D65", light, 10)) for light in ("A", "F11")]
    assert worst_metamerism(target, other) == pytest.approx(max(each))
    assert worst_metamerism(goal_of(WISHED, ("D65",)), other) is None
    chip = colour_target(Reading("chip", np.array([[50.0, 0, 0]])), ("D65", "A"), 10)
    assert worst_metamerism(chip, other) is None


def test_effort_counts_tints_small_parts_and_those_that_fight() -> None:
    recipe = made(0.1)
    assert BENCH.effort(recipe) == 3
    small = replace(recipe, parts=(("white", 50.0), ("blue", 0.9), ("red", 1.0)))
    assert BENCH.effort(small) == 3.5
    assert Bench(1.0, 1.0).effort(recipe) == 3
    assert Bench(1.0, 1.1).effort(recipe) == 4.5
    assert BENCH.effort(replace(recipe, greying=(("blue", "red"),))) == 4
    assert BENCH.inside(made(1.0))
    assert not BENCH.inside(made(1.01))


def test_a_row_stays_where_no_other_beats_it_and_twins_count_once() -> None:
    merits = np.array([[1.0, 5.0], [2.0, 4.0], [2.0, 6.0], [1.05, 5.05], [5.0, 4.05]])
    assert pareto_front(merits, np.array([0.1, 0.1])) == [0, 1]
    assert pareto_front(merits, np.array([0.0, 0.0])) == [0, 1]
    assert pareto_front(merits[:1], np.array([0.0, 0.0])) == [0]
    assert sorted(pareto_front(np.array([[1.0, 2], [2, 1], [3, 0]]), np.zeros(2))) == [0, 1, 2]


def test_which_are_as_near() -> None:
    near, seen, unseen = made(0.1), made(0.39), made(0.41)
    assert as_near([near, replace(seen, expected_de00=0.1)], BENCH) == [near, replace(seen, expected_de00=0.1)]
    assert as_near([near, replace(unseen, expected_de00=0.1)], BENCH) == [near]
    # of the first cards: a tenth more is as near, a twentieth at least and three tenths at most
    for expected, alike, apart in ((1.0, 1.09, 1.11), (0.2, 0.249, 0.251), (5.0, 5.29, 5.31)):
        first = replace(near, expected_de00=expected)
        assert len(as_near([first, replace(near, expected_de00=alike)], BENCH)) == 2
        assert len(as_near([first, replace(near, expected_de00=apart)], BENCH)) == 1
    # outside the tolerance: by what is predicted, to two hundredths
    outside = [made(1.5), made(1.52), made(1.53)]
    assert as_near(outside, BENCH) == outside[:2]
    (only,) = as_near([made(0.9), *outside], BENCH)
    assert only.worst_de00 == 0.9
    # where the standard's spectrum isn't known, what it may part by in other lights decides as well
    risky = [replace(near, metamerism=None, risks=(LightRisk("A", risk, 2.0),)) for risk in (0.2, 0.49, 0.51)]
    assert as_near(risky, BENCH) == risky[:2]
    far_but_sure = made(0.9, expected_de00=0.9)
    assert as_near([made(0.2, expected_de00=3.0), far_but_sure], BENCH) == [far_but_sure]


def test_the_list_leaves_out_what_is_beaten_or_useless_and_puts_the_simplest_first() -> None:
    def of(*recipes: Recipe) -> list[int]:
        found = shortlist(list(recipes), BENCH, lambda recipe: recipe, lambda recipe: recipe)
        return [next(i for i, one in enumerate(recipes) if one is r) for r in found]

    hard, simple = made(0.1, 4), made(0.2, 2, expected_de00=0.1)
    assert of(hard, simple) == [1, 0]
    assert of(hard, simple, made(1.3, 1, cost=0.1)) == [1, 0]  # a whole ΔE00 worse isn't listed
    assert of(hard, simple, made(1.05, 1, cost=0.1)) == [1, 0, 2]
    assert of(hard, made(0.3, 5, cost=11.0)) == [0]
    plain = replace(made(0.1, 3), parts=(("white", 11.0), ("blue", 10.0), ("red", 10.0)))
    cheap = made(0.1, 3, cost=5.0)
    assert of(plain, cheap) == [1]
    outside = [made(1.8, 2, cost=5.0), made(1.2, 3)]
    assert of(*outside) == [1, 0]


# what is said of the list


def test_why_the_first_stands_first() -> None:
    first = made(0.2, 2, expected_de00=0.1, cost=12.0)
    others = (made(0.1, 3, expected_de00=0.1), made(0.15, 4, expected_de00=0.1, sensitivity_de00_p95=0.05))
    assert why_first(listed(first, *others), BENCH) == (
        "its worst light is predicted at 0.20; the best of all is 0.10, and less than 0.3 isn't seen",
        "2 more are as near, as predicted and as the first card may come out; of these it is the simplest: "
        "fewest tints, "
        "none too little to pour surely, none fighting another",
        "2 is listed because it costs 10.00 instead of 12.00 and is predicted at 0.10 instead of 0.20",
        "3 is listed because it costs 10.00 instead of 12.00 and suffers ±0.05 instead of ±0.10 from the scale and is "
        "predicted at 0.15 instead of 0.20",
    )
    (_, told, _) = why_first(listed(first, others[0]), BENCH)
    assert told.startswith("1 more is as near, as predicted")
    alone = why_first(listed(made(1.5), within=False), BENCH)
    assert alone == (
        "its worst light is predicted at 1.50; the best of all is 1.50, and what lies within 0.02 of it counts "
        "as alike",
        "none other comes as near",
    )


def test_what_each_of_the_others_is_listed_for() -> None:
    def merits(**other: object) -> str:
        (*_, last) = why_first(listed(made(0.1, 3), made(0.1, **{"parts": 3, **other})), BENCH)  # type: ignore[arg-type]
        return last.removeprefix("2 is listed because it ")

    assert merits(parts=2) == "has 2 tints instead of 3"
    assert merits(metamerism=0.05) == "has a metamerism of 0.05 instead of 0.10"
    risky = merits(metamerism=None, risks=(LightRisk("A", 0.05, 1.0),))
    assert risky == "may show a metamerism of 0.05 instead of 0.10"
    assert merits(metamerism=0.096) == "beats another of the list"
    assert merits() == "beats another of the list"
    (*_, last) = why_first(listed(made(0.1, 3, greying=(("blue", "red"),)), made(0.1, 3)), BENCH)
    assert last == "2 is listed because it is easier to pour, or of tints that don't fight"


def test_what_a_harder_first_gains_is_said() -> None:
    first = made(0.1, 4)
    assert why_harder(listed(first, made(0.2, 4)), BENCH) == ""
    fighting = replace(first, greying=(("blue", "red"), ("red", "green")))
    fights = "blue and red grey each other and red and green grey each other"
    assert why_harder(listed(fighting), BENCH) == f"{fights}: nothing simpler is inside the tolerance"
    assert why_harder(listed(fighting, within=False), BENCH) == f"{fights}: nothing simpler comes as near"
    farther = made(0.6, 2)
    told = "number 3 is simpler (2 tints), but it is predicted at ΔE00 0.60 in D65 instead of 0.10"
    assert why_harder(listed(first, made(0.3, 3), farther), BENCH) == told
    also = "the tints of number 2 don't, but its first card is expected at ΔE00 0.30 instead of 0.10"
    assert why_harder(listed(fighting, made(0.3, 3), farther), BENCH) == f"{fights}; {also}; {told}"
    fighting_too = replace(farther, greying=(("blue", "red"),))
    assert why_harder(listed(fighting, made(0.3, 3)), BENCH).startswith(f"{fights}; number 2 is simpler")
    assert why_harder(listed(fighting, fighting_too), BENCH).startswith(f"{fights}; number 2 is simpler")
    unsure = made(0.3, 2, expected_de00=0.9)
    assert why_harder(listed(first, unsure), BENCH) == (
        "number 2 is simpler (2 tints), but its first card is expected at ΔE00 0.90 instead of 0.10"
    )
    of_lab = replace(first, metamerism=None, risks=(LightRisk("A", 0.2, 1), LightRisk("F11", 0.3, 1)))
    risky = made(0.3, 2, metamerism=None, risks=(LightRisk("A", 0.5, 1), LightRisk("F11", 0.9, 2)))
    assert why_harder(listed(of_lab, risky), BENCH) == (
        "number 2 is simpler (2 tints), but it may part from the standard by ΔE00 0.9 in F11 instead of 0.3"
    )
    assert why_harder(listed(first, made(1.4, 2)), BENCH) == ""
    assert why_harder(listed(made(1.1, 4), made(1.4, 2), within=False), BENCH).startswith("number 2 is simpler")


def test_how_far_a_search_went() -> None:
    assert SEARCHED.in_words == "all 1,234 combinations of up to 4 of 12 tints tried"
    assert replace(SEARCHED, whole_up_to=3).in_words == (
        "1,234 combinations of up to 4 of 12 tints tried: all of up to 3 tints, the most promising of more"
    )


# what is wished and asked for

WRONG_WISHES = [
    (Wishes(must=("tar" * 20,)), f"`must`: there is no tint '{('tar' * 20)[:40]}' to mix with; the bank has "
                                 f"white, blue, "
     "red, black"),
    (Wishes(without=("whit",)), "`without`: there is no tint 'whit' to mix with; did you mean white?"),
    (Wishes(near=(("blues", 1.0),)), "`near`: there is no tint 'blues' to mix with; did you mean blue?"),
    (Wishes(must=("blue", "red"), without=("red",)), "`must`: red is also named with `without`; take it out of "
                                                     "one of them"),
    (Wishes(must=("blue", "red", "red", "white")), "`must`: 3 tints are locked and 2 allowed; raise `max_tints`"),
    (Wishes(near=(("red", 1.0), ("blue", 2.0)), without=("red", "blue")),
     "`near`: every tint of that recipe is named with `without`; allow one of them"),
    (Wishes(near=(("red", 1.0),), must=("blue", "white")),
     "`must`: blue and white aren't in the recipe of `near`, and 1 new tint is allowed; lock one of them, or leave out "
     "`near`"),
]  # fmt: skip


@pytest.mark.parametrize(("wishes", "told"), WRONG_WISHES)
def test_wishes_that_cant_be_met_are_told_with_the_mend(wishes: Wishes, told: str) -> None:
    with pytest.raises(InputError) as caught:
        wishes.check(NAMES, 2)
    assert str(caught.value) == told


def test_wishes_that_can_be_met_are() -> None:
    Wishes(must=("blue", "blue", "red"), near=(("red", 1.0),)).check(NAMES, 2)
    Wishes(must=("blue", "red")).check_stock(("blue", "red"))
    Wishes(near=(("red", 1.0), ("tar", 1.0))).check_stock(("red",))
    six = Wishes(must=tuple("abcdef"))
    with pytest.raises(InputError, match="6 tints are locked and 5 allowed; lock 5 at most"):
        six.check("abcdef", 5)


def test_wishes_that_the_stock_cant_meet_are_told() -> None:
    for wishes, told in (
        (Wishes(must=("red", "blue")), "`must`: there is too little blue in stock to weigh; take it out or fill it up"),
        (Wishes(near=(("blue", 1.0),)), "`near`: none of its tints that are allowed is in stock; fill one up, "
                                        "or leave it "
         "out"),
        (Wishes(near=(("red", 1.0),), without=("red",)), "`near`: none of its tints that are allowed is in "
                                                         "stock; fill one "
         "up, or leave it out"),
        (Wishes(near=(("red", 1.0), ("blue", 1.0)), must=("white", "red")), None),
    ):  # fmt: skip
        if told is None:
            wishes.check_stock(("white", "red"))
            continue
        with pytest.raises(InputError) as caught:
            wishes.check_stock(("white", "red"))
        assert str(caught.value) == told


def test_what_was_left_out_of_the_recipe_to_stay_near_is_noted() -> None:
    assert Wishes(near=(("red", 1.0), ("blue", 2.0), ("red", 1.0)), without=("red",)).notes == (
        "red of the recipe to stay near: left out, named with `without`",
    )
    assert Wishes(near=(("red", 1.0),)).notes == ()


def test_a_subset_is_accepted_by_what_must_be_in_it_and_how_much_is_new() -> None:
    members = np.array([[0, 0, 1, 0], [1, 2, 2, -1], [-1, 3, 3, -1]])
    assert Wishes().accepts(members, NAMES).tolist() == [True] * 4
    assert Wishes(must=("white",)).accepts(members, NAMES).tolist() == [True, True, False, True]
    assert Wishes(must=("white", "red")).accepts(members, NAMES).tolist() == [False, True, False, False]
    near = Wishes(near=(("white", 1.0), ("red", 1.0), ("tar", 1.0)))
    assert near.accepts(members, NAMES).tolist() == [True, True, False, True]


WEIGHT = "give the weight of the batch, above 0, up to 1,000,000 g"
ASKED = [
    (0.0, RecipeRequest(), f"`grams`: 0 g can't be mixed; {WEIGHT}"),
    (np.inf, RecipeRequest(), f"`grams`: inf g can't be mixed; {WEIGHT}"),
    (2e6, RecipeRequest(), f"`grams`: 2e+06 g can't be mixed; {WEIGHT}"),
    (9.0, RecipeRequest(Scale(1.0, 3.0)), "`scale_step`: a step of 1 g can't weigh 9 g; use a finer scale"),
    (9.0, RecipeRequest(Scale(0.0, 3.0)), "`scale_step`: a step of 0 g can't weigh 9 g; use a finer scale"),
    (9.0, RecipeRequest(Scale(0.1, 0.05)), "`smallest`: 0.05 g can't be the smallest part; between the scale's "
                                           "step and the "
     "batch"),
    (9.0, RecipeRequest(Scale(0.1, 9.5)), "`smallest`: 9.5 g can't be the smallest part; between the scale's "
                                          "step and the "
     "batch"),
    (9.0, RecipeRequest(max_tints=0), "`max_tints`: 0 tints can't be searched; use 1 to 5"),
    (9.0, RecipeRequest(max_tints=6), "`max_tints`: 6 tints can't be searched; use 1 to 5"),
    (1400.0, RecipeRequest(), "`grams`: 1400 g is more than the whole stock of 1350 g; mix less"),
    (9.0, RecipeRequest(wishes=Wishes(without=NAMES)), "the bank: has no tint in stock; enter stock_g in tints.csv"),
]  # fmt: skip


@pytest.mark.parametrize(("weight", "request_", "told"), ASKED)
def test_what_cant_be_mixed_is_told_with_the_mend(weight: float, request_: RecipeRequest, told: str) -> None:
    with pytest.raises(InputError) as caught:
        propose_recipes(GOAL, PAINTS, TINTS, weight, request_)
    assert str(caught.value) == told


def test_an_empty_tin_is_left_out_and_said() -> None:
    short = tuple(replace(tint, stock_g=0.29) if tint.name == "red" else tint for tint in TINTS)
    found = propose_recipes(GOAL, PAINTS, short, 100.0, RecipeRequest(tolerance=9.0))
    assert found.warnings == ("red: the stock is below the smallest weighable part; left out",)
    assert all("red" not in dict(recipe.parts) for recipe in found.recipes)
    barely = tuple(replace(tint, stock_g=0.3) if tint.name == "red" else tint for tint in TINTS)
    assert propose_recipes(GOAL, PAINTS, barely, 100.0, RecipeRequest(tolerance=9.0)).warnings == ()


# what keeps a colour out of reach


def test_the_banks_own_mixture_is_found_to_the_gram() -> None:
    found = propose_recipes(GOAL, PAINTS, TINTS, 380.0, RecipeRequest(tolerance=0.3))
    assert found.within
    assert found.why == ""
    assert dict(found.recipes[0].parts) == pytest.approx({"white": 300, "blue": 60, "red": 20}, abs=1.5)
    assert (found.searched.tints, found.searched.whole_up_to) == (4, 4)
    first = first_recipe(GOAL, PAINTS, TINTS, 380.0, RecipeRequest(tolerance=0.3))
    assert first.parts == found.recipes[0].parts


def test_too_small_a_stock_is_named() -> None:
    short = tuple(replace(tint, stock_g=30.0) if tint.name == "blue" else tint for tint in TINTS)
    found = propose_recipes(GOAL, PAINTS, short, 380.0, RecipeRequest(tolerance=0.3))
    worst = found.recipes[0].worst_de00
    assert not found.within
    assert found.why == (
        f"the stock is too small (blue); the nearest is ΔE00 {worst:.2f} away in the worst light; a smaller "
        f"batch may reach "
        "it"
    )
    assert all(dict(recipe.parts).get("blue", 0) <= 30.0 for recipe in found.recipes)


def test_a_colour_of_other_pigments_is_named_metameric() -> None:
    nm = np.arange(400, 701, 10)
    bent = predicted_reflectance(PAINTS, WISHED) + 0.06 * np.sin((nm - 400) / 300 * 6 * np.pi)
    found = propose_recipes(
        colour_target(Reading("other", bent[None]), ("D65", "A", "F11"), 10), PAINTS, TINTS, 380.0,
        RecipeRequest(tolerance=0.4),
    )  # fmt: skip
    assert found.why == (
        "it can be matched in D65 but not in A, F11 at once, since these tints are not those it was made of "
        "(metamerism); "
        f"the nearest is ΔE00 {found.recipes[0].worst_de00:.2f} away in the worst light"
    )


def test_a_film_too_thin_is_named_with_its_ground() -> None:
    thin = PAINTS.over(Backing("black", 8.0, np.full(31, 0.04)))
    found = propose_recipes(
        goal_of(grams(white=300, blue=5), ("D65",)), thin, TINTS, 380.0, RecipeRequest(tolerance=0.5)
    )
    assert found.why == (
        "a film of 8 µm lets the black ground through, and one that hides reaches it: lay it on thicker, or "
        "over another "
        f"ground; the nearest is ΔE00 {found.recipes[0].worst_de00:.2f} away in the worst light"
    )


def test_a_colour_cleaner_than_any_mixture_is_named_by_what_it_is() -> None:
    lab = reflectance_to_lab(predicted_reflectance(PAINTS, grams(blue=100))) + np.array([25.0, 0, -60])
    chip = colour_target(Reading("chip", lab[None]), ("D65",), 10)
    found = propose_recipes(chip, PAINTS, TINTS, 380.0, RecipeRequest(tolerance=0.5))
    assert found.why.startswith("the colour is outside what these tints can make: it is ")
    assert " than any mixture; the nearest is ΔE00 " in found.why
    assert "lighter" in found.why or "cleaner" in found.why
