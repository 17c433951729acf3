"""What was foretold of a batch against the card that came of it, and how far the next may be off by that record."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from finishmatch.colour import Floats, de00, reflectance_to_lab
from finishmatch.mix.expected_difference import U95_LIGHTS, U95_OBSERVER, drawn_around
from finishmatch.optics import TintOptics, predicted_reflectance

# chosen, without a source: the first on shops of the booth, three against five and ten (docs/accuracy.md)
WORTH = 3  # cards: what a shop's own show counts for more than what is believed of any shop the more of them there are
# the same of what a card foretold of the next: most come near, and the few that are far off are rare
WORTH_BY_CARD = 15
LAST = 30  # cards that count: a shop's hand, gun and instrument change
_AS_SAID = 0.05  # of 1, up to which nothing is said of it
# of a vector off alike in all three directions: what 95 in 100 are within, as so many times its root mean square
U95_OF_RMS = 1.614
_MOST = 2.0  # times as far off as was to be expected that one card counts for: beyond it is a slip or an odd tin


@dataclass(frozen=True)
class Foretold:
    """A card against what was foretold of its batch before it was sprayed; differences are ΔE00 (D65, 10°).

    Parameters
    ----------
    de00 : float
        How far it came from that.
    expected : float
        How far it was to be expected to come, root mean square, by all that was unsure then.
    within : float
        Within what it was to lie 95 times in 100.
    again : bool
        Whether a card of its tin had been sprayed before.
    by_card : bool
        Whether it was foretold by that card, not by the bank.
    beside : bool
        Whether the card was seen beside the piece alone: what was foretold is how far the two differ.
    """

    de00: float
    expected: float
    within: float
    again: bool = False
    by_card: bool = False
    beside: bool = False

    @classmethod
    def kept(cls, one: Mapping[str, Any]) -> Foretold:
        """Return it from what a record keeps of it."""
        de00, expected, within = (float(one[name]) for name in ("de00", "expected", "within"))
        return cls(de00, expected, within, bool(one["again"]), bool(one.get("by_card")), bool(one.get("beside")))

    def as_dict(self) -> dict[str, Any]:
        """Return it as a record keeps it, and as its JSON form."""
        off = {"de00": self.de00, "within": self.within, "expected": self.expected}
        return {**off, "again": self.again, "by_card": self.by_card, "beside": self.beside}

    @property
    def times(self) -> float:
        """How many times as far off it came as was to be expected."""
        return self.de00 / self.expected


def against_foretold(
    optics: TintOptics,
    grams: Floats,
    step_g: float,
    log_covariance: Floats | None,
    lab: Floats,
    repeats: int = 1,
    again: bool = False,
) -> Foretold:
    """Return a card against what is foretold of its batch.

    Parameters
    ----------
    optics : TintOptics
        Of the k tints, as they are known without the card.
    grams : ndarray, shape (k,)
    step_g : float
        Of the scale.
    log_covariance : ndarray, shape (k, k), or None
        Of the logarithms of the strengths; None is a tin nothing was sprayed of.
    lab : ndarray, shape (3,)
        As the card was read (D65, 10°), the mean of some repeats.
    repeats : int
    again : bool
    """
    light, observer = U95_LIGHTS[0], U95_OBSERVER
    off = float(de00(reflectance_to_lab(predicted_reflectance(optics, grams), light, observer), lab))
    drawn = drawn_around(optics, grams, step_g, log_covariance, repeats)
    return Foretold(off, float(np.sqrt(np.mean(drawn**2))), float(np.percentile(drawn, 95)), again)


def seen_against_foretold(drawn: Floats, de00: float, seen_rms: float) -> Foretold:
    """Return a first card that was seen beside its piece against how far the two were to differ.

    Parameters
    ----------
    drawn : ndarray, shape (draws,)
        ΔE00 that it was to differ by.
    de00 : float
        As the photographs show it.
    seen_rms : float
        What they are off by, ΔE00, root mean square.
    """
    expected = float(np.sqrt(np.mean(drawn**2) + seen_rms**2))
    within = float(np.sqrt(np.percentile(drawn, 95) ** 2 + (U95_OF_RMS * seen_rms) ** 2))
    return Foretold(de00, expected, within, beside=True)


@dataclass(frozen=True)
class BorneOut:
    """How a shop's cards bear out what is foretold: how many they are, and how many times as far off they came."""

    cards: int = 0
    times: float = 1.0
    again: bool = False
    by_card: bool = False

    def words(self, u95: float) -> str:
        """Return what the record says of a `u95` that it bears out; "" where it says nothing that changes it."""
        alone = "its last card" if self.by_card else "the bank"
        return f"{self._came}: by {alone} alone 0 to {u95 / self.times:.1f}" if self.changes else ""

    @property
    def changes(self) -> bool:
        """Whether the record changes what is said."""
        return abs(self.times - 1) >= _AS_SAID

    @property
    def words_of_ranges(self) -> str:
        """What the record says of the ranges of first cards; "" where it says nothing that changes them."""
        return f"{self._came}: the ranges below are {self.times:.2g} times as wide for it" if self.changes else ""

    @property
    def _came(self) -> str:
        if self.again:
            of = "a later card of a tin" if self.cards == 1 else f"{self.cards} later cards of a tin"
        else:
            of = "the first card of a batch" if self.cards == 1 else f"the first cards of {self.cards} batches"
        return f"{of} came {'nearer' if self.times < 1 else 'further off'} than foretold"


def borne_out(cards: Sequence[Foretold], again: bool = False, by_card: bool = False) -> BorneOut:
    """Return how many times as far off as it says the next prediction is, by the cards of a shop.

    Parameters
    ----------
    cards : sequence of Foretold
        Oldest first.
    again : bool
        Whether a card of the tin was sprayed before: then those count that were of such tins, else those that weren't.
    by_card : bool
        Whether the prediction goes by that card: then those count that were foretold so, else those that weren't.

    Notes
    -----
    The mean square of `Foretold.times`, drawn to 1 as if by `WORTH` cards, or `WORTH_BY_CARD`, that came as far off as
    was to be expected (the conjugate mean of a variance). What is believed of any shop (places of a panel that differ,
    stirring, how far tins differ) is too much for one and too little for another.
    """
    own = [card for card in cards if (card.again, card.by_card, card.beside) == (again, by_card, False)]
    return _counted(own, WORTH_BY_CARD if by_card else WORTH, again, by_card)


def seen_borne_out(cards: Sequence[Foretold]) -> BorneOut:
    """Return how many times as far off its piece as is said the next first card comes, by those a shop saw beside one.

    Parameters
    ----------
    cards : sequence of Foretold
        Oldest first; those count that were seen beside their piece.

    Notes
    -----
    As `borne_out`. A bank of photographs says more is open than is where its pigments are of the plain kind, and what
    real ones call for isn't known beforehand: the shop's own cards tell.
    """
    return _counted([card for card in cards if card.beside], WORTH)


def _counted(cards: Sequence[Foretold], worth: int, again: bool = False, by_card: bool = False) -> BorneOut:
    own = [min(card.times, _MOST) ** 2 for card in cards][-LAST:]
    return BorneOut(len(own), float(np.sqrt((worth + sum(own)) / (worth + len(own)))), again, by_card)
