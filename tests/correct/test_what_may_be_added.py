"""What may be added to a tin of paints known exactly: the best, the least, the nearest, and what is in the way."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.optimize import minimize

from finishmatch.correct.addition import least_addition, nearest_addition
from finishmatch.correct.convex_step import StepCosts, best_shares
from finishmatch.correct.limiting_factor import (
    LimitingFactor,
    find_limiting_factor,
    percent,
    stock_of,
    weighable_stock,
    why_not_reached,
)
from finishmatch.correct.tin import Solved, nearest_smooth, smooth_addition
from finishmatch.mix.weighing import Scale
from finishmatch.optics import predicted_reflectance
from tests.helpers.plain_paints import PAINTS, POURED, TINTS, WISHED, grams, of_400_g, tin_of

SCALE = Scale()


def test_the_best_shares_are_those_of_an_outside_solver() -> None:
    """SciPy's SLSQP on the same linear differences: lightest inside an aim, and nearest within limits that hold."""
    r = np.random.default_rng(6)
    for most, upper, excess, weight in ((9.0, 9.0, 300.0, 1.0), (0.5, 9.0, 300.0, 1.0), (9.0, 0.2, 1.0, 1e-3)):
        at_nothing, slope = r.normal(0, 1, (2, 3)), r.normal(0, 3, (2, 3, 4))
        costs = StepCosts(0.3, excess, weight, np.full(4, upper), most)

        def cost(z: np.ndarray, weight: float = weight, excess: float = excess) -> float:
            return float(weight * z[:4].sum() + excess * z[4])

        def room(z: np.ndarray, at: np.ndarray = at_nothing, slope: np.ndarray = slope) -> np.ndarray:
            return 0.3 + z[4] - np.sqrt(((at + slope @ z[:4]) ** 2).sum(axis=1))

        limits = [{"type": "ineq", "fun": room}, {"type": "ineq", "fun": lambda z, most=most: most - z[:4].sum()}]
        best = minimize(
            cost, np.append(np.full(4, min(most / 4, upper) / 2), 5.0), method="SLSQP", constraints=limits,
            bounds=[*[(0, upper)] * 4, (0, None)], options={"maxiter": 500, "ftol": 1e-12},
        )  # fmt: skip
        found = best_shares(at_nothing, slope, costs)
        assert (found >= 0).all()
        assert (found <= upper).all()
        assert found.sum() <= most + 1e-6
        excess_found = max(float(np.sqrt(((at_nothing + slope @ found) ** 2).sum(axis=1)).max()) - 0.3, 0.0)
        assert weight * found.sum() + excess * excess_found == pytest.approx(best.fun, rel=1e-4, abs=1e-5)


def test_one_tint_along_one_direction_by_hand() -> None:
    """Off by 2 along L*, each share takes 4 of it away: 0.375 for an aim of a half; half of that where room ends."""
    at_nothing, slope = np.array([[2.0, 0, 0]]), np.array([[[-4.0], [0], [0]]])
    for most, upper, share in ((9.0, 9.0, 0.375), (0.1, 9.0, 0.1), (9.0, 0.2, 0.2)):
        (found,) = best_shares(at_nothing, slope, StepCosts(0.5, 300.0, 1.0, np.array([upper]), most))
        assert found == pytest.approx(share, abs=1e-5)


def test_the_smooth_addition_is_the_blue_that_was_left_out() -> None:
    tin = tin_of()
    found = smooth_addition(tin, np.arange(4), np.full(4, 1e3), 0.02, 50.0)
    assert found is not None
    assert tin.differences(found).max() <= 0.0201
    assert found[1] == pytest.approx(10.0, abs=0.5)
    assert found.sum() < 10.1
    assert smooth_addition(tin, np.arange(4), np.full(4, 1e3), 0.02, 5.0) is None
    assert smooth_addition(tin, np.array([0, 3]), np.full(4, 1e3), 0.02, 50.0) is None
    assert smooth_addition(tin, np.array([], dtype=int), np.full(4, 1e3), 0.02, 50.0) is None
    nearest = nearest_smooth(tin, np.arange(4), np.full(4, 1e3), 5.0)
    np.testing.assert_allclose(nearest, [0, 5, 0, 0], atol=0.3)
    assert nearest.sum() <= 5.0 + 1e-9
    short = nearest_smooth(tin, np.arange(4), np.array([1e3, 3.0, 1e3, 1e3]), 50.0)
    assert short[1] == pytest.approx(3.0, abs=1e-2)
    np.testing.assert_array_equal(nearest_smooth(tin, np.array([], dtype=int), np.full(4, 1e3), 50.0), np.zeros(4))
    there = nearest_smooth(tin_of(WISHED), np.arange(4), np.full(4, 1e3), 50.0)
    np.testing.assert_allclose(there, 0, atol=0.05)


def test_slopes_of_a_tin_are_those_of_small_steps() -> None:
    for tin in (tin_of(), tin_of(offset=np.full(31, 0.01)), tin_of(lab_offset=np.array([0.5, 0.2, -0.1]))):
        vectors, slope = tin.vectors(np.zeros(4))
        np.testing.assert_allclose(np.linalg.norm(vectors, axis=1), tin.differences(np.zeros(4)), atol=1e-9)
        np.testing.assert_allclose(tin.reflectance(np.zeros(4)), predicted_reflectance(PAINTS, POURED) + tin.offset)
        for i in range(4):
            step = 1e-3 * np.eye(4)[i]
            by_steps = (tin.vectors(step)[0] - tin.vectors(np.zeros(4))[0]) / 1e-3
            np.testing.assert_allclose(slope[:, :, i], by_steps, atol=2e-3 * max(1, np.abs(by_steps).max()))


def test_what_was_solved_for_once_is_known() -> None:
    solved, asked = Solved(), []

    def solve(added: np.ndarray | None) -> np.ndarray | None:
        asked.append(added)
        return added

    ten = np.array([10.0])
    key = (b"a", b"b", 0.5)
    assert solved.lightest(key, 20.0, lambda: solve(ten)) is ten
    assert solved.lightest(key, 10.0, lambda: solve(None)) is ten  # it fits
    assert solved.lightest(key, 9.0, lambda: solve(None)) is None
    assert solved.lightest(key, 8.0, lambda: solve(ten)) is None  # what isn't within nine isn't within eight
    assert solved.lightest((b"a", b"c", 0.5), 8.0, lambda: solve(None)) is None
    assert len(asked) == 3
    near = (b"a", b"b")
    assert solved.known_nearest(near, 20.0) is None
    assert solved.nearest(near, 20.0, lambda: solve(ten)) is ten
    assert solved.known_nearest(near, 20.0) is ten
    assert solved.known_nearest(near, 15.0) is ten
    assert solved.known_nearest(near, 10.0) is None  # there the limit holds it back, or may
    assert solved.known_nearest((b"a", b"c"), 20.0) is None
    held = np.array([20.0])
    assert solved.nearest((b"x", b"b"), 20.0, lambda: solve(held)) is held
    assert solved.known_nearest((b"x", b"b"), 30.0) is None
    assert solved.known_nearest((b"x", b"b"), 20.0) is held


def test_the_least_addition_is_in_whole_steps_within_the_stock() -> None:
    tin = tin_of()
    stock = np.full(4, 1e3)
    found = least_addition(tin, stock, 0.3, 60.0, SCALE)
    assert found is not None
    assert tin.differences(found).max() <= 0.3
    np.testing.assert_allclose(found * 10, np.round(found * 10), atol=1e-9)
    lighter = found.sum() - 0.1
    for blue in np.arange(0, lighter + 1e-9, 0.1):
        assert tin.differences(grams(blue=blue)).max() > 0.3
    assert least_addition(tin, stock, 0.3, 4.0, SCALE) is None
    assert least_addition(tin, grams(white=1e3, blue=4.0), 0.3, 60.0, SCALE) is None
    tried: list[tuple[float, np.ndarray]] = []
    least_addition(tin, stock, 0.3, 60.0, SCALE, tried)
    assert tried
    for worst, added in tried:
        assert worst == pytest.approx(float(tin.differences(added).max()), abs=1e-6)
        assert (added > 0).sum() <= 4
    coarse = least_addition(tin, stock, 0.3, 60.0, Scale(1.0, 5.0))
    assert coarse is not None
    assert set(coarse[coarse > 0] % 1.0) == {0.0}
    assert coarse[coarse > 0].min() >= 5.0


def test_the_nearest_addition_keeps_to_the_limit_and_leaves_alone_what_is_near() -> None:
    stock = np.full(4, 1e3)
    for most in (4.0, 8.0):
        found = nearest_addition(tin_of(), stock, most, SCALE)
        assert found.sum() <= most + 1e-9
        assert found[1] == pytest.approx(most, abs=0.5)
    np.testing.assert_array_equal(nearest_addition(tin_of(WISHED), stock, 50.0, SCALE), np.zeros(4))
    np.testing.assert_array_equal(nearest_addition(tin_of(), np.zeros(4), 50.0, SCALE), np.zeros(4))


def test_the_growth_limit_the_scale_or_the_stock_is_in_the_way() -> None:
    tin, plenty = tin_of(), np.full(4, 1e3)
    total = float(POURED.sum())
    beyond = least_addition(tin, plenty, 0.2, 4 * total, SCALE)
    assert beyond is not None
    growth = find_limiting_factor(tin, plenty, 0.2, 3.0, 4 * total, SCALE, beyond)
    assert growth.beyond is beyond
    assert (growth.finer, growth.on_finer, growth.short) == (None, None, ())
    assert growth.least is beyond
    short = find_limiting_factor(tin, grams(white=1e3, blue=4.0), 0.2, 60.0, 4 * total, SCALE, None)
    ((tint, need, have),) = short.short
    assert (tint, have) == ("blue", 4.0)
    assert 4 < need < 15
    assert short.least.size == 0
    ruined = tin_of(POURED + grams(black=30.0))
    none = find_limiting_factor(ruined, grams(blue=50.0), 0.2, 60.0, 4 * total, SCALE, None)
    assert none == LimitingFactor()
    coarse = Scale(1.0, 20.0)
    finer = find_limiting_factor(tin, plenty, 0.2, 15.0, 4 * total, coarse, None)
    assert finer.finer is not None
    assert finer.within_limit
    assert finer.finer.smallest_g < 20.0
    assert finer.on_finer is not None
    assert tin.differences(finer.on_finer).max() <= 0.2
    assert finer.on_finer.sum() <= 15.0


def test_stock_is_by_name_and_what_is_too_little_to_weigh_is_none() -> None:
    np.testing.assert_allclose(stock_of(PAINTS.chosen(["red", "white"]), TINTS), [150, 900])
    np.testing.assert_allclose(weighable_stock(np.array([0.29, 0.3, 5.0]), SCALE), [0, 0.3, 5])


@pytest.mark.parametrize(
    ("share", "told"),
    [(1.29, "129"), (0.1, "10"), (0.0999, "10"), (0.048, "4.8"), (0.0031, "0.31"), (0.0994, "9.9")],
)
def test_a_share_is_told_as_a_painter_says_it(share: float, told: str) -> None:
    assert percent(share) == told


def test_what_is_in_the_way_is_told_with_what_would_do() -> None:
    beyond, on_finer = np.array([120.0, 0.0]), np.array([30.0, 6.0])
    scale, fine, small = Scale(0.1, 0.3), Scale(0.01, 0.03), Scale(0.1, 0.1)
    off = "the worst light comes to ΔE00 0.81, not 0.5"
    within = f"within a growth of 20 % {off}"
    steps = f"the scale is in the way: in steps of 0.1 g with no part below 0.3 g {off}"
    would = "a scale with steps of 0.01 g would reach it, adding 9 %"
    expected = [
        (LimitingFactor(beyond), f"{within}; adding 30 % would reach it"),
        (LimitingFactor(None, fine, on_finer, True), f"{steps}; {would}"),
        (LimitingFactor(None, small, on_finer, True), f"{steps}; parts from 0.1 g would reach it, adding 9 %"),
        (LimitingFactor(beyond, fine, on_finer, True), f"{steps}; {would}; on this scale adding 30 % would reach it"),
        (LimitingFactor(None, fine, on_finer, False), f"{within}; with more growth the scale is in the way: {would}"),
        (LimitingFactor(short=(("blue", 7.5, 4.0), ("red", 2.0, 1.25))),
         f"{within}; the stock is in the way: it takes 7.5 g of blue (4 g are there), 2 g of red (1.25 g are there)"),
        (LimitingFactor(),
         f"{within}; no addition reaches it, not even of 4 times the tin: something in it can't be covered by adding"),
    ]  # fmt: skip
    for factor, told in expected:
        assert why_not_reached(factor, 0.812, 0.5, 0.2, of_400_g, scale) == told
    assert "not even of 6 times the tin" in why_not_reached(LimitingFactor(), 0.8, 0.5, 6.0, of_400_g, scale)
    assert LimitingFactor(beyond, fine, on_finer, True).least is on_finer
