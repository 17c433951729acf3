"""What the bank foretold of a batch, held against its card when that is recorded."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from finishmatch.correct.blunders import SprayedCard
from finishmatch.mix.expected_difference import U95_LIGHTS, U95_OBSERVER, drawn_differences, itself_drawn
from finishmatch.mix.foretold import (
    U95_OF_RMS,
    Foretold,
    against_foretold,
    borne_out,
    seen_against_foretold,
    seen_borne_out,
)
from finishmatch.optics.strength import StrengthPrior
from finishmatch.readings import Reading
from finishmatch.readings.seen import seen_de00
from finishmatch.steps.bank import FittedBank, coloured_grams
from finishmatch.steps.matching import Match, Parts


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


def card_foretold_beside(matched: Match, card: SprayedCard, parts: Parts) -> Foretold | None:
    """Return how far a card that was seen beside its piece differs from it, against how far it was to be expected to.

    Parameters
    ----------
    matched : Match
        The piece, what was known of the tins, and the card as it was seen.
    card : SprayedCard
        With the optics of its film.
    parts : tuple of (tint, grams)
        What was in the tin.

    Raises
    ------
    InputError
        A tint that the bank doesn't know well enough, a batch without colour.
    """
    goal, trial, tins = matched.target, matched.sprayed_alike, matched.tins
    seen = [one for one in (() if trial is None else trial.seen) if one.light in ("", goal.lights[0])]
    if trial is None or not seen or not seen[0].u95:
        return None
    grams = coloured_grams(parts, matched.fitted)
    own, covariance, weights = card.optics.chosen(list(grams)), None, np.array(list(grams.values()))
    if tins.prior is not None:
        own, covariance = tins.prior.strengthened(own), tins.prior.chosen(own.names).log_covariance
    itself = itself_drawn(goal) or goal
    drawn = drawn_differences(itself, own, weights, card.scale.pour_sd_g(weights), covariance)[:, 0]
    off = seen_de00(trial)[goal.lights[0]]
    found = seen_against_foretold(drawn, off, seen[0].u95 / U95_OF_RMS)
    return replace(found, within=found.within * seen_borne_out(tins.foretold).times)
