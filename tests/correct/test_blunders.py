"""Slips are named and honest cards pass: tins, cards and slips of the virtual booth, whose truth is known."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

import numpy as np
import pytest

from booth.bank_writer import Noise, mixture_fractions
from booth.banks import booth_bank, tint_specs
from booth.virtual_booth import film_reflectance
from finishmatch.colour import de00, reflectance_to_lab
from finishmatch.correct.blunders import Blunder, SprayedCard, find_blunder
from finishmatch.mix.weighing import Scale
from finishmatch.optics import Bank, TintOptics, fit_bank, predicted_reflectance
from finishmatch.readings import Reading

Parts = tuple[tuple[str, float], ...]
SPECS = tint_specs(3, 8)
NAMES = [spec.name for spec in SPECS]


@cache
def bank() -> tuple[Bank, TintOptics]:
    """A bank of eight tints, fitted on panels as they are weighed and read."""
    drawn = booth_bank(SPECS, Noise(0.0005, 0.03))
    fit = fit_bank(drawn)
    return drawn, fit.optics.chosen([name for name in fit.optics.names if name in fit.usable])


@dataclass(frozen=True)
class Sprayed:
    """A batch as it was poured, and its card."""

    parts: Parts
    card: SprayedCard


def sprayed(seed: int, count: int, log_strengths: str) -> list[Sprayed]:
    """Random batches of white and one to three tints, sprayed of tins whose strengths are off."""
    r = np.random.default_rng(seed)
    batches, shares = [], []
    for _ in range(count):
        tints = [0, *r.choice(np.arange(1, len(NAMES)), int(r.integers(1, 4)), replace=False)]
        grams = [r.uniform(60, 400), *r.uniform(3, 60, len(tints) - 1)]
        parts = tuple((NAMES[i], round(float(g), 1)) for i, g in zip(tints, grams, strict=True))
        log = r.normal(0, 0.05, len(NAMES)) if log_strengths == "calm" else r.uniform(-1, 1, len(NAMES)) * np.log(2)
        batches.append(parts)
        strong = {name: g * float(np.exp(log[NAMES.index(name)])) for name, g in parts}
        shares.append(mixture_fractions(SPECS, strong))
    read = film_reflectance(np.array(shares), [spec.pigment for spec in SPECS])
    read = read + r.normal(0, 0.0005, read.shape)
    return [Sprayed(parts, card_of(spectrum)) for parts, spectrum in zip(batches, read, strict=True)]


def card_of(spectrum: np.ndarray) -> SprayedCard:
    """A card of tins nothing is known of."""
    made, optics = bank()
    return SprayedCard(Reading("card", spectrum[None]), optics, made.tints, Scale())


def off(card: SprayedCard, parts: Parts) -> float:
    """How far the card is from what the batch is predicted to be, ΔE00."""
    grams = np.array([dict(parts).get(name, 0.0) for name in card.optics.names])
    predicted = reflectance_to_lab(predicted_reflectance(card.optics, grams))
    return float(de00(predicted, card.reading.lab_in("D65", 10)))


def named(blunder: Blunder | None, kind: str, words: str) -> bool:
    """Whether a slip was named rightly."""
    return blunder is not None and blunder.kind == kind and words in f"{blunder.what} {blunder.mend}"


@pytest.mark.slow
@pytest.mark.parametrize("tins", ["calm", "odd"])
def test_of_two_hundred_honest_cards_none_is_refused(tins: str) -> None:
    """Half of them are of tins of usual strength, half of tins off by anything up to a factor of two, each its own."""
    for one in sprayed(7, 100, tins):
        assert find_blunder(one.card, one.parts) is None, one.parts


@pytest.mark.slow
def test_totals_entered_as_weights_are_named_with_the_weights() -> None:
    right = []
    for one in sprayed(11, 40, "calm"):
        totals = np.cumsum([grams for _, grams in one.parts])
        written = tuple((tint, round(float(g), 1)) for (tint, _), g in zip(one.parts, totals, strict=True))
        right.append(named(find_blunder(one.card, written), "totals", f"{one.parts[-1][0]} {one.parts[-1][1]:g}"))
    assert np.mean(right) >= 0.9


@pytest.mark.slow
def test_a_tenfold_weight_is_named() -> None:
    r, right = np.random.default_rng(1), []
    for one in sprayed(12, 40, "calm"):
        i = int(r.integers(len(one.parts)))
        tint, grams = one.parts[i]
        wrong = (tint, round(grams * float(r.choice([0.1, 10])), 3))
        found = find_blunder(one.card, (*one.parts[:i], wrong, *one.parts[i + 1 :]))
        right.append(named(found, "tenfold", f"{grams:g} g of {tint} were poured"))
    assert np.mean(right) >= 0.9


@pytest.mark.slow
def test_a_part_under_the_wrong_tint_is_named() -> None:
    r, right = np.random.default_rng(2), []
    for one in sprayed(13, 50, "calm"):
        i = int(r.integers(1, len(one.parts)))
        tint, grams = one.parts[i]
        wrong = str(r.choice([name for name in NAMES[1:] if name not in dict(one.parts)]))
        written = (*one.parts[:i], (wrong, grams), *one.parts[i + 1 :])
        if off(one.card, written) < 3:
            continue  # a tint like another isn't seen to be another, and does no harm
        found = find_blunder(one.card, written)
        right.append(named(found, "exchanged", f"its {wrong}, {grams:g} g, was {tint}"))
    assert len(right) > 35
    assert np.mean(right) >= 0.9


@pytest.mark.slow
def test_the_card_of_another_batch_is_refused_and_that_batch_is_named() -> None:
    cards = sprayed(14, 40, "calm")
    right = []
    for one, other in zip(cards[::2], cards[1::2], strict=True):
        if {tint for tint, _ in one.parts} >= {tint for tint, _ in other.parts}:
            continue  # of the same tints: it may be odd, but it can be
        found = find_blunder(other.card, one.parts, [("batch #7", other.parts)])
        right.append(named(found, "other batch", "fits batch #7"))
    assert np.mean(right) >= 0.9


def test_a_card_nothing_explains_is_refused_with_what_is_left() -> None:
    impossible = card_of(np.linspace(0.02, 0.9, 31)[::-1])
    grey = ((NAMES[0], 100.0), (NAMES[1], 50.0))
    found = find_blunder(impossible, grey)
    assert found is not None
    assert found.what.startswith(("can't be of this batch, whatever the strength", "isn't of the batch as written"))


def test_without_a_coloured_tint_there_is_nothing_to_judge() -> None:
    assert find_blunder(card_of(np.full(31, 0.5)), (("unheard of", 3.0),)) is None
