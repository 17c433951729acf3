"""Whether card and standard were exchanged: the odds of it by the target, what was poured, and how both were seen."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from finishmatch.colour import Floats, reflectance_to_lab, reflectance_to_lab_slope
from finishmatch.correct.blunders import Parts, SprayedCard
from finishmatch.correct.card_strengths import coloured_parts
from finishmatch.correct.seen_tin import lasting_doubt
from finishmatch.optics import strength_slope
from finishmatch.optics.strength import StrengthPrior
from finishmatch.readings.reading import SeenDifference
from finishmatch.readings.seen import covariance_within

# the square of how far off three values are, in standard deviations, in one of a hundred: chi² of 3
_MAY_BE = 11.34
# degrees of freedom of what a camera and of what the model is off by: the latter, a slip of the pour or an odd tin in
# it, is far off the more often («chosen»)
_CAMERA, _MODEL = 8.0, 4.0
# logarithms of how many times likelier: 55 times, about as often as two are named as they lie for once that they are
# exchanged («chosen»; of 640 cards of the booth that were named rightly none is beyond it), and 7 times
_SURELY, _LIKELY = 4.0, 2.0


@dataclass(frozen=True)
class PairSeen:
    """Standard and card by their own colours, as photographs tell them: each off by much, both by much the same.

    Parameters
    ----------
    standard, card : ndarray, shape (3,)
        CIELAB.
    u95 : float
        ΔE00 within which the standard's is known 95 times in 100.
    shared_u95 : float
        What of that the target is off by as well, as one that the same camera saw.
    """

    standard: Floats
    card: Floats
    u95: float
    shared_u95: float = 0.0


@dataclass(frozen=True)
class Exchange:
    """What speaks for card and standard having been exchanged.

    Parameters
    ----------
    log_odds : float
        How many times likelier what was seen is of the two exchanged than of the two as named, its logarithm.
    may_be : bool
        Whether the two exchanged would be as was to be expected.
    standard, foretold : ndarray, shape (3,)
        The target, and what was poured as the bank and today's tins have it, CIELAB in the light of the difference.
    """

    log_odds: float
    may_be: bool
    standard: Floats
    foretold: Floats

    @property
    def surely(self) -> bool:
        """Whether the two are to be taken for exchanged."""
        return self.may_be and self.log_odds > _SURELY

    @property
    def likely(self) -> bool:
        """Whether they may well be."""
        return self.may_be and self.log_odds > _LIKELY


def exchange_seen(card: SprayedCard, batch: Parts, pairs: Sequence[PairSeen] = ()) -> Exchange | None:
    """Return what speaks for a card and its standard having been exchanged; None where nothing tells.

    Parameters
    ----------
    card : SprayedCard
        As it was seen beside its standard.
    batch : tuple of (tint, grams)
        What it was sprayed of.
    pairs : sequence of PairSeen
        The two as photographs of the first light tell each: one, or one with the gloss and one without where it isn't
        known whether the target has it; none where nobody photographed them.

    Raises
    ------
    InputError
        As `coloured_parts`.

    Notes
    -----
    What the bank and today's tins make of the batch says which way the card should differ from the target; a camera
    that sees the card as the target and the standard elsewhere, which of them is the target. The two tell together: the
    density of both as named over that with the names exchanged, what isn't known of the target moving them against one
    another. The densities are Student's: by normal ones a single slip would outweigh all else. Only the difference in
    the first light counts: those of other lights go together with it.
    """
    one = card.reading.seen[0] if card.reading.seen else None
    if one is None or one.by_itself is not None or one.standard is None or one.covariance is None:
        return None
    foretold, doubt = _foretold(card, batch, one)
    known = np.zeros((3, 3)) if one.standard_covariance is None else one.standard_covariance
    spread = doubt + known + one.covariance
    if not pairs:
        named, turned = (_misfit(off, spread) for off in (one.delta - foretold, -one.delta - foretold))
        log_odds, may_be = _unlikely(named, _MODEL) - _unlikely(turned, _MODEL), turned <= _MAY_BE
    else:
        ways = ((one.delta, [pair.standard for pair in pairs]), (-one.delta, [pair.card for pair in pairs]))
        (as_named, _), (as_turned, fits) = (
            min(
                _as_told(lab - one.standard, delta - foretold, known, spread, pair)
                for lab, pair in zip(labs, pairs, strict=True)
            )
            for delta, labs in ways
        )
        log_odds, may_be = as_named - as_turned, fits <= _MAY_BE
    return Exchange(log_odds, may_be, one.standard, one.standard + foretold)


def _as_told(apart: Floats, off: Floats, known: Floats, spread: Floats, pair: PairSeen) -> tuple[float, float]:
    """Return how unlikely it is that what is named the standard lies `apart` from the target, and the card so far off.

    Parameters
    ----------
    apart, off : ndarray, shape (3,)
        The latter of the difference, from what was foretold of it.
    known, spread : ndarray, shape (3, 3)
        Covariances of the target and of `off`.
    pair : PairSeen

    Returns
    -------
    unlikely : float
        The negative logarithm of the density of both.
    misfit : float
        Of `apart`, in squared standard deviations.
    """
    lab = pair.standard
    both = _within(covariance_within(pair.shared_u95, lab), known)
    camera, across = known + covariance_within(pair.u95, lab) - 2 * both, both - known
    follows = np.linalg.solve(camera, across).T  # what the difference is off by where the standard is off
    misfit = _misfit(apart, camera)
    left = _misfit(off - follows @ apart, spread - follows @ across)
    return _unlikely(misfit, _CAMERA) + _unlikely(left, _MODEL), misfit


def _within(shared: Floats, whole: Floats) -> Floats:
    """Return what two share as no more than the whole of one is, in whichever direction: covariances, shape (3, 3)."""
    if not shared.any():
        return shared
    least = float(np.real(np.linalg.eigvals(np.linalg.solve(shared, whole))).min())
    return np.asarray(min(1.0, max(least, 0.0)) * shared)


def _misfit(off: Floats, spread: Floats) -> float:
    """Return how far off values are, in squared standard deviations of a covariance."""
    return float(off @ np.linalg.solve(spread, off))


def _unlikely(misfit: float, freedom: float) -> float:
    """Return the negative logarithm of the density of three values that are far off more often than normal ones."""
    return (freedom + 3) / 2 * float(np.log1p(misfit / freedom))


def _foretold(card: SprayedCard, batch: Parts, one: SeenDifference) -> tuple[Floats, Floats]:
    """Return by what a batch was to differ from its target in a light, shape (3,), and its covariance, (3, 3)."""
    assert one.standard is not None
    light = (one.light, one.observer)
    parts, _ = coloured_parts(card.optics, card.tints, batch)
    grams, optics = np.array(list(parts.values())), card.optics.chosen(list(parts))
    believed = card.prior or StrengthPrior.default(optics.names)
    believed = believed.chosen(optics.names).stirred_in(optics.spread_of_ratios(grams, optics.amount_sd))
    today = believed.strengthened(optics)
    model, per_log = strength_slope(grams * optics.dry_ml_per_g, today)
    slope = reflectance_to_lab_slope(model, *light) @ per_log.T
    doubt = slope @ believed.log_covariance @ slope.T + lasting_doubt(today, grams, (light,))
    return reflectance_to_lab(model, *light) - one.standard, doubt
