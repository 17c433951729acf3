"""A recipe on the scale: its size, what is to go, the slips a person makes, and proportions again by adding only."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from finishmatch.errors import InputError
from finishmatch.mix.weigh_out import find_slip, in_proportion, likely_size, pour_lines, summed, weights_of
from finishmatch.mix.weighing import Scale

SCALE = Scale()
PLAN = (("white", 443.6), ("blue", 27.5), ("soft black", 24.4), ("violet", 2.5), ("green", 2.0))
weights = st.lists(st.floats(0.5, 900).map(lambda x: round(x, 1)), min_size=2, max_size=6)


def _with(**changed: float) -> tuple[tuple[str, float], ...]:
    return tuple((tint, changed.get(tint.replace(" ", "_"), grams)) for tint, grams in PLAN)


def test_a_pour_within_a_step_or_two_is_as_planned() -> None:
    lines = pour_lines(PLAN, _with(blue=27.6, white=444.0, green=1.8), SCALE)
    assert not any(line.off or line.to_go_g or line.over_g for line in lines)
    blue, black, _ = (pour_lines(PLAN, _with(blue=29.0, soft_black=20.0), SCALE)[i] for i in (1, 2, 3))
    assert (blue.over_g, blue.to_go_g) == (pytest.approx(1.5), 0)
    assert (black.over_g, black.to_go_g) == (0, pytest.approx(4.4))


def test_half_a_recipe_is_seen_and_an_overshoot_is_not_taken_for_another_size() -> None:
    half = tuple((tint, grams / 2) for tint, grams in PLAN)
    assert likely_size(PLAN, half, SCALE) == pytest.approx(0.5)
    assert likely_size(PLAN, tuple((t, 40.0 if t == "blue" else g) for t, g in half), SCALE) == pytest.approx(0.5)
    assert likely_size(PLAN, _with(blue=29.0, soft_black=25.7), SCALE) == 1  # both by a twentieth: two slips
    assert likely_size(PLAN, (("white", 221.8),), SCALE) == 1  # half way through the first part
    assert likely_size(PLAN, _with(white=887.2), SCALE) == 1


@pytest.mark.parametrize(
    ("poured", "told"),
    [
        (_with(blue=275.0), "275 g is 10 times what is planned (27.5 g)"),
        (_with(white=4436.0), "10 times"),
        (_with(white=4.4), "a hundredth of"),
        (_with(soft_black=2.4), "a tenth of"),
        (_with(blue=27500.0), "27500 g is 1000 times what is planned (27.5 g)"),
        (_with(white=0.4436), "a thousandth of"),
        (_with(blue=24.4, soft_black=27.5), "24.4 g is what soft black should weigh"),
        ((("white", 443.6), ("blue", 471.1), ("soft black", 495.5)), "running totals"),
        ((("white", 443.6), ("blue", 471.1), ("soft black", 496.4), ("violet", 499.0)), "running totals"),
        ((*PLAN, ("blue", 27.5)), "stands 2 times with 27.5 g"),
        (tuple(("black" if t == "soft black" else t, g) for t, g in PLAN), "24.4 g of soft black are"),
    ],
)
def test_a_slip_is_named(poured: tuple[tuple[str, float], ...], told: str) -> None:
    slip = find_slip(PLAN, poured, SCALE)
    assert slip is not None
    assert told in f"{slip.where} {slip.what}"


@pytest.mark.parametrize(
    "poured",
    [PLAN, _with(blue=33.5), _with(white=500.0, blue=20.0), PLAN[:2], (("white", 222.0), ("white", 221.6), *PLAN[1:])],
)
def test_what_a_hand_may_pour_is_no_slip(poured: tuple[tuple[str, float], ...]) -> None:
    assert find_slip(PLAN, poured, SCALE) is None


def test_too_little_is_no_slip_half_way() -> None:
    assert find_slip(PLAN, (("white", 44.4),), SCALE) is not None
    assert find_slip(PLAN, (("white", 44.4),), SCALE, half_way=True) is None


@given(weights)
def test_running_totals_of_any_recipe_are_told_from_its_weights(grams: list[float]) -> None:
    plan = tuple((f"tint {i}", one) for i, one in enumerate(grams))
    totals = tuple((tint, float(total)) for (tint, _), total in zip(plan, np.cumsum(grams), strict=True))
    assert summed(weights_of(totals)) == pytest.approx(summed(plan))
    assert find_slip(plan, plan, SCALE) is None
    slip = find_slip(plan, totals, SCALE)
    if sum(totals[i][1] - grams[i] for i in range(len(grams))) > 0.1 * sum(grams) + 1:
        assert slip is not None
        assert "running totals" in slip.what


@given(weights, st.integers(0, 5), st.floats(1.02, 3.0))
def test_in_proportion_stands_as_the_recipe_and_takes_nothing_out(grams: list[float], which: int, by: float) -> None:
    plan = tuple((f"tint {i}", one) for i, one in enumerate(grams))
    poured = tuple((t, round(g * by, 1) if i == which % len(grams) else g) for i, (t, g) in enumerate(plan))
    added = in_proportion(pour_lines(plan, poured, SCALE), SCALE)
    assert added is not None
    assert all(grams > 0 for _, grams in added)
    tin = summed((*poured, *added))
    off = [line for line in pour_lines(plan, poured, SCALE) if line.over_g]
    if off:
        over = off[0].poured_g / off[0].planned_g
        assert all(tin[tint] == pytest.approx(over * meant, abs=0.051) for tint, meant in plan)


def test_a_tint_that_the_recipe_lacks_leaves_no_proportion() -> None:
    assert in_proportion(pour_lines(PLAN, (*PLAN, ("black", 5.0)), SCALE), SCALE) is None


def test_totals_that_fall_are_none() -> None:
    with pytest.raises(InputError, match=r"27.5 g after 443.6 g: a running total never falls"):
        weights_of(PLAN)
    assert weights_of((("white", 514.1), ("blue", 515.1)), 499.9) == (("white", 14.2), ("blue", 1.0))
