"""Mixtures of paints whose K and S are known: refined to the recipe itself, held to limits, hiding, and in doubt."""

from __future__ import annotations

from dataclasses import replace
from itertools import combinations

import numpy as np
import pytest

from finishmatch.colour import de00, reflectance_to_lab, reflectance_to_xyz
from finishmatch.evidence.target import ColourTarget, colour_target
from finishmatch.finish.hiding import UNSEEN_DE00
from finishmatch.mix.expected_difference import (
    CARD_DRAWS,
    drawn_differences,
    intervals,
    range_of_95,
    within_95,
)
from finishmatch.mix.greying import greying_pairs, tint_hues
from finishmatch.mix.hiding_build import (
    CONTRAST_RATIO,
    GroundChoice,
    contrast_ratio,
    darkest_and_lightest,
    endless_lab,
    ground_choices,
    hides_within_de00,
    hiding_build_um,
    seen_de00,
)
from finishmatch.mix.metamers import likely_metamers, metamers
from finishmatch.mix.refine import Candidates, candidate_reflectance, joined, refine, without_traces
from finishmatch.mix.relaxed_search import (
    hiding_centre,
    likely_spectrum,
    linear_rows,
    mixture_centre,
    search_relaxed,
)
from finishmatch.mix.subset_factors import grown, most_promising, singles
from finishmatch.mix.subset_pairs import best_completions
from finishmatch.mix.subsets import search_subsets
from finishmatch.optics import Backing, predicted_reflectance
from finishmatch.optics.beam import film_reading
from finishmatch.readings import Reading
from tests.helpers.plain_paints import GOAL, NAMES, PAINTS, WISHED, grams

FREE = np.ones(4)
GREY = np.full(31, 0.3)
THIN = PAINTS.over(Backing("grey", 25.0, GREY))


def some(*rows: dict[str, float]) -> Candidates:
    width = max(map(len, rows))
    members = [[*sorted(NAMES.index(name) for name in row), *[-1] * (width - len(row))] for row in rows]
    shares = [[row[NAMES[m]] if m >= 0 else 0.0 for m in own] for row, own in zip(rows, members, strict=True)]
    return Candidates(np.array(members), np.array(shares))


def goal(optics: object, poured: np.ndarray, lights: tuple[str, ...] = ("D65", "A")) -> ColourTarget:
    return colour_target(Reading("goal", predicted_reflectance(optics, poured)[None]), lights, 10)  # type: ignore[arg-type]


def test_candidates_are_refined_to_the_mixture_itself() -> None:
    start = some({"white": 0.5, "blue": 0.3, "red": 0.2}, {"white": 0.6, "blue": 0.4})
    np.testing.assert_allclose(
        candidate_reflectance(start, PAINTS)[1], predicted_reflectance(PAINTS, grams(white=0.6, blue=0.4))
    )
    for optics in (PAINTS, THIN):
        found = refine(start, optics, goal(optics, WISHED), FREE, rounds=60)
        np.testing.assert_allclose(found.shares[0], WISHED[:3] / WISHED.sum(), atol=2e-4)
        np.testing.assert_allclose(found.shares.sum(axis=1), 1)
        assert found.shares[1, 2] == 0
        np.testing.assert_array_equal(found.members, start.members)


def test_a_candidate_of_other_tints_is_refined_to_its_least_misfit() -> None:
    """Of white and blue alone: no other share of the two is nearer, by what is made small."""
    target = GOAL
    (share,) = refine(some({"white": 0.5, "blue": 0.5}), PAINTS, target, FREE, rounds=60).shares

    blue = np.linspace(0.01, 0.6, 2000)
    r = predicted_reflectance(PAINTS, np.stack([1 - blue, blue, 0 * blue, 0 * blue], axis=1))
    spectrum = 10.0 * (r - target.reflectance) / np.sqrt(31)
    misfit = (target.vectors(r) ** 2).sum(axis=(1, 2)) + (spectrum**2).sum(axis=1)
    assert share[1] == pytest.approx(blue[misfit.argmin()], abs=5e-4)
    # on the worst light alone, it comes down to where two lights are as far or none can be better
    (sharp,) = refine(some({"white": 0.5, "blue": 0.5}), PAINTS, target, FREE, 80, True, 0.0).shares

    def worst(blue: float) -> float:
        return float(target.differences(predicted_reflectance(PAINTS, grams(white=1 - blue, blue=blue))).max())

    assert worst(sharp[1]) == pytest.approx(target.differences(r).max(axis=1).min(), abs=0.02)
    assert worst(sharp[1]) <= worst(share[1]) + 1e-9


def test_shares_are_held_to_their_limits_and_the_rest_stretched() -> None:
    limits = np.array([1.0, 0.1, 1.0, 1.0])
    (held,) = refine(some({"white": 0.5, "blue": 0.3, "red": 0.2}), PAINTS, GOAL, limits, rounds=40).shares
    assert held[1] == pytest.approx(0.1)
    assert held.sum() == pytest.approx(1)

    def misfit(red: float) -> float:
        r = predicted_reflectance(PAINTS, grams(white=0.9 - red, blue=0.1, red=red))
        return float((GOAL.vectors(r) ** 2).sum() + 100 * ((r - GOAL.reflectance) ** 2).mean())

    assert misfit(held[2]) <= misfit(0.02)
    assert misfit(held[2]) <= misfit(0.1)
    tight = np.array([0.5, 0.3, 0.9, 1.0])
    (both,) = refine(some({"white": 0.8, "blue": 0.1, "red": 0.1}), PAINTS, GOAL, tight, rounds=5).shares
    assert both[0] == pytest.approx(0.5)
    assert both.sum() == pytest.approx(1)


def test_lists_are_joined_each_subset_once_and_traces_left_out() -> None:
    one, two = some({"white": 0.5, "blue": 0.5}, {"white": 0.7, "red": 0.3}), some({"white": 0.9, "blue": 0.1})
    both = joined([one, two])
    assert both.members.tolist() == [[0, 1], [0, 2]]
    assert both.shares.tolist() == [[0.5, 0.5], [0.7, 0.3]]
    assert len(both) == 2
    assert both[[1]].members.tolist() == [[0, 2]]
    traces = some(
        {"white": 0.7, "blue": 0.001, "red": 0.299}, {"white": 0.6, "red": 0.4}, {"white": 0.99, "black": 0.01}
    )
    left = without_traces(traces, 0.005)
    assert left.members.tolist() == [[0, 2, -1], [0, 3, -1]]
    np.testing.assert_allclose(left.shares[0, :2], np.array([0.7, 0.299]) / 0.999)
    kept = without_traces(traces, 0.005, [1])
    assert kept.members.tolist() == [[0, 1, 2], [0, 2, -1], [0, 3, -1]]
    tiny = without_traces(some({"white": 0.5, "blue": 0.5}), 0.9)
    assert tiny.members.tolist() == [[0, 1]]


def test_the_rows_of_the_relaxed_problem_vanish_at_the_target_itself() -> None:
    """Round the mixture itself the rows times its amounts are nought; round it is the slope of the differences."""
    amounts = WISHED * PAINTS.dry_ml_per_g
    amounts = amounts / amounts.sum()
    centre = mixture_centre(some({name: float(w) for name, w in zip(NAMES[:3], WISHED, strict=False)}), PAINTS)
    np.testing.assert_allclose(centre.K, amounts @ PAINTS.K)
    np.testing.assert_allclose(centre.S, amounts @ PAINTS.S)
    for optics in (PAINTS, THIN):
        target = goal(optics, WISHED)
        rows, scale = linear_rows(target, centre, optics)
        np.testing.assert_allclose(rows @ amounts, 0, atol=1e-9)
        # linear: each tint's amount moves the difference by its row over what the scale weighs it as
        for i in range(4):
            step = 1e-6 * np.eye(4)[i]
            moved = predicted_reflectance(optics, (amounts + step) / PAINTS.dry_ml_per_g)
            vectors = target.vectors(moved).ravel()
            found = rows[: len(vectors), i] * 1e-6
            ratio = float(found @ vectors / (vectors @ vectors))
            np.testing.assert_allclose(found, ratio * vectors, atol=0.02 * np.abs(found).max())
            assert ratio > 0
        assert (scale > 0).all()
    reading = predicted_reflectance(PAINTS, WISHED)
    hiding = hiding_centre(reading, PAINTS)
    np.testing.assert_allclose(hiding.K / hiding.S, (amounts @ PAINTS.K) / (amounts @ PAINTS.S), rtol=1e-6)


def test_the_search_finds_the_recipe_and_says_how_far_it_looked() -> None:
    for optics in (PAINTS, THIN):
        found, searched = search_relaxed(goal(optics, WISHED), optics, 3, FREE)
        worst = goal(optics, WISHED).differences(candidate_reflectance(found, optics)).max(axis=1)
        best = int(np.argmin(worst))
        assert worst[best] < 0.05
        assert found.members[best].tolist() == [0, 1, 2]
        assert (searched.tints, searched.largest, searched.whole_up_to) == (4, 3, 3)
        assert searched.subsets == 4 + 6 + 4
    _, more = search_relaxed(GOAL, PAINTS, 9, FREE)
    assert more.largest == 4
    held, _ = search_relaxed(GOAL, PAINTS, 3, np.array([1.0, 0.05, 1.0, 1.0]))
    blue = np.where(held.members == 1, held.shares, 0).sum(axis=1)
    assert blue.max() <= 0.05 + 1e-9
    only, _ = search_relaxed(GOAL, PAINTS, 3, FREE, lambda members: (members == 3).any(axis=0))
    assert (only.members == 3).any(axis=1).all()
    none, _ = search_relaxed(GOAL, PAINTS, 2, FREE, lambda members: np.zeros(members.shape[1], bool))
    assert len(none) == 0


def test_subsets_are_solved_as_least_squares_solves_them() -> None:
    """Each subset's positive mixture, by SciPy-free algebra: x of least squares with Σ x = 1 by bordering."""
    rows = np.random.default_rng(3).normal(0.3, 1, (9, 7))
    gram = rows.T @ rows
    found = search_subsets(rows, np.ones(7), 4, 50)
    best = {
        tuple(m[m >= 0]): (x[m >= 0], e) for m, x, e in zip(found.members, found.amounts, found.misfit, strict=True)
    }
    expected = {}
    for size in range(1, 5):
        for members in combinations(range(7), size):
            x = np.linalg.solve(gram[np.ix_(members, members)], np.ones(size))
            if (x > 0).all():
                expected[members] = (x / x.sum(), 1 / x.sum())
    assert set(best) == set(expected)
    for members, (x, misfit) in expected.items():
        np.testing.assert_allclose(best[members][0], x, rtol=1e-8)
        assert best[members][1] == pytest.approx(misfit)
    assert (np.diff(found.misfit) >= 0).all()
    assert (found.searched, found.whole_up_to) == (7 + 21 + 35 + 35, 4)
    # fewer kept: the best of each size
    few = search_subsets(rows, np.ones(7), 4, 2)
    for size in range(1, 5):
        own = sorted(e for members, (_, e) in expected.items() if len(members) == size)[:2]
        kept = sorted(e for m, e in zip(few.members, few.misfit, strict=True) if (m >= 0).sum() == size)
        assert kept == pytest.approx(own)
    scaled = search_subsets(rows * 2.0, np.full(7, 2.0), 4, 50)
    np.testing.assert_allclose(scaled.amounts, found.amounts / 2, rtol=1e-8)


def test_pairs_complete_any_prefix_and_the_promising_are_those_that_come_nearest() -> None:
    rows = np.random.default_rng(5).normal(0.2, 1, (9, 8))
    gram = rows.T @ rows
    every = lambda members, amounts: np.ones(members.shape[1], bool)  # noqa: E731
    kept, counted = best_completions(grown(singles(gram), gram), gram, 100, every)
    assert counted == 70
    for members, amounts, misfit in zip(kept.members, kept.amounts, kept.misfit, strict=True):
        x = np.linalg.solve(gram[np.ix_(members, members)], np.ones(4))
        np.testing.assert_allclose(amounts, x / x.sum(), rtol=1e-8)
        assert misfit == pytest.approx(1 / x.sum())
        assert (x > 0).all()
    near = most_promising(singles(gram), gram, 5)
    promise = {}
    for i, j in combinations(range(8), 2):
        options = [1 / gram[i, i], 1 / gram[j, j]]
        x = np.linalg.solve(gram[np.ix_([i, j], [i, j])], np.ones(2))
        promise[i, j] = float(x.sum()) if (x > 0).all() else max(options)
    wanted = sorted(promise, key=lambda pair: -promise[pair])[:5]
    assert {tuple(map(int, pair)) for pair in near.members.T} == set(wanted)
    anywhere, _ = best_completions(near, gram, 100, every, anywhere=True)
    assert len({tuple(row) for row in anywhere.members.tolist()}) == len(anywhere.members)
    assert all(list(row) == sorted(row) for row in anywhere.members.tolist())


# tints that fight


def test_hues_of_strong_tints_and_which_fight() -> None:
    hues = tint_hues(PAINTS)
    assert np.isnan(hues[[0, 3]]).all()
    assert 220 < hues[1] < 300
    assert hues[2] < 60 or hues[2] > 330
    grey = np.array([50.0, 0, 0])
    assert greying_pairs(np.array([0.0, 120.0, np.nan]), grey) == [(0, 1)]
    assert greying_pairs(np.array([0.0, 119.9]), grey) == []
    assert greying_pairs(np.array([350.0, 110.0]), grey) == [(0, 1)]
    assert greying_pairs(np.array([350.0, 109.0]), grey) == []
    # a strong colour well between the two is made by both of them
    assert greying_pairs(np.array([30.0, 200.0]), np.array([50.0, 20.0, 0.0])) == []
    assert greying_pairs(np.array([30.0, 200.0]), np.array([50.0, 19.9, 0.0])) == [(0, 1)]
    assert greying_pairs(np.array([29.0, 200.0]), np.array([50.0, 20.0, 0.0])) == [(0, 1)]


# hiding


def test_how_thick_a_film_must_be_to_hide() -> None:
    weights = grams(white=90, blue=10)
    black, white = np.full(31, 0.02), np.full(31, 0.9)
    films = [predicted_reflectance(PAINTS.over(Backing("", 20.0, below)), weights) for below in (black, white)]
    y = [float(reflectance_to_xyz(film)[1]) for film in films]
    assert contrast_ratio(PAINTS, weights, 20.0, black, white) == pytest.approx(y[0] / y[1])
    labs = [reflectance_to_lab(film) for film in films]
    assert seen_de00(PAINTS, weights, 20.0, black, white) == pytest.approx(float(de00(*labs)))
    grounds = (("w", white), ("k", black), ("g", GREY))
    dark, light = darkest_and_lightest(grounds)
    assert dark is black
    assert light is white
    chart = darkest_and_lightest(grounds[:1])
    assert (chart[0][0], chart[1][0]) == (0.01, 0.925)
    build = hiding_build_um(PAINTS, weights, grounds)
    assert build is not None
    assert contrast_ratio(PAINTS, weights, build, black, white) >= CONTRAST_RATIO - 1e-4
    assert contrast_ratio(PAINTS, weights, build - 0.3, black, white) < CONTRAST_RATIO
    assert hides_within_de00(PAINTS, weights) is None
    assert hides_within_de00(PAINTS, weights, 0.7) == 0.7
    deep = grams(blue=100, black=5)
    assert hides_within_de00(PAINTS, deep) == UNSEEN_DE00
    assert hides_within_de00(replace(PAINTS, per_um=False), deep) is None
    seen = hiding_build_um(PAINTS, weights, grounds, 1.0)
    assert seen is not None
    assert seen_de00(PAINTS, weights, seen, black, white) == pytest.approx(1.0, abs=0.03)
    assert hiding_build_um(replace(PAINTS, K=PAINTS.K / 300, S=PAINTS.S / 300), weights, grounds) is None
    assert hiding_build_um(PAINTS, weights, (("a", GREY), ("b", GREY))) == 1.0
    np.testing.assert_allclose(
        endless_lab(PAINTS, weights),
        reflectance_to_lab(film_reading(*mixed(weights), np.asarray(2e4), GREY, PAINTS.surface)),
    )


def mixed(weights: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    share = weights * PAINTS.dry_ml_per_g
    share = share / share.sum()
    return share @ PAINTS.K, share @ PAINTS.S


def test_the_ground_that_saves_paint_comes_first() -> None:
    weights = grams(white=90, blue=10)
    like = predicted_reflectance(PAINTS, weights)
    grounds = (("black", np.full(31, 0.02)), ("like it", like), ("glass", np.full(31, 0.9)))
    found = ground_choices(PAINTS, weights, grounds, 0.5, 10.0)
    assert found[-1].ground == "black"
    builds = [choice.build_um for choice in found]
    assert None not in builds
    assert builds == sorted(builds)  # type: ignore[type-var]
    endless = endless_lab(PAINTS, weights)
    for choice in found[-1:]:
        assert choice.build_um is not None
        film = predicted_reflectance(PAINTS.over(Backing("", choice.build_um, dict(grounds)[choice.ground])), weights)
        assert float(de00(endless, reflectance_to_lab(film))) == pytest.approx(0.5, abs=0.02)
        assert choice.coats == int(np.ceil(choice.build_um / 10.0))
    assert ground_choices(replace(PAINTS, per_um=False), weights, grounds) == ()
    sheer = replace(PAINTS, K=PAINTS.K / 300, S=PAINTS.S / 300)
    assert ground_choices(sheer, weights, grounds[:1]) == (GroundChoice("black", None, None),)


# what is in doubt


def test_the_range_of_draws_is_from_the_least_to_ninety_five_in_a_hundred() -> None:
    drawn = np.arange(100.0)[::-1]
    assert range_of_95(drawn) == (0.0, 94.0)
    assert range_of_95(np.arange(10.0)) == (0.0, 9.0)
    both = np.stack([drawn, 2 * drawn], axis=1)
    assert intervals(GOAL, both) == {"D65": (0.0, 94.0), "A": (0.0, 188.0)}


def test_each_doubt_moves_the_card_in_proportion() -> None:
    """Of the target's own recipe: with one small doubt alone, twice of it is twice the difference in every draw."""
    optics, weights = PAINTS.chosen(NAMES[:3]), WISHED[:3]
    none = 1e-18 * np.eye(3)

    def drawn(**doubt: object) -> np.ndarray:
        target = replace(GOAL, **{"reading_sd": 0.0, "place_sd": 0.0, **doubt.pop("target", {})})  # type: ignore[arg-type]
        own = replace(optics, **doubt.pop("optics", {}))  # type: ignore[arg-type]
        given = {"pour_sd_g": 1e-9, "log_covariance": none, **doubt}
        return drawn_differences(target, own, weights, **given)  # type: ignore[arg-type]

    assert drawn().shape == (CARD_DRAWS, 2)
    assert drawn().max() < 1e-3
    band = np.linspace(0, 1, 31)
    for small, large in (
        ({"reading_sd": 1e-4}, {"reading_sd": 2e-4}),
        ({"place_sd": 1e-4}, {"place_sd": 2e-4}),
        ({"pour_sd_g": 0.01}, {"pour_sd_g": 0.02}),
        ({"log_covariance": 1e-6 * np.eye(3)}, {"log_covariance": 4e-6 * np.eye(3)}),
        ({"optics": {"model_sd": 1e-4}}, {"optics": {"model_sd": 2e-4}}),
        ({"optics": {"dispersal_sd": 1e-3}}, {"optics": {"dispersal_sd": 2e-3}}),
    ):
        one, two = drawn(**small), drawn(**large)  # type: ignore[arg-type]
        assert 1e-3 < np.median(one) < 1
        np.testing.assert_allclose(np.median(two / one), 2, rtol=0.05)
    # what the target itself was read off by counts too, and no more than a card's reading: some of it is seen
    for of_target, of_card in (("reading_sd", "reading_sd"), ("place_sd", "place_sd")):
        small, large = (drawn(target={of_target: sd}) for sd in (1e-4, 1e-3))
        assert 0 < np.median(small) < np.median(large) < 1.1 * np.median(drawn(**{of_card: 1e-3}))
    small, large = (drawn(target={"conversion_sd": sd * band}) for sd in (1e-4, 1e-3))
    assert 0 < np.median(small) < np.median(large)
    assert np.median(drawn(optics={"model_sd": 1e-3, "model_run": 9.0})) > np.median(drawn(optics={"model_sd": 1e-3}))
    off = np.full(31, 0.01)
    shifted = float(GOAL.differences(GOAL.reflectance + off)[0])
    np.testing.assert_allclose(drawn(offset=off)[:, 0], shifted, rtol=1e-3)


def test_what_was_poured_and_read_already_is_no_doubt_of_the_next_card() -> None:
    optics, weights = PAINTS.chosen(NAMES[:3]), WISHED[:3]
    wide = 0.01 * np.eye(3)
    fresh = drawn_differences(GOAL, optics, weights, 0.5, wide)
    read = drawn_differences(GOAL, optics, weights, 0.5, wide, None, 0.0, weights)
    assert np.median(fresh) > 0.5
    bare = replace(GOAL, reading_sd=0.0, place_sd=0.0)
    stirred = drawn_differences(bare, optics, weights, 0.5, wide, None, 0.0, weights)
    known = drawn_differences(bare, optics, weights, 1e-6, 1e-9 * wide, None, 0.0, weights)
    np.testing.assert_allclose(np.median(stirred), np.median(known), rtol=0.05)  # of the stirring alone
    part = drawn_differences(GOAL, optics, weights, 0.5, wide, None, 0.0, weights * [1, 0.5, 1])
    assert np.median(read) < np.median(part) < np.median(fresh)
    # two cards of one tin are each stirred anew
    still = replace(optics, dispersal_sd=1.2e-2)
    again = drawn_differences(bare, still, weights, 0.5, wide, None, 0.0, weights)
    assert 1e-3 < np.median(again) < 0.5
    usual = drawn_differences(GOAL, optics, weights, 0.1)
    np.testing.assert_allclose(usual, drawn_differences(GOAL, optics, weights, 0.1, 0.15**2 * np.eye(3)))
    u95 = within_95(optics, weights, 0.1, None)
    itself = goal(optics, weights, ("D65",))
    unread = replace(itself, reading_sd=0.0, place_sd=0.0)
    drawn = drawn_differences(
        unread, optics, weights, 0.1, reading_sd=itself.reading_sd, place_sd=itself.place_sd
    )  # what is predicted has no noise, its card has
    assert u95 == pytest.approx(float(np.percentile(drawn[:, 0], 95)))


# what else a standard may be


def test_what_a_standard_of_lab_alone_may_be() -> None:
    chip = colour_target(Reading("chip", GOAL.labs[:1]), ("D65", "A", "F11"), 10)
    spectrum = likely_spectrum(chip)
    np.testing.assert_allclose(reflectance_to_lab(spectrum), GOAL.labs[0], atol=1e-3)
    found = likely_metamers(chip, PAINTS)
    assert found is not None
    away = de00(chip.labs[0], reflectance_to_lab(found.spectra))
    assert away.max() < 1.5
    risks = found.risks(PAINTS, WISHED)
    assert [risk.light for risk in risks] == ["A", "F11"]
    assert all(0 <= risk.median <= risk.most for risk in risks)
    own = found.risks(replace(PAINTS, draws=np.stack([PAINTS.K, PAINTS.S])[None]), WISHED)
    assert [risk.median for risk in own] == pytest.approx([risk.median for risk in risks])
    assert likely_metamers(GOAL, PAINTS) is None
    known = colour_target(Reading("chip", GOAL.labs[:1]), ("D65",), 10)
    assert likely_metamers(known, PAINTS) is None
    assert metamers(known, some({"white": 1.0}), PAINTS) is None
