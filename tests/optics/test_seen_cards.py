"""A card that was only seen beside its standard is a panel of its bank too."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import pytest

from booth.workshop import ROUGH, Workshop
from finishmatch.colour import Floats, de00, reflectance_to_lab
from finishmatch.correct.card_as_panel import seen_card_panel
from finishmatch.mix.weighing import Scale
from finishmatch.optics import BankFit, BankToday, CardPanel, bank_today, fit_bank, predicted_reflectance
from finishmatch.readings import Reading
from finishmatch.readings.reading import SeenDifference, TargetFacts
from finishmatch.readings.seen import seen_beside
from finishmatch.readings.today_file import today_key

SHOP = replace(ROUGH, doses_percent=(1.0,), bias=0.0, card=0.0)
TELLS_U95 = 0.3
LETDOWN = np.array([0.97, 0.03, 0, 0]) * 500


@dataclass(frozen=True)
class Seen:
    """A shop with a bank whose second tint comes half as strong again from the tin that is open."""

    shop: Workshop
    fit: BankFit

    @property
    def strengths(self) -> Floats:
        """Of the open tins."""
        return np.where(np.arange(4) == 1, 1.5, 1.0)

    @property
    def today(self) -> dict[str, str]:
        """The tin of each tint."""
        return {name: f"{name}#1" for name in self.fit.optics.names}

    def card(self, share: float, job: str, off: Floats, u95: float = 0.0, batch_of: str = "") -> CardPanel:
        """Return a card of the second tint, seen beside a standard whose colour is taken to be another by `off`.

        The standard is one for all. Cards of a job are of one batch, unless another is named.
        """
        grams, usual = (np.array([1 - part, part, 0.0, 0.0]) * 500 for part in (share, 0.03))
        truth, near = (reflectance_to_lab(self.shop.spray(of, self.strengths)) for of in (grams, usual))
        standard = near - np.array([0.5, 0.2, -0.3])  # what the card differs from
        piece = Reading("piece", (standard + off)[None], target=TargetFacts(u95=u95))
        trial = seen_beside(piece, [SeenDifference(truth - standard, TELLS_U95)], "card", ("D65", 10))
        batch = tuple((name, float(g)) for name, g in zip(self.fit.optics.names, grams, strict=True) if g > 0)
        found = seen_card_panel(self.fit.optics, self.shop.tints, batch, trial, Scale(), job)
        assert found is not None
        return replace(found, tins=tuple(self.today[name] for name in found.names), mixture=batch_of or job)

    def colour(self, found: BankToday) -> Floats:
        """Return the CIELAB that a letdown of the second tint of today's tins is believed to have."""
        strengths = found.tins.chosen([self.today[name] for name in self.fit.optics.names]).factors
        return reflectance_to_lab(predicted_reflectance(found.fit.optics.strengthened(strengths), LETDOWN))

    def off(self, found: BankToday) -> float:
        """Return how far that is from what it has, ΔE00."""
        return float(de00(reflectance_to_lab(self.shop.spray(LETDOWN, self.strengths)), self.colour(found)))


@pytest.fixture(scope="module")
def seen() -> Seen:
    shop = Workshop(SHOP, 33, count=4)
    return Seen(shop, fit_bank(shop.bank()))


NONE = np.zeros(3)


def test_a_seen_card_shows_how_strong_its_tin_is(seen: Seen) -> None:
    cards = [seen.card(0.02, "J1", NONE), seen.card(0.05, "J2", NONE)]
    found = bank_today(seen.fit, cards, seen.today)
    assert found.cards == 2
    assert found.doubted == found.left_aside == ()
    assert seen.off(found) < 0.35 * seen.off(bank_today(seen.fit, (), seen.today))
    again = bank_today(seen.fit, cards[::-1], seen.today)
    np.testing.assert_allclose(again.fit.optics.K, found.fit.optics.K)


def test_what_is_not_known_of_the_standard_is_the_same_in_all_its_cards(seen: Seen) -> None:
    """Ten cards beside one standard say little more of the colour than one; beside ten standards they say more."""

    def doubt(jobs: list[str]) -> float:
        found = bank_today(
            seen.fit, [seen.card(0.03 + 0.001 * i, job, NONE, 3.0) for i, job in enumerate(jobs)], seen.today
        )
        at = found.tins.names.index(seen.today[seen.fit.optics.names[1]])
        return float(np.sqrt(found.tins.log_covariance[at, at]))

    one, alike, apart = doubt(["J1"]), doubt(6 * ["J1"]), doubt([f"J{i}" for i in range(6)])
    assert alike == pytest.approx(one, rel=0.12)
    assert apart < 0.75 * one


def test_cards_of_several_batches_beside_one_standard_share_what_is_not_known_of_it(seen: Seen) -> None:
    """Here nothing else makes them count as one."""

    def spread(jobs: list[str]) -> float:
        cards = [seen.card(0.03 + 0.001 * i, job, NONE, 6.0, f"batch {i}") for i, job in enumerate(jobs)]
        found = bank_today(seen.fit, cards, seen.today).tins
        white, tint = (found.names.index(seen.today[name]) for name in seen.fit.optics.names[:2])
        apart = np.eye(len(found.names))[tint] - np.eye(len(found.names))[white]
        return float(np.sqrt(apart @ found.log_covariance @ apart))

    alike, apart = spread(6 * ["J1"]), spread([f"J{i}" for i in range(6)])
    assert alike > 1.3 * apart


def test_a_standard_known_badly_moves_no_tin_far(seen: Seen) -> None:
    wrong = np.array([3.0, -2.0, 2.0])
    sure, unsure = (bank_today(seen.fit, [seen.card(0.03, "J1", wrong, u95)], seen.today) for u95 in (0.0, 6.0))
    right = seen.colour(bank_today(seen.fit, [seen.card(0.03, "J1", NONE)], seen.today))
    assert not sure.doubted
    assert de00(right, seen.colour(unsure)) < 0.75 * de00(right, seen.colour(sure))


def test_a_seen_card_that_fits_nothing_is_doubted(seen: Seen) -> None:
    good = [seen.card(share, f"J{i}", NONE) for i, share in enumerate((0.01, 0.02, 0.03, 0.05))]
    of_another = seen.card(0.04, "J9", np.array([4.0, 14.0, -12.0]))
    found = bank_today(seen.fit, [*good, of_another], seen.today)
    assert found.doubted == (4,)
    assert de00(seen.colour(found), seen.colour(bank_today(seen.fit, good, seen.today))) < 0.25


def test_what_is_kept_of_a_bank_goes_by_how_its_cards_were_seen(seen: Seen) -> None:
    card = seen.card(0.03, "J1", NONE)
    assert card.seen is not None
    other = replace(card, seen=replace(card.seen, covariance=2 * card.seen.covariance))
    key = today_key(seen.fit, [card], seen.today, 0.15)
    assert key != today_key(seen.fit, [other], seen.today, 0.15)


def test_a_difference_in_lamp_light_alone_is_no_colour_in_daylight(seen: Seen) -> None:
    piece = Reading("piece", np.array([[60.0, 1.0, 2.0]]))
    trial = seen_beside(piece, [SeenDifference(np.ones(3), 0.5, "A")], "card", ("D65", 10))
    batch = ((seen.fit.optics.names[0], 400.0), (seen.fit.optics.names[1], 10.0))
    assert seen_card_panel(seen.fit.optics, seen.shop.tints, batch, trial, Scale(), "J1") is None
