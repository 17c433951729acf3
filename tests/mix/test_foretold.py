"""How far cards came from what was foretold of them, and what that makes of the next prediction."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from finishmatch.colour import reflectance_to_lab
from finishmatch.mix.expected_difference import drawn_around, within_95
from finishmatch.mix.foretold import (
    LAST,
    U95_OF_RMS,
    WORTH,
    WORTH_BY_CARD,
    BorneOut,
    Foretold,
    against_foretold,
    borne_out,
    seen_against_foretold,
    seen_borne_out,
)
from finishmatch.optics import predicted_reflectance
from tests.mix.test_expected_difference import GRAMS, OWN

STEP = 0.1


def _cards(times: float, count: int, again: bool = False) -> list[Foretold]:
    return [Foretold(times, 1.0, 1.7, again)] * count


def _sprayed(sd: float, believed: float, r: np.random.Generator) -> Foretold:
    """A card of tins that differ by `sd`, against what is foretold where they are believed to differ by `believed`."""
    own = OWN.strengthened(np.exp(sd * r.standard_normal(len(GRAMS))))
    lab = reflectance_to_lab(predicted_reflectance(own, GRAMS))
    return against_foretold(OWN, GRAMS, STEP, np.eye(len(GRAMS)) * believed**2, lab)


def test_a_card_is_held_against_what_was_foretold_of_its_batch() -> None:
    covariance = np.eye(len(GRAMS)) * 0.1**2
    lab = reflectance_to_lab(predicted_reflectance(OWN, GRAMS))
    same = against_foretold(OWN, GRAMS, STEP, covariance, lab)
    assert same.de00 == pytest.approx(0, abs=1e-9)
    assert same.within == within_95(OWN, GRAMS, STEP, covariance)
    drawn = drawn_around(OWN, GRAMS, STEP, covariance)
    assert same.expected == pytest.approx(float(np.sqrt((drawn**2).mean())))
    assert against_foretold(OWN, GRAMS, STEP, covariance, lab + np.array([1.0, 0, 0])).de00 > 0.7
    # what is known of a tin leaves the reading's own noise, which repeats bring down
    known = np.eye(len(GRAMS)) * 1e-8
    once, four = (against_foretold(OWN, GRAMS, 1e-4, known, lab, repeats) for repeats in (1, 4))
    assert four.expected < 0.999 * once.expected


def test_cards_that_come_as_far_off_as_they_should_change_nothing_in_the_long_run() -> None:
    drawn = drawn_around(OWN, GRAMS, STEP, np.eye(len(GRAMS)) * 0.1**2)
    expected, r = float(np.sqrt((drawn**2).mean())), np.random.default_rng(5)
    found = [borne_out([Foretold(float(off), expected, 1) for off in r.choice(drawn, LAST)]).times for _ in range(40)]
    assert np.mean(found) == pytest.approx(0.97, abs=0.05)  # the furthest are cut
    assert borne_out([]) == BorneOut()


def test_a_shop_whose_cards_come_nearer_is_told_less_and_one_whose_come_further_off_more() -> None:
    near, far = borne_out(_cards(0.5, LAST)), borne_out(_cards(1.8, LAST))
    assert (near.cards, far.cards) == (LAST, LAST)
    assert 0.5 < near.times < 0.62
    assert 1.7 < far.times < 1.8
    # a few cards say a little: as much as they are against those that are believed
    assert borne_out(_cards(0.5, WORTH)).times == pytest.approx(np.sqrt((1 + 0.25) / 2))


def test_one_card_that_is_far_off_doesnt_make_all_others_doubtful() -> None:
    slip = borne_out([*_cards(1.0, 5), *_cards(50.0, 1)])
    assert slip == borne_out([*_cards(1.0, 5), *_cards(2.0, 1)])
    assert slip.times < 1.2


def test_the_last_cards_count_and_those_of_the_same_kind() -> None:
    assert borne_out([*_cards(1.9, 40), *_cards(0.5, LAST)]) == borne_out(_cards(0.5, LAST))
    both = [*_cards(1.5, 6), *_cards(0.3, 6, again=True)]
    assert borne_out(both) == borne_out(_cards(1.5, 6))
    assert borne_out(both, again=True) == replace(borne_out(_cards(0.3, 6)), again=True)
    by_card = [replace(card, by_card=True) for card in _cards(0.8, 4, again=True)]
    assert borne_out([*both, *by_card], again=True) == borne_out(both, again=True)
    found = borne_out([*both, *by_card], again=True, by_card=True)
    times = (WORTH_BY_CARD + 4 * 0.8**2) / (WORTH_BY_CARD + 4)
    assert found == BorneOut(4, pytest.approx(np.sqrt(times)), again=True, by_card=True)
    assert borne_out(_cards(0.8, 4)).times < found.times < 1  # they tell less: most are near, few far off


@pytest.mark.parametrize(("sd", "nearer"), [(0.08, True), (0.1, True), (0.15, False), (0.2, False), (0.25, True)])
def test_what_is_to_hold_95_times_in_100_comes_nearer_to_it_however_far_the_tins_of_a_shop_differ(
    sd: float, nearer: bool
) -> None:
    """They are believed to differ by 0.15, and the record has eight to twenty cards."""
    r = np.random.default_rng(11)
    alone, held = [], []
    for _ in range(25):
        record = [_sprayed(sd, 0.15, r) for _ in range(8)]
        for _ in range(12):
            card = _sprayed(sd, 0.15, r)
            alone.append(card.de00 <= card.within)
            held.append(card.de00 <= card.within * borne_out(record).times)
            record.append(card)
    assert 0.87 <= np.mean(held) <= 0.99
    if nearer:
        assert abs(np.mean(held) - 0.95) < abs(np.mean(alone) - 0.95) - 0.01


@pytest.mark.parametrize(
    ("card", "said"),
    [
        (BorneOut(), ""),
        (BorneOut(3, 0.97), ""),
        (BorneOut(1, 0.8), "the first card of a batch came nearer than foretold: by the bank alone 0 to 1.0"),
        (BorneOut(7, 1.6), "the first cards of 7 batches came further off than foretold: by the bank alone 0 to 0.5"),
        (BorneOut(1, 0.5, again=True), "a later card of a tin came nearer than foretold: by the bank alone 0 to 1.6"),
        (
            BorneOut(4, 0.5, again=True, by_card=True),
            "4 later cards of a tin came nearer than foretold: by its last card alone 0 to 1.6",
        ),
        (BorneOut(4, 0.5, again=True), "4 later cards of a tin came nearer than foretold: by the bank alone 0 to 1.6"),
    ],
)
def test_what_the_record_changes_is_said(card: BorneOut, said: str) -> None:
    assert card.words(0.8) == said


def test_what_a_record_keeps_of_a_card_is_the_card_again() -> None:
    one = Foretold(0.4, 0.3, 0.9, again=True)
    kept = {"de00": 0.4, "within": 0.9, "expected": 0.3, "again": True}
    assert one.as_dict() == {**kept, "by_card": False, "beside": False}
    assert Foretold.kept(one.as_dict()) == Foretold.kept(kept) == one  # of an older form: by the bank
    by_card = replace(one, by_card=True)
    assert Foretold.kept(by_card.as_dict()) == by_card


def test_a_card_beside_its_piece_is_held_against_how_far_the_two_were_to_differ() -> None:
    drawn = np.linalg.norm(2.0 * np.random.default_rng(3).standard_normal((4000, 3)), axis=1)
    seen = seen_against_foretold(drawn, 0.7, 0.0)
    assert seen.beside
    assert (seen.again, seen.by_card) == (False, False)
    assert seen.expected == pytest.approx(2 * np.sqrt(3), rel=0.03)
    assert seen.within == pytest.approx(U95_OF_RMS * seen.expected, rel=0.03)
    blurred = seen_against_foretold(drawn, 0.7, 5.0)  # what the photographs are off by was to be expected too
    assert blurred.expected == pytest.approx(float(np.hypot(seen.expected, 5.0)))
    assert blurred.within > seen.within
    assert Foretold.kept(seen.as_dict()) == seen


def test_the_ranges_of_first_cards_go_by_those_seen_beside_their_piece() -> None:
    beside = [Foretold(0.3, 1.0, 1.7, beside=True), Foretold(0.4, 1.0, 1.7, beside=True)]
    others = [Foretold(1.9, 1.0, 1.7), Foretold(1.9, 1.0, 1.7, again=True), Foretold(1.9, 1.0, 1.7, True, True)]
    found = seen_borne_out([*others, *beside, *others])
    assert found.cards == 2
    assert found.times == pytest.approx(((WORTH + 0.3**2 + 0.4**2) / (WORTH + 2)) ** 0.5)
    assert "the first cards of 2 batches came nearer than foretold" in found.words_of_ranges
    assert seen_borne_out(others).words_of_ranges == ""
    assert borne_out(beside) == BorneOut()  # they say nothing of a batch's own colour


@pytest.mark.parametrize("truly", [0.3, 1.0, 1.6])
def test_a_shops_own_cards_bring_its_ranges_to_hold_as_often_as_is_said(truly: float) -> None:
    """Shops whose cards come nearer or further off than any bank says, forty first cards each."""
    r, held = np.random.default_rng(int(10 * truly)), []
    drawn = np.linalg.norm(r.standard_normal((4000, 3)), axis=1)
    for _ in range(40):
        cards: list[Foretold] = []
        for number in range(40):
            off = truly * float(np.linalg.norm(r.standard_normal(3)))
            times = seen_borne_out(cards).times
            if number >= 20:
                held.append(off <= times * np.percentile(drawn, 95))
            cards.append(seen_against_foretold(drawn, off, 0.0))
    # cards count for twice as far off as was foretold at most, so a shop that is worse than that stays told too little
    assert (0.88 if truly > 1 else 0.91) <= np.mean(held) <= (1.0 if truly < 1 else 0.98)
