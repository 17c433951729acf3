"""What a card is expected to differ by: what is counted in it, and what isn't."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from finishmatch.colour import de00, reflectance_to_lab
from finishmatch.evidence.target import colour_target
from finishmatch.mix.expected_difference import (
    drawn_differences,
    drawn_strengths,
    intervals,
    range_of_95,
    within_95,
)
from finishmatch.optics import predicted_reflectance
from finishmatch.optics.strength import PRIOR_SD
from finishmatch.readings import Reading
from tests.helpers.booth_fit import OPTICS

LIGHTS = ("D65", "A", "F11")
OWN = OPTICS.chosen(OPTICS.names[:3])
GRAMS = np.array([400.0, 60.0, 40.0])
KNOWN = np.eye(3) * 1e-8  # tins whose strength is known
READ = colour_target(Reading("t", predicted_reflectance(OWN, GRAMS)[None]), LIGHTS, 10)
TARGET = replace(READ, place_sd=0.0)  # what follows is small beside where on it a sample is read
QUIET = replace(OWN, draws=None, dispersal_sd=0.0, neighbour_sd=0.0, model_sd=0.0)


def test_the_range_stated_holds_what_it_says_and_is_no_wider_than_the_middle_one() -> None:
    drawn = np.abs(np.random.default_rng(1).standard_normal((2000, 3))) + 0.2
    for light, (low, high) in intervals(TARGET, drawn).items():
        values = drawn[:, LIGHTS.index(light)]
        assert ((values >= low) & (values <= high)).mean() == pytest.approx(0.95, abs=0.001)
        assert high - low <= np.ptp(np.percentile(values, [2.5, 97.5]))
        assert low == pytest.approx(0.2, abs=0.01)  # such draws lie thickest at their least
    assert range_of_95(np.arange(100.0)) == (0.0, 94.0)


@pytest.mark.parametrize("name", ["dispersal_sd", "neighbour_sd", "model_sd"])
def test_each_of_what_the_bank_leaves_open_widens_what_is_expected(name: str) -> None:
    def expected(optics: object) -> float:
        return float(np.median(drawn_differences(TARGET, optics, GRAMS, 1e-6, KNOWN)))

    assert expected(replace(QUIET, **{name: 0.05})) > 2 * expected(QUIET)


def test_dispersal_is_of_ratios_to_the_largest_part() -> None:
    amounts = replace(OWN, dry_ml_per_g=np.array([0.2, 1.0, 0.5]))
    np.testing.assert_array_equal(amounts.spread_of_ratios(np.array([3.0, 1.0, 1.0]), 0.1), [0.1, 0.0, 0.1])
    white, off = OPTICS.chosen(OPTICS.names[:1]), replace(QUIET, dispersal_sd=0.05).chosen(OPTICS.names[:1])
    alone = colour_target(Reading("t", predicted_reflectance(white, np.array([500.0]))[None]), LIGHTS, 10)
    drawn = drawn_differences(replace(alone, place_sd=0.0), off, np.array([500.0]), 1e-6, np.eye(1) * 1e-8)
    assert np.median(drawn) < 0.1  # a tint by itself is its own colour, however much of it comes to bear


def test_what_a_card_read_is_known_and_only_what_is_added_changes_it_uncertainly() -> None:
    unknown = np.eye(3) * 0.15**2

    def spread(added: float, sprayed: bool) -> float:
        grams = GRAMS + np.array([0, added, 0])
        already = GRAMS if sprayed else None
        drawn = drawn_differences(TARGET, QUIET, grams, 1e-6, unknown, None, 0.0, already)
        return float(drawn[:, 0].std())

    assert spread(0.0, sprayed=True) < 0.1 * spread(0.0, sprayed=False)
    assert spread(0.0, sprayed=True) < spread(10.0, sprayed=True) < spread(0.0, sprayed=False)


@pytest.mark.parametrize("name", ["dispersal_sd", "neighbour_sd"])
def test_two_cards_of_one_tin_differ_by_how_either_was_stirred_whatever_its_bank_shows(name: str) -> None:
    def again(dispersal: float) -> np.ndarray:
        optics = replace(QUIET, **{name: dispersal})
        return drawn_differences(TARGET, optics, GRAMS, 1e-6, KNOWN, None, 0.0, GRAMS)

    np.testing.assert_array_equal(again(0.0), again(0.05))  # dispersal among its neighbours stays with a tin
    assert np.median(again(0.0)) > 0.05


def test_how_far_two_cards_of_one_tin_part_is_what_a_booth_shows_that_stirs_a_hundredth_off() -> None:
    itself = replace(TARGET, reading_sd=0.0)
    drawn = drawn_differences(itself, QUIET, GRAMS, 1e-6, KNOWN, None, 0.0, GRAMS)[:, 0]
    r, minor = np.random.default_rng(8), np.array([0.0, 1.0, 1.0])
    cards = [
        reflectance_to_lab(predicted_reflectance(OWN, GRAMS * np.exp(0.01 * minor * r.standard_normal(3))))
        for _ in range(800)
    ]
    apart = de00(np.array(cards[::2]), np.array(cards[1::2]))
    assert np.median(drawn) == pytest.approx(np.median(apart), rel=0.15)


def test_a_card_lies_within_u95_as_often_as_it_says() -> None:
    spreads = [within_95(OWN, GRAMS, 0.1, np.eye(3) * sd**2) for sd in (0.02, 0.15)]
    assert 0 < spreads[0] < spreads[1]
    r = np.random.default_rng(4)
    factors = np.exp(0.15 * r.standard_normal((400, 3)))
    cards = [predicted_reflectance(OWN.strengthened(factor), GRAMS) for factor in factors]
    off = TARGET.differences(np.array(cards))[:, 0]
    assert (off <= spreads[1]).mean() == pytest.approx(0.95, abs=0.03)


def test_where_on_a_sample_it_was_read_counts_as_much_as_it_shifts_the_reading() -> None:
    def expected(place_sd: float, of_card: float = 0.0) -> float:
        target = replace(READ, place_sd=place_sd)
        return float(np.median(drawn_differences(target, QUIET, GRAMS, 1e-6, KNOWN, None, 0.0, GRAMS, of_card)))

    assert READ.place_sd > 0
    assert expected(0.0) < expected(0.001) < expected(0.002)
    assert expected(0.005) < 1.05 * expected(0.0, 0.005)  # of the target's own some is known by how near a mixture is
    shifted = TARGET.differences(predicted_reflectance(OWN, GRAMS) + 0.005)[0]
    assert expected(0.0, 0.005) == pytest.approx(0.6745 * shifted, rel=0.15)  # half of all normal draws lie nearer


def test_a_tin_that_no_card_was_of_may_lie_farther_off_than_one_that_is_known_as_widely() -> None:
    def beyond(covariance: np.ndarray) -> float:
        drawn = drawn_differences(TARGET, QUIET, GRAMS, 1e-6, covariance)[:, 0]
        return float(np.percentile(drawn, 99) / np.median(drawn))

    assert beyond(np.eye(3) * 0.15**2) > 1.15 * beyond(np.eye(3) * 0.01**2)


def test_what_no_card_has_shown_of_a_tin_has_the_tail_of_students_t_and_what_is_known_has_none() -> None:
    """Five tins known: beyond 2.571 spreads lies one in twenty (any table of t), of a normal draw 1 in 100."""
    share = []
    for spread in (PRIOR_SD, 0.01 * PRIOR_SD):
        logs = np.log(np.concatenate([drawn_strengths(np.eye(k) * spread**2).ravel() for k in range(1, 12)]))
        share.append(float((np.abs(logs) > 2.571 * spread).mean()))
    assert share[0] == pytest.approx(0.05, abs=0.015)
    assert share[1] == pytest.approx(0.01, abs=0.006)
