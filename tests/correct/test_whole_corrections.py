"""A correction of paints known exactly, from the card to the words; and a fresh batch in its place."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from finishmatch.colour import difference_words, reflectance_to_lab
from finishmatch.correct.as_sprayed import sprayed_differences
from finishmatch.correct.correct import correct_batch, correct_unsprayed
from finishmatch.correct.fresh_batch import FreshBatch, cost_of, fresh_batch
from finishmatch.correct.trade_off import chance_inside, parts_of, trade_off, trade_row
from finishmatch.errors import InputError
from finishmatch.mix.recipe import Recipe
from finishmatch.mix.weighing import Scale
from finishmatch.optics import predicted_reflectance
from tests.helpers.plain_paints import GOAL, PAINTS, POURED, TINTS, WISHED, batch_of, card_of, grams, of_400_g, tin_of

SCALE = Scale()


def test_the_parts_and_the_chance_of_an_addition() -> None:
    assert parts_of(tin_of(), grams(white=2.0, red=5.0, black=2.0)) == (("red", 5.0), ("white", 2.0), ("black", 2.0))
    drawn = np.array([[0.1, 0.5], [0.6, 0.2], [0.4, 0.4], [0.5, 0.5]])
    assert chance_inside(drawn, 0.5) == 0.75


def test_a_row_of_growth_and_which_rows_are_shown() -> None:
    tin = tin_of(reading_sd=1e-4)
    blue = grams(blue=4.0)
    row = trade_row(tin, blue, of_400_g, 0.5, SCALE)
    assert row.growth == pytest.approx(0.01)
    assert row.additions == (("blue", 4.0),)
    assert row.worst == pytest.approx(float(tin.differences(blue).max()))
    assert row.low <= row.worst + 0.05
    assert row.high >= row.worst - 0.05
    # pouring black as well is heavier and no nearer, the same again too: neither is shown
    worse, same = blue + grams(black=3.0), grams(blue=4.0)
    rows = trade_off(tin, np.full(4, 1e3), [worse, same, blue], [2.0, 8.0], of_400_g, 0.5, SCALE)
    assert rows[0].additions == ()
    assert [row.growth for row in rows] == sorted({row.growth for row in rows})
    assert [row.worst for row in rows] == sorted((row.worst for row in rows), reverse=True)
    assert [sum(g for _, g in row.additions) for row in rows] == pytest.approx([0, 2, 4, 8], abs=0.3)
    assert all(name != "black" for row in rows for name, _ in row.additions)


def test_a_correction_says_how_the_tin_is_off_and_what_is_expected() -> None:
    found = correct_batch(GOAL, PAINTS, TINTS, batch_of(POURED), card_of(POURED), 0.4)
    assert found.reachable
    (first, *_) = found.additions
    assert first[0] == "blue"
    total = float(POURED.sum())
    assert found.growth == pytest.approx(sum(g for _, g in found.additions) / total)
    assert found.before == pytest.approx(sprayed_differences(GOAL, card_of(POURED)))
    worst = max(found.lights.values())
    words = difference_words(GOAL.labs[0], reflectance_to_lab(predicted_reflectance(PAINTS, POURED)))
    assert found.why == (
        f"the spray-out is {' and '.join(words[:2])}; with this the worst light is expected at ΔE00 {worst:.2f}"
    )
    assert found.growth_needed is None
    assert set(found.strengths) == {"white", "blue", "red"}
    assert found.reflectance is not None
    np.testing.assert_allclose(GOAL.differences(found.reflectance), list(found.lights.values()), atol=1e-9)
    assert set(found.intervals) == {"D65", "A"}
    assert found.posterior is not None
    inside = correct_batch(GOAL, PAINTS, TINTS, batch_of(WISHED), card_of(WISHED), 0.4)
    assert inside.why == "already inside the tolerance in every light: add nothing"
    assert (inside.reachable, inside.additions, inside.growth, inside.growth_needed) == (True, (), 0.0, 0.0)
    assert inside.lights == inside.before
    assert inside.chance is not None
    assert inside.chance > 0.9


def test_a_tin_is_corrected_before_anything_is_sprayed() -> None:
    tin = tin_of(sprayed=False)
    found = correct_unsprayed(tin, 400.0, TINTS, 0.4)
    words = difference_words(GOAL.labs[0], reflectance_to_lab(predicted_reflectance(PAINTS, POURED)))
    assert found.why.startswith(f"the batch comes out {' and '.join(words[:2])}; with this the worst light")
    assert found.growth == pytest.approx(sum(g for _, g in found.additions) / 400.0)
    assert found.before == pytest.approx(dict(zip(("D65", "A"), map(float, tin.differences(np.zeros(4))), strict=True)))
    assert found.strengths == {}
    near = correct_unsprayed(tin_of(WISHED), 400.0, TINTS, 0.4)
    assert (near.additions, near.reachable) == ((), True)
    held = correct_unsprayed(tin, 400.0, TINTS, 0.4, max_growth=0.005)
    assert not held.reachable
    assert held.growth <= 0.005
    assert held.growth_needed is not None
    assert held.growth_needed > 0.005
    assert sum(g for _, g in held.additions_needed) == pytest.approx(held.growth_needed * 400)
    assert held.trade[0].additions == ()
    assert [row.growth for row in held.trade] == sorted(row.growth for row in held.trade)
    assert held.why.startswith(
        f"the batch comes out {' and '.join(words[:2])}; within a growth of 0.5 % the worst light"
    )


@pytest.mark.parametrize(
    ("options", "told"),
    [
        ((0.0, 0.2), "`tolerance`: 0 is not a tolerance; give a ΔE00 above 0"),
        ((np.inf, 0.2), "`tolerance`: inf is not a tolerance; give a ΔE00 above 0"),
        ((0.5, 0.0), "`max_growth`: 0 is not a growth; 0.2 lets the tin grow by a fifth; 10 is the most"),
        ((0.5, 10.1), "`max_growth`: 10.1 is not a growth; 0.2 lets the tin grow by a fifth; 10 is the most"),
        ((0.5, np.nan), "`max_growth`: nan is not a growth; 0.2 lets the tin grow by a fifth; 10 is the most"),
    ],
)
def test_a_limit_that_cant_be_is_refused(options: tuple[float, float], told: str) -> None:
    with pytest.raises(InputError) as caught:
        correct_unsprayed(tin_of(), 370.0, TINTS, *options)
    assert str(caught.value) == told
    with pytest.raises(InputError) as caught:
        correct_batch(GOAL, PAINTS, TINTS, batch_of(POURED), card_of(POURED), *options)
    assert str(caught.value) == told


def test_a_growth_of_ten_is_the_most() -> None:
    assert correct_unsprayed(tin_of(), 370.0, TINTS, 0.4, 10.0).reachable


def test_a_fresh_batch_is_offered_where_adding_costs_more() -> None:
    assert cost_of((("white", 500.0), ("red", 100.0)), TINTS) == pytest.approx(5 + 6)
    dark = POURED + grams(black=12.0)
    held = correct_batch(GOAL, PAINTS, TINTS, batch_of(dark), card_of(dark), 0.4, 0.1)
    assert not held.reachable
    offered = fresh_batch(held, GOAL, PAINTS, TINTS, batch_of(dark), 0.4, SCALE)
    assert offered is not None
    assert offered.reached
    assert sum(g for _, g in offered.recipe.parts) == pytest.approx(382.0, abs=0.5)
    cost = cost_of(held.additions_needed, TINTS) if held.additions_needed else None
    assert offered.additions_cost == cost
    # where the tin is brought right for little, none is looked at
    easy = correct_batch(GOAL, PAINTS, TINTS, batch_of(POURED), card_of(POURED), 0.4)
    assert fresh_batch(easy, GOAL, PAINTS, TINTS, batch_of(POURED), 0.4, SCALE) is None
    # of a part that was poured, a batch is as large as what is wanted in the end
    whole = fresh_batch(held, GOAL, PAINTS, TINTS, batch_of(dark), 0.4, SCALE, 764.0)
    assert whole is not None
    assert sum(g for _, g in whole.recipe.parts) == pytest.approx(764.0, abs=0.5)
    assert whole.recipe.cost == pytest.approx(2 * offered.recipe.cost, rel=0.02)
    empty = tuple(replace(tint, stock_g=0.0) for tint in TINTS)
    assert fresh_batch(held, GOAL, PAINTS, empty, batch_of(dark), 0.4, SCALE) is None


@pytest.mark.parametrize(
    ("reached", "additions", "cheaper"), [(False, 9.0, None), (True, None, True), (True, 9.0, True), (True, 4.0, False),
                                         (True, 5.0, None)],
)  # fmt: skip
def test_the_cheaper_way_is_told(reached: bool, additions: float | None, cheaper: bool | None) -> None:
    recipe = object.__new__(Recipe)
    object.__setattr__(recipe, "cost", 5.0)
    assert FreshBatch(recipe, additions, reached).cheaper is cheaper
