"""Correction by adding: the smallest addition that reaches the tolerance, on strengths read off the spray-out."""

from __future__ import annotations

import itertools

import numpy as np
import pytest

from finishmatch.correct.addition import nearest_addition
from finishmatch.correct.card_strengths import update_strengths
from finishmatch.correct.correct import correct_batch
from finishmatch.correct.correction import Correction
from finishmatch.correct.updated_tin import updated_tin
from finishmatch.errors import InputError
from finishmatch.evidence.target import colour_target
from finishmatch.mix.weighing import Scale
from finishmatch.optics import predicted_reflectance
from finishmatch.readings import Reading
from tests.helpers.booth_fit import BANK, OPTICS

LIGHTS = ("D65", "A", "F11")
NAMES = OPTICS.names


def grams_of(parts: dict[int, float]) -> np.ndarray:
    """Grams of all tints."""
    grams = np.zeros(len(NAMES))
    for index, amount in parts.items():
        grams[index] = amount
    return grams


RECIPE = grams_of({0: 380.0, 3: 70.0, 5: 35.0, 1: 15.0})
TARGET = colour_target(Reading("t", predicted_reflectance(OPTICS, RECIPE)[None]), LIGHTS, 10)


def sprayed(grams: np.ndarray, strengths: np.ndarray) -> Reading:
    """What a batch reads like when the tins have other strengths."""
    return Reading("card", predicted_reflectance(OPTICS.strengthened(strengths), grams)[None])


def batch_of(grams: np.ndarray) -> tuple[tuple[str, float], ...]:
    """Grams of all tints as a batch."""
    return tuple((name, float(g)) for name, g in zip(NAMES, grams, strict=True) if g > 0)


def correct(grams: np.ndarray, card: Reading, **options: object) -> Correction:
    """The correction of a batch."""
    return correct_batch(TARGET, OPTICS, BANK.tints, batch_of(grams), card, **options)


STRENGTHS = np.exp(np.random.default_rng(2).normal(0, 0.05, len(NAMES)))


def test_strengths_are_found_up_to_what_all_share() -> None:
    used = [0, 1, 3, 5]
    mine = OPTICS.chosen([NAMES[i] for i in used])
    found = update_strengths(mine, RECIPE[used], sprayed(RECIPE, STRENGTHS))
    # a film that hides tells only the ratios: scaling all tints together changes nothing; the prior draws towards 1
    np.testing.assert_allclose(np.diff(np.log(found.factors)), np.diff(np.log(STRENGTHS[used])), rtol=0.25, atol=0.01)
    assert found.covariance.shape == (4, 4)
    ratio = np.array([1.0, 0, -1, 0])
    assert np.sqrt(ratio @ found.covariance @ ratio) < 0.02 < 0.05 * np.sqrt(2)


def test_the_addition_reaches_the_tolerance_on_the_true_tins_and_is_small() -> None:
    card = sprayed(RECIPE, STRENGTHS)
    found = correct(RECIPE, card, tolerance=0.4)
    assert max(found.before.values()) > 0.4
    assert found.reachable
    assert 0 < found.growth <= 0.2
    added = RECIPE + np.array([dict(found.additions).get(name, 0.0) for name in NAMES])
    true = predicted_reflectance(OPTICS.strengthened(STRENGTHS), added)
    assert TARGET.differences(true).max() <= 0.45
    assert max(found.lights.values()) <= 0.4


def test_no_smaller_addition_of_one_or_two_tints_does_it() -> None:
    card = sprayed(RECIPE, STRENGTHS)
    found = correct(RECIPE, card, tolerance=0.4)
    total = sum(grams for _, grams in found.additions)
    used = np.flatnonzero(RECIPE)
    factors = np.ones(len(NAMES))
    factors[used] = [found.strengths[NAMES[i]] for i in used]
    today = OPTICS.strengthened(factors)
    offset = card.reflectance - predicted_reflectance(today, RECIPE)
    allowance = 0.01 * RECIPE.sum()  # two parts may be worth half a percent of the batch each
    steps = np.linspace(0, max(total - allowance, 0), 25)
    for i, j in itertools.combinations(range(len(NAMES)), 2):
        trial = np.array([grams_of({i: a, j: b}) for a in steps for b in steps if a + b < total - allowance])
        if len(trial):
            worst = TARGET.differences(predicted_reflectance(today, RECIPE + trial) + offset).max(axis=1)
            assert worst.min() > 0.8 * 0.4, (NAMES[i], NAMES[j])


@pytest.mark.slow
def test_the_chance_of_being_inside_is_told_and_what_noise_hides_is_not_chased() -> None:
    card = sprayed(RECIPE, STRENGTHS)
    found = correct(RECIPE, card, tolerance=0.4)
    assert found.chance >= 0.85
    assert set(found.intervals) == set(LIGHTS)
    for light, (low, high) in found.intervals.items():
        assert 0 <= low <= found.lights[light] + 0.1
        assert high > found.lights[light] - 1e-9
    # right strengths, but a reading off by its noise: pouring much wouldn't make the tin surer
    noise = np.random.default_rng(4).normal(0, 0.0005, 31)
    off = Reading("card", (predicted_reflectance(OPTICS, RECIPE) + 3 * noise)[None])
    assert correct(RECIPE, off, tolerance=0.05).growth <= 0.03


def test_a_tin_inside_the_tolerance_is_left_alone() -> None:
    found = correct(RECIPE, sprayed(RECIPE, np.ones(len(NAMES))), tolerance=0.3)
    assert found.reachable
    assert found.additions == ()
    assert found.growth == 0
    assert "add nothing" in found.why


def test_what_adding_cannot_reach_is_said_with_what_it_would_take() -> None:
    dark = RECIPE + grams_of({1: 30.0})
    card = sprayed(dark, np.ones(len(NAMES)))
    found = correct(dark, card, tolerance=0.5, max_growth=0.1)
    assert not found.reachable
    assert found.growth <= 0.1 + 1e-9
    assert max(found.lights.values()) < max(found.before.values())
    assert found.growth_needed > 0.1
    more = correct(dark, card, tolerance=0.5, max_growth=found.growth_needed * 1.1)
    assert more.reachable
    assert more.growth > 0.1
    # a tint that nothing covers: the tin was ruined with a clean colour the target holds none of
    assert "within a growth of 10 %" in found.why


def test_the_nearest_addition_is_as_near_as_trying_all_pairs_finds() -> None:
    dark = RECIPE + grams_of({1: 30.0})
    tin = updated_tin(TARGET, OPTICS, BANK.tints, batch_of(dark), sprayed(dark, STRENGTHS), Scale(), None).tin
    for most in (20.0, 60.0):
        nearest = nearest_addition(tin, np.full(len(NAMES), 1e4), most, Scale())
        assert nearest.sum() <= most + 1e-6
        steps = np.linspace(0, most, 16)
        best = min(
            tin.differences(np.array([grams_of({i: a, j: b}) for a in steps for b in steps if a + b <= most]))
            .max(axis=1)
            .min()
            for i, j in itertools.combinations(range(len(NAMES)), 2)
        )
        assert tin.differences(nearest).max() <= best + 0.02


@pytest.mark.slow
def test_an_addition_that_seems_out_of_the_scales_reach_is_found_with_more_of_each() -> None:
    """Small parts can't be weighed; larger ones that make up for one another can."""
    scale = Scale(1.0, 3.0)
    found = correct(RECIPE, sprayed(RECIPE, STRENGTHS), tolerance=0.2, scale=scale)
    assert found.reachable
    assert max(found.lights.values()) <= 0.2
    assert all(grams >= 3 and grams == round(grams) for _, grams in found.additions)


def test_where_a_slip_of_the_scale_spoils_an_addition_that_is_said() -> None:
    card = sprayed(RECIPE, np.exp(np.random.default_rng(3).normal(0, 0.05, len(NAMES))))
    coarse, fine = (correct(RECIPE, card, tolerance=0.3, scale=scale) for scale in (Scale(1.0, 3.0), Scale(0.1, 0.3)))
    assert any("the scale makes it unsure" in warning for warning in coarse.warnings)
    assert not any("the scale makes it unsure" in warning for warning in fine.warnings)
    assert coarse.chance < fine.chance - 0.2


@pytest.mark.parametrize("seed", range(6))
def test_no_part_of_an_addition_can_be_left_out(seed: int) -> None:
    strengths = np.exp(np.random.default_rng(seed).normal(0, 0.05, len(NAMES)))
    batch = RECIPE + grams_of({1: 2.0, 5: 3.0})
    card = sprayed(batch, strengths)
    found = correct(batch, card, tolerance=0.4, max_growth=0.3)
    assert found.reachable
    assert 0 < len(found.additions) <= 4
    tin = updated_tin(TARGET, OPTICS, BANK.tints, batch_of(batch), card, Scale(), None).tin
    for left_out, grams in found.additions:
        rest = grams_of({NAMES.index(name): g for name, g in found.additions if name != left_out})
        chance = float((tin.drawn(rest, Scale()).max(axis=1) <= 0.4).mean())
        assert tin.differences(rest).max() > 0.4 or chance < found.chance - 2 * grams / batch.sum()


@pytest.mark.slow
def test_where_more_growth_would_make_it_surer_that_is_shown() -> None:
    strengths = np.exp(np.random.default_rng(0).normal(0, 0.05, len(NAMES)))
    batch = RECIPE + grams_of({1: 2.0, 5: 3.0})
    card = sprayed(batch, strengths)
    free = correct(batch, card, tolerance=0.4, max_growth=0.3)
    held = correct(batch, card, tolerance=0.4, max_growth=0.5 * free.growth)
    tight = correct(batch, card, tolerance=0.4, max_growth=0.85 * free.growth)
    assert free.trade == ()
    assert not held.reachable
    assert held.growth_needed == pytest.approx(free.growth)
    assert tight.reachable
    assert tight.chance < 0.8 < free.chance
    assert tight.trade[-1].growth == pytest.approx(free.growth)
    assert tight.trade[-1].chance == pytest.approx(free.chance)
    assert any(row.additions == tight.additions for row in tight.trade)
    assert [row.chance for row in tight.trade] == sorted(row.chance for row in tight.trade)


def test_additions_keep_to_scale_stock_and_the_bank() -> None:
    found = correct(RECIPE, sprayed(RECIPE, STRENGTHS), tolerance=0.3)
    stock = {tint.name: tint.stock_g for tint in BANK.tints}
    for name, grams in found.additions:
        assert abs(grams * 10 - round(grams * 10)) < 1e-6
        assert 0.3 - 1e-9 <= grams <= stock[name]


def test_a_spray_out_known_as_lab_is_corrected_in_its_light() -> None:
    card = sprayed(RECIPE, STRENGTHS)
    typed = Reading("card", card.lab_in("D65", 10)[None])
    goal = colour_target(Reading("t", TARGET.reflectance[None]), ("D65",), 10)
    batch = tuple((name, float(g)) for name, g in zip(NAMES, RECIPE, strict=True) if g > 0)
    found = correct_batch(goal, OPTICS, BANK.tints, batch, typed, tolerance=0.3)
    assert found.reachable
    assert any("Lab only" in warning for warning in found.warnings)
    added = RECIPE + np.array([dict(found.additions).get(name, 0.0) for name in NAMES])
    assert goal.differences(predicted_reflectance(OPTICS.strengthened(STRENGTHS), added)).max() <= 0.4


def test_batches_and_numbers_that_cannot_be_are_refused() -> None:
    card = sprayed(RECIPE, STRENGTHS)
    with pytest.raises(InputError, match="optics aren't known"):
        correct_batch(TARGET, OPTICS, BANK.tints, (("nothing", 3.0),), card)
    for options, message in (({"tolerance": 0.0}, "`tolerance`"), ({"max_growth": 0.0}, "`max_growth`")):
        with pytest.raises(InputError, match=message):
            correct(RECIPE, card, **options)
