"""Two cards of one tin: each stirred and read by itself, what is in the tin alike in both."""

from __future__ import annotations

import numpy as np
import pytest

from finishmatch.correct.cards_together import TinCard, cards_together
from finishmatch.correct.updated_tin import EarlierCard, TinRecord, updated_tin
from finishmatch.mix.weighing import Scale
from finishmatch.optics import predicted_reflectance
from finishmatch.optics.strength import StrengthPrior
from finishmatch.readings import Reading
from tests.helpers.plain_paints import GOAL, NAMES, PAINTS, POURED, TINTS, batch_of, card_of, grams

NONE = np.zeros((0, 31))
THREE = PAINTS.chosen(NAMES[:3])
PRIOR = StrengthPrior.default(NAMES[:3], 0.15)


def read(poured: np.ndarray, strengths: np.ndarray, stirred: np.ndarray | float = 0.0) -> Reading:
    optics = PAINTS.strengthened(strengths * np.exp(stirred))
    return Reading("card", predicted_reflectance(optics, poured)[None])


def log_ratio(found: np.ndarray) -> float:
    """Of blue against white: of all strengths together a film that hides says nothing."""
    return float(found[1] - found[0])


def test_the_mean_of_two_cards_is_nearer_the_tin_than_either() -> None:
    """Blue stirred 1 % too strong on one, too weak on the other: together they tell the tin; weights are the same."""
    strengths = np.array([1.0, 1.2, 0.9, 1.0])
    cards = [TinCard(POURED[:3], read(POURED, strengths, np.array([0, way * 0.01, 0, 0]))) for way in (1, -1)]

    def found(*some: TinCard) -> float:
        evidence = cards_together(THREE, some, PRIOR, 0.1, NONE).evidence
        return log_ratio(PRIOR.given(evidence).log_mean)

    true = float(np.log(1.2))
    assert abs(found(*cards) - true) < 0.002
    assert found(cards[0]) > true + 0.005
    assert found(cards[1]) < true - 0.005


def test_what_was_poured_since_is_counted_and_its_slip_is_not_known_to_the_earlier_card() -> None:
    strengths = np.array([1.0, 1.2, 0.9, 1.0])
    before = POURED - grams(blue=0.4)
    slipped = POURED + grams(blue=0.3)  # what truly went in
    now = TinCard(POURED[:3], read(slipped, strengths))
    earlier = TinCard(before[:3], read(before, strengths))
    alone = PRIOR.given(cards_together(THREE, [now], PRIOR, 0.1, NONE).evidence)
    both = PRIOR.given(cards_together(THREE, [earlier, now], PRIOR, 0.1, NONE).evidence)
    effective = float(np.log(1.2 * slipped[1] / POURED[1]))
    assert log_ratio(alone.log_mean) == pytest.approx(effective, abs=0.003)
    # between the card of the tin as it is and the earlier one, which counts on no slip
    assert np.log(1.2) < log_ratio(both.log_mean) < log_ratio(alone.log_mean)
    sure = PRIOR.given(cards_together(THREE, [earlier, now], PRIOR, 5.0, NONE).evidence)
    assert abs(log_ratio(sure.log_mean) - log_ratio(alone.log_mean)) < abs(
        log_ratio(both.log_mean) - log_ratio(alone.log_mean)
    )


def test_what_both_cards_part_from_the_model_by_alike_stays_with_the_tin() -> None:
    band = 0.01 * np.exp(-(((np.arange(31) - 15) / 3) ** 2))
    card = Reading("card", card_of(POURED).repeats + band)
    both = cards_together(THREE, [TinCard(POURED[:3], card)] * 2, PRIOR, 0.1, NONE)
    tin = PAINTS.chosen(NAMES[:3]).strengthened(PRIOR.given(both.evidence).factors)
    model = predicted_reflectance(tin, POURED[:3]) + both.offset
    assert np.abs(model - card.reflectance).max() < 0.35 * band.max()


def test_the_tin_uses_its_earlier_cards_that_have_a_spectrum_and_no_others() -> None:
    strengths = np.array([1.0, 1.1, 1.0, 1.0])
    now, before = (
        read(POURED, strengths, np.array([0, 0.01, 0, 0])),
        read(POURED, strengths, np.array([0, -0.01, 0, 0])),
    )

    def blue(*earlier: EarlierCard) -> float:
        record = TinRecord(None, earlier)
        return float(
            updated_tin(GOAL, PAINTS, TINTS, batch_of(POURED), now, Scale(), record).tin.reflectance(grams())[20]
        )

    alone = blue()
    assert blue(EarlierCard(batch_of(POURED), before)) > alone + 1e-5
    typed = Reading("typed", before.lab_in("D65", 10)[None])
    more = batch_of(POURED + grams(blue=5.0))  # can't be the same tin before something was added
    assert blue(EarlierCard(batch_of(POURED), typed)) == alone
    assert blue(EarlierCard(more, before)) == alone
