"""Several cards of one tin counted together: what is in it, and what theory and bank leave of it, in one posterior."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from finishmatch.colour import Floats
from finishmatch.colour.grid import SIZE
from finishmatch.mix.expected_difference import STIRRED_SD
from finishmatch.optics import TintOptics, strength_slope
from finishmatch.optics.panel_set import MODEL_FLOOR, MODEL_SHARE
from finishmatch.optics.strength import StrengthEvidence, StrengthPrior
from finishmatch.readings import Reading
from finishmatch.readings.reading_noise import reading_noise

_ROUNDS, _SETTLED, _MOST_STEP = 8, 1e-7, 0.3


@dataclass(frozen=True)
class TinCard:
    """A card of the tin, and what was in it then.

    Parameters
    ----------
    grams : ndarray, shape (n,)
        Of each tint of the tin as it is now.
    reading : Reading
        With a spectrum.
    """

    grams: Floats
    reading: Reading


@dataclass(frozen=True)
class TogetherFound:
    """What cards of one tin show together.

    Parameters
    ----------
    evidence : StrengthEvidence
        Of the amounts that come to bear in the tin, slips of pour and dispersal included.
    offset : ndarray, shape (31,)
        What theory and bank leave of the tin's reflectance.
    """

    evidence: StrengthEvidence
    offset: Floats


def cards_together(
    optics: TintOptics, cards: Sequence[TinCard], stirred: StrengthPrior, pour_sd_g: float, left_open: Floats
) -> TogetherFound:
    """Return what the cards of one tin show of it together, the last of them of the tin as it is.

    Parameters
    ----------
    optics : TintOptics
        Of the n tints in it, as the bank has them.
    cards : sequence of TinCard
    stirred : StrengthPrior
        Of what comes to bear of these tints, before the cards.
    pour_sd_g : float
        What a pour is off by: an earlier card doesn't know the slips of what was poured since.
    left_open : ndarray, shape (d, 31)
        What the bank leaves open of the reading, whose squares add up to its covariance.

    Notes
    -----
    The amounts, and what theory and bank leave, are the tin's and alike in all its cards; how it was stirred and how
    each card was read is that card's own. All are taken as normal, the film as linear about the answer: Gauss-Newton in
    the space of the readings.
    """
    before = stirred.chosen(optics.names)
    now = cards[-1].grams
    log = before.log_mean
    for _ in range(_ROUNDS):
        told = [_told(optics.strengthened(np.exp(log)), card, now, pour_sd_g) for card in cards]
        slopes = np.concatenate([one[1] for one in told])
        off = np.concatenate([one[0] for one in told]) + slopes @ (log - before.log_mean)
        lasting = _lasting(optics, cards[-1].reading, left_open)
        shared = np.tile(lasting, (len(cards), len(cards)))
        covariance = slopes @ before.log_covariance @ slopes.T + shared
        for i, one in enumerate(told):
            here = slice(i * SIZE, (i + 1) * SIZE)
            covariance[here, here] += one[2]
        weights = np.linalg.solve(covariance, off)
        moved = before.log_mean + before.log_covariance @ slopes.T @ weights
        step = moved - log
        log = log + np.clip(step, -_MOST_STEP, _MOST_STEP)
        if np.abs(step).max() < _SETTLED:
            break
    offset = np.tile(lasting, len(cards)) @ weights
    gain = np.linalg.solve(covariance, slopes @ before.log_covariance)
    after = np.linalg.inv(before.log_covariance - before.log_covariance @ slopes.T @ gain)
    weight = np.linalg.inv(before.log_covariance)
    precision = after - weight
    found = StrengthEvidence(optics.names, (precision + precision.T) / 2, after @ log - weight @ before.log_mean)
    return TogetherFound(found, offset)


def _told(optics: TintOptics, card: TinCard, now: Floats, pour_sd_g: float) -> tuple[Floats, Floats, Floats]:
    """Return what a card's reading is off by, (31,), its slopes, (31, n), and the covariance of what is its own."""
    assert card.reading.reflectance is not None
    reading, per_log = strength_slope(card.grams * optics.dry_ml_per_g, optics)
    noise = reading_noise(card.reading)
    slip = np.where(now > card.grams, pour_sd_g / np.maximum(now, 1e-9), 0.0)
    own = per_log.T * np.hypot(optics.spread_of_ratios(card.grams, STIRRED_SD), slip)
    covariance = noise.each**2 * np.eye(SIZE) + noise.together**2 + own @ own.T
    return card.reading.reflectance - reading, per_log.T, covariance


def _lasting(optics: TintOptics, reading: Reading, left_open: Floats) -> Floats:
    """Return the covariance of what theory and bank leave of a tin's reflectance, shape (31, 31)."""
    assert reading.reflectance is not None
    sd = (optics.model_sd or MODEL_SHARE) * reading.reflectance
    alike = max(optics.model_run - 1, 0.0) / (optics.model_run + 1)
    apart = np.abs(np.subtract.outer(np.arange(SIZE), np.arange(SIZE)))
    found: Floats = np.outer(sd, sd) * alike**apart + MODEL_FLOOR**2 * np.eye(SIZE) + left_open.T @ left_open
    return found
