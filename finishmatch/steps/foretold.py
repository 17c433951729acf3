"""What the bank foretold of a batch, held against its card when that is recorded."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from finishmatch.correct.blunders import SprayedCard
from finishmatch.mix.expected_difference import U95_LIGHTS, U95_OBSERVER
from finishmatch.mix.foretold import Foretold, against_foretold, borne_out
from finishmatch.optics.strength import StrengthPrior
from finishmatch.readings import Reading
from finishmatch.steps.bank import FittedBank, coloured_grams
from finishmatch.steps.matching import Parts


def tells_colour(card: Reading) -> bool:
    """Tell whether a card's own colour was read, as it is foretold (D65, 10°)."""
    as_told = card.is_spectral or (card.light, card.observer) == (U95_LIGHTS[0], U95_OBSERVER)
    return as_told and not card.seen


def card_foretold(
    fitted: FittedBank,
    card: SprayedCard,
    prior: StrengthPrior | None,
    parts: Parts,
    cards: Sequence[Foretold],
    again: bool,
) -> Foretold | None:
    """Return how far a card came from what the bank foretold, within the bounds of then; None where it wasn't read.

    Parameters
    ----------
    fitted : FittedBank
        With the cards of the record, without this one.
    card : SprayedCard
        Its reading, and the optics of its film by that bank.
    prior : StrengthPrior or None
        What was known of its tins.
    parts : tuple of (tint, grams)
        What was in the tin.
    cards : sequence of Foretold
        Those of the record, oldest first.
    again : bool
        Whether a card of the tin was sprayed before.

    Raises
    ------
    InputError
        A tint that the bank doesn't know well enough, a batch without colour.
    """
    reading = card.reading
    if not tells_colour(reading):
        return None
    grams = coloured_grams(parts, fitted)
    own, covariance = card.optics.chosen(list(grams)), None
    if prior is not None:
        own, covariance = prior.strengthened(own), prior.chosen(own.names).log_covariance
    lab = reading.lab_in(U95_LIGHTS[0], U95_OBSERVER)
    found = against_foretold(
        own, np.array(list(grams.values())), card.scale.step_g, covariance, lab, len(reading.repeats), again
    )
    return replace(found, within=found.within * borne_out(cards, again).times)
