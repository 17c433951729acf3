"""From shares to grams and on the scale: rounding, exchanged steps, slips and what is to go, at their limits."""

from __future__ import annotations

import numpy as np
import pytest

from finishmatch.errors import InputError
from finishmatch.evidence.target import colour_target
from finishmatch.mix.first_pour import SHARES, first_pour
from finishmatch.mix.recipe import Recipe
from finishmatch.mix.refine import Candidates
from finishmatch.mix.weigh_out import (
    PourLine,
    Slip,
    find_slip,
    in_proportion,
    is_off,
    likely_size,
    pour_lines,
    summed,
    weights_of,
)
from finishmatch.mix.weighed import Batch, weigh
from finishmatch.mix.weighed_recipe import recipe_of
from finishmatch.mix.weighing import Scale, polished, rounded, weighed_grams, weighing_sensitivity
from finishmatch.mix.wishes import RecipeRequest, Wishes
from finishmatch.optics import predicted_reflectance
from finishmatch.readings import Reading
from tests.helpers.plain_paints import GOAL, PAINTS, TINTS, WISHED, grams

SCALE = Scale()
RECIPE = (("white", 200.0), ("blue", 40.0), ("red", 10.0))


def target_of(poured: np.ndarray) -> object:
    return colour_target(Reading("goal", predicted_reflectance(PAINTS, poured)[None]), ("D65", "A"), 10)


def test_the_smallest_part_is_so_many_steps() -> None:
    assert [Scale(0.1, 0.3).smallest_steps, Scale(1.0, 3.0).smallest_steps, Scale(0.1, 0.31).smallest_steps] == [
        3,
        3,
        4,
    ]
    assert (SCALE.step_g, SCALE.smallest_g) == (0.1, 0.3)


def test_grams_are_clean_to_a_digit_beyond_the_step() -> None:
    dusty = np.array([0.1 + 0.2, 12.340000001])
    assert weighed_grams(dusty, 0.1).tolist() == [0.3, 12.34]
    assert weighed_grams(dusty, 0.01).tolist() == [0.3, 12.34]
    assert weighed_grams(np.array([12.345]), 1.0).tolist() == [12.3]
    assert weighed_grams(np.array([12.345]), 10.0).tolist() == [12.3]


def test_steps_go_to_the_largest_remainders() -> None:
    assert rounded(np.array([1.0, 1.0, 1.0]), 1.0, 0.1).tolist() == [4, 3, 3]
    assert rounded(np.array([0.5, 0.27, 0.23]), 10.0, 1.0).tolist() == [5, 3, 2]
    assert rounded(np.array([2.0, 2.0]), 0.4, 0.1).tolist() == [2, 2]


def test_exchanging_steps_comes_to_the_recipe_itself_within_its_limits() -> None:
    """Steps of a batch whose colour is the target's: from a few steps off back to it, never below or above a limit."""
    meant = np.array([3000, 600, 200])
    own, target = PAINTS.chosen(("white", "blue", "red")), GOAL
    steps, worst = polished(meant + np.array([-7, 12, -5]), 3, np.full(3, 10_000), own, target)
    assert steps.sum() == 3800
    assert worst == pytest.approx(float(target.differences(predicted_reflectance(own, steps.astype(float))).max()))
    assert worst < 0.02
    assert np.abs(steps - meant).max() <= 2
    held, _ = polished(np.array([3000, 590, 210]), 3, np.array([10_000, 595, 10_000]), own, target)
    assert held[1] <= 595
    low, _ = polished(np.array([3000, 590, 210]), 205, np.full(3, 10_000), own, target)
    assert low.min() >= 205
    alone, _ = polished(np.array([50]), 3, np.array([100]), PAINTS.chosen(("white",)), target)
    assert alone.tolist() == [50]


def test_a_step_more_or_less_is_felt_in_proportion_and_not_in_one_tint_alone() -> None:
    own = PAINTS.chosen(("white", "blue", "red"))
    weights = WISHED[:3]
    fine, coarse = (weighing_sensitivity(weights, step, own, "D65", 10) for step in (0.05, 0.1))
    assert coarse == pytest.approx(2 * fine, rel=0.02)
    # blue and red each one step off, by the slope of the colour, at two standard deviations
    off = [
        float(GOAL.differences(predicted_reflectance(PAINTS, WISHED + grams(**{tint: 0.1})))[0])
        for tint in ("blue", "red")
    ]
    assert np.hypot(*off) < coarse < 2.5 * np.hypot(*off)
    assert weighing_sensitivity(weights[:1], 0.1, PAINTS.chosen(("white",)), "D65", 10) == pytest.approx(0, abs=1e-9)


def test_a_tint_poured_twice_is_added_up_and_what_is_off_is_off() -> None:
    assert summed((("a", 1.0), ("b", 2.0), ("a", 3.0))) == {"a": 4.0, "b": 2.0}
    assert not is_off(10.0, 10.2, SCALE)
    assert not is_off(10.0, 9.8, SCALE)
    assert is_off(10.0, 10.21, SCALE)
    assert is_off(10.0, 9.79, SCALE)
    assert not is_off(200.0, 201.0, SCALE)
    assert is_off(200.0, 201.1, SCALE)
    assert not is_off(10.0, 12.0, Scale(1.0, 3.0))


def test_what_is_to_go_and_what_is_over() -> None:
    lines = pour_lines(RECIPE, (("red", 10.1), ("white", 150.0), ("tar", 3.0), ("blue", 43.0)), SCALE)
    assert lines == (
        PourLine("white", 200.0, 150.0, True), PourLine("blue", 40.0, 43.0, True), PourLine("red", 10.0, 10.1, False),
        PourLine("tar", 0.0, 3.0, True),
    )  # fmt: skip
    assert [(line.to_go_g, line.over_g) for line in lines] == [(50.0, 0.0), (0.0, 3.0), (0.0, 0.0), (0.0, 3.0)]


def test_the_size_that_was_meant_is_what_most_parts_agree_on() -> None:
    def size(*poured: float) -> float:
        return likely_size(RECIPE, tuple(zip(("white", "blue", "red"), poured, strict=False)), SCALE)

    assert size(100.0, 20.0, 5.0) == 0.5
    assert size(100.1, 20.0, 5.0) == pytest.approx(125.1 / 250)
    assert size(400.0, 80.0, 5.0) == 2.0  # two of three agree
    assert size(400.0, 40.0, 10.0) == 1.0  # one is over, two are as planned
    assert size(100.0, 40.0, 5.0) == 0.5
    assert size(100.0) == 1.0  # one part agrees with itself alone
    assert size(180.0, 36.0, 9.0) == 1.0  # that near the whole it is meant to be whole
    assert size(250.0, 50.0, 12.5) == 1.25
    assert size(100.0, 8.0, 1.0) == 1.0
    assert likely_size((("a", 0.0), ("b", 4.0)), (("a", 3.0), ("b", 2.0)), SCALE) == 1.0


def test_running_totals_are_weights_on_top_of_one_another() -> None:
    assert weights_of((("a", 10.0), ("b", 12.5), ("c", 12.5))) == (("a", 10.0), ("b", 2.5), ("c", 0.0))
    assert weights_of((("a", 10.0), ("b", 12.5)), 4.0) == (("a", 6.0), ("b", 2.5))
    with pytest.raises(InputError) as caught:
        weights_of((("a" * 50, 10.0), ("b" * 50, 9.0)))
    assert str(caught.value) == (
        f"{'b' * 40}: 9 g after 10 g: a running total never falls; leave out `running` if these are the weights of the "
        "parts"
    )
    with pytest.raises(InputError, match="3 g after 4 g"):
        weights_of((("a", 3.0),), 4.0)


SLIPS = {
    (("white", 200.0), ("blue", 240.0), ("red", 250.0)): Slip(
        "the weights", "200, 240, 250 look like the scale's running totals", "say so with `running`"
    ),
    (("white", 200.0), ("blue", 40.0), ("blue", 40.0), ("red", 10.0)): Slip(
        "blue", "stands 2 times with 40 g, and is planned once", "write it once"
    ),
    (("white", 40.0), ("blue", 200.0), ("red", 10.0)): Slip(
        "white and blue", "40 g is what blue should weigh, and the other way round", "exchange the two weights"
    ),
    (("white", 200.0), ("tar", 40.1), ("red", 10.0)): Slip("tar", "is not in it, and 40 g of blue are", "was it blue?"),
    (("white", 200.0), ("blue", 400.0), ("red", 10.0)): Slip(
        "blue", "400 g is 10 times what is planned (40 g)", "is it 40 g?"
    ),
    (("white", 200.0), ("blue", 40.0), ("red", 1040.0)): Slip(
        "red", "1040 g is 100 times what is planned (10 g)", "is it 10.4 g?"
    ),
    (("white", 200.0), ("blue", 4.0), ("red", 10.0)): Slip(
        "blue", "4 g is a tenth of what is planned (40 g)", "is it 40 g?"
    ),
    (("white", 2.1), ("blue", 40.0), ("red", 10.0)): Slip(
        "white", "2.1 g is a hundredth of what is planned (200 g)", "is it 210 g?"
    ),
}


@pytest.mark.parametrize("poured", SLIPS)
def test_each_slip_is_told_with_what_was_likely_meant(poured: tuple[tuple[str, float], ...]) -> None:
    assert find_slip(RECIPE, poured, SCALE) == SLIPS[poured]


@pytest.mark.parametrize(
    "poured",
    [
        RECIPE, (("white", 200.0),), (("white", 200.0), ("blue", 45.0), ("red", 10.0)),
        (("white", 200.0), ("tar", 30.0), ("red", 10.0)),
        (("white", 200.0), ("blue", 40.0), ("tar", 40.0), ("red", 10.0)),
        (("white", 200.0), ("blue", 440.0), ("red", 10.0)),
        (("white", 200.0), ("blue", 20.0), ("blue", 20.0), ("red", 10.0)),
        (("white", 40.0), ("blue", 190.0), ("red", 10.0)), (("red", 10.0), ("blue", 40.0), ("white", 200.0)),
        (("red", 10.0), ("blue", 60.0), ("white", 200.0)),
    ],
)  # fmt: skip
def test_a_hand_that_was_only_a_little_off_made_no_slip(poured: tuple[tuple[str, float], ...]) -> None:
    assert find_slip(RECIPE, poured, SCALE) is None


def test_totals_are_thought_of_where_they_explain_far_more_than_weights() -> None:
    """In the order poured, from small to large, whatever that order; four of them are shown."""
    five = (("a", 10.0), ("b", 20.0), ("c", 30.0), ("d", 40.0), ("e", 50.0))
    totals = (("a", 10.0), ("b", 30.0), ("c", 60.0), ("d", 100.0), ("e", 150.0))
    found = find_slip(five, totals, SCALE)
    assert found is not None
    assert found.what == "10, 30, 60, 100 look like the scale's running totals"
    assert find_slip(five, (*totals[:4], ("f", 150.0)), SCALE) is None
    # one whose totals fit no better than a fifth of what the weights are off by
    off = (("a", 10.0), ("b", 30.0), ("c", 60.0), ("d", 100.0), ("e", 205.0))
    assert find_slip(five, off, SCALE) is None


def test_half_way_too_little_is_no_slip_and_too_much_is() -> None:
    assert find_slip(RECIPE, (("white", 200.0), ("blue", 4.0)), SCALE, half_way=True) is None
    assert find_slip(RECIPE, (("white", 200.0), ("blue", 400.0)), SCALE, half_way=True) is not None


def test_what_was_poured_too_much_of_is_made_up_by_the_others() -> None:
    lines = pour_lines(RECIPE, (("white", 200.0), ("blue", 44.0), ("red", 10.0)), SCALE)
    assert in_proportion(lines, SCALE) == (("white", 20.0), ("red", 1.0))
    lines = pour_lines(RECIPE, (("white", 150.0), ("blue", 40.0), ("red", 10.0)), SCALE)
    assert in_proportion(lines, SCALE) == (("white", 50.0),)
    assert in_proportion(pour_lines(RECIPE, RECIPE, SCALE), SCALE) == ()
    assert in_proportion(pour_lines(RECIPE, (*RECIPE, ("tar", 1.0)), SCALE), SCALE) is None
    small = pour_lines(RECIPE, (("white", 200.0), ("blue", 40.15), ("red", 10.0)), SCALE)
    assert in_proportion(small, SCALE) == ()


def test_a_part_is_poured_first_where_tins_are_not_known() -> None:
    """White and colours known to a fifth: half; known well, or alone: all at once."""
    wide = first_pour(RECIPE, np.diag([0.04, 0.04, 0.04]), SCALE)
    assert wide is not None
    assert wide.share in SHARES[1:]
    assert wide.parts[0] == ("white", 200.0 * wide.share)
    assert wide.parts[1] == ("blue", pytest.approx(40 * wide.share, abs=0.051))
    assert wide.growth < wide.growth_at_once - 0.02
    assert wide.intervals == {}
    assert first_pour(RECIPE, np.diag([1e-6, 1e-6, 1e-6]), SCALE) is None
    assert first_pour(RECIPE[:1], np.eye(1), SCALE) is None
    tiny = first_pour((("white", 200.0), ("blue", 40.0), ("red", 0.3)), np.diag([0.04, 0.04, 0.04]), SCALE)
    assert tiny is not None
    assert tiny.parts[2] == ("red", 0.3)  # what can't be weighed smaller is poured
    wider = first_pour(RECIPE, np.diag([0.16, 0.16, 0.16]), SCALE)
    assert wider is not None
    assert wider.share <= wide.share
    assert wider.growth_at_once > wide.growth_at_once


def batch(poured: np.ndarray, weight: float, **request: object) -> Batch:
    return Batch(target_of(poured), PAINTS, {tint.name: tint for tint in TINTS}, weight, RecipeRequest(**request))  # type: ignore[arg-type]


def candidate(**shares: float) -> Candidates:
    names = list(shares)
    return Candidates(np.array([[PAINTS.index(name) for name in names]]), np.array([list(shares.values())]))


def made(candidate: Candidates, batch: Batch) -> Recipe | None:
    found = weigh(candidate, batch)
    return recipe_of(found[0], batch) if found else None


def test_a_recipe_is_in_whole_steps_and_costs_what_its_tints_cost() -> None:
    found = made(candidate(white=300 / 380, blue=60 / 380, red=20 / 380), batch(WISHED, 380.0))
    assert found is not None
    assert found.grams == 380.0
    assert dict(found.parts) == pytest.approx({"white": 300.0, "blue": 60.0, "red": 20.0}, abs=0.31)
    assert found.cost == pytest.approx(
        sum(g / 1000 * {"white": 10, "blue": 40, "red": 60}[name] for name, g in found.parts)
    )
    assert found.worst_de00 < 0.02
    assert found.notes == ()
    weights = grams(**dict(found.parts))
    np.testing.assert_allclose(found.reflectance, predicted_reflectance(PAINTS, weights))
    assert [g for _, g in found.parts] == sorted((g for _, g in found.parts), reverse=True)


def test_what_is_too_little_to_weigh_is_left_out_or_the_batch_enlarged() -> None:
    wanted = grams(white=300.0, blue=60.0, red=0.5)
    for weight, notes in (
        (360.5, ()),
        (60.0, ("0.083 g of red left out, too little to weigh",)),
    ):
        found = made(candidate(white=300 / 360.5, blue=60 / 360.5, red=0.5 / 360.5), batch(wanted, weight))
        assert found is not None
        assert found.notes == notes
        assert found.grams == pytest.approx(weight, abs=0.051)
        assert ("red" in dict(found.parts)) == (not notes)
    # black shows: a batch of half as much again is worth it
    wanted = grams(white=300.0, blue=60.0, black=1.0)
    found = made(candidate(white=300 / 361, blue=60 / 361, black=1 / 361), batch(wanted, 80.0))
    assert found is not None
    assert found.notes == ("batch enlarged from 80 g to 108.5 g, so that the smallest part can be weighed",)
    assert dict(found.parts)["black"] == pytest.approx(0.3)
    assert found.grams == pytest.approx(108.5)
    # not where it would be more than twice as large
    found = made(candidate(white=300 / 361, blue=60 / 361, black=1 / 361), batch(wanted, 50.0))
    assert found is not None
    assert "black" not in dict(found.parts)
    assert found.notes == ("0.14 g of black left out, too little to weigh",)
    # a locked tint is poured as little as can be weighed
    kept = made(
        candidate(white=300 / 361, blue=60 / 361, black=1 / 361), batch(wanted, 50.0, wishes=Wishes(must=("black",)))
    )
    assert kept is not None
    assert dict(kept.parts)["black"] == pytest.approx(0.3)
    # a trace of less than half a step is no part of it
    assert made(candidate(white=0.9999, red=0.0001), batch(wanted, 50.0)) is None
