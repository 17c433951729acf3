"""A tin updated from its spray-out: the strengths of its tints, and what still separates reading and model."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from finishmatch.colour import Floats, reflectance_to_lab
from finishmatch.colour.grid import SIZE
from finishmatch.correct.card_strengths import card_strengths, coloured_parts, left_open
from finishmatch.correct.cards_together import TinCard, TogetherFound, cards_together
from finishmatch.correct.seen_tin import brought_to
from finishmatch.correct.tin import Tin
from finishmatch.evidence.target import ColourTarget
from finishmatch.mix.weigh_out import summed
from finishmatch.mix.weighing import POUR_SD_STEPS, Scale
from finishmatch.optics import Tint, TintOptics, predicted_reflectance
from finishmatch.optics.panel_set import MODEL_FLOOR, MODEL_SHARE
from finishmatch.optics.strength import StrengthPrior, strength_evidence
from finishmatch.readings import Reading
from finishmatch.readings.reading_noise import reading_noise


@dataclass(frozen=True)
class EarlierCard:
    """A card of the tin before what was added since, and what had been poured then.

    Parameters
    ----------
    batch : tuple of (tint, grams)
    reading : Reading
    """

    batch: tuple[tuple[str, float], ...]
    reading: Reading


@dataclass(frozen=True)
class TinRecord:
    """What the record knows of a tin before its spray-out.

    Parameters
    ----------
    prior : StrengthPrior or None
        Of the tins it was poured from, by earlier spray-outs.
    earlier : tuple of EarlierCard
        Cards of the tin itself before what was added since; those that tell a spectrum count.
    wanted : float
        Grams that are wanted in it in the end, where only a part of them was poured yet; 0 where that was all.
    since : tuple of (tint, grams)
        What was added to the tin after the spray-out in hand.
    """

    prior: StrengthPrior | None = None
    earlier: tuple[EarlierCard, ...] = ()
    wanted: float = 0.0
    since: tuple[tuple[str, float], ...] = ()


@dataclass(frozen=True)
class UpdatedTin:
    """A tin after its spray-out, with what was added to it since.

    Parameters
    ----------
    tin : Tin
        With today's strengths.
    total : float
        Grams in it, clears included.
    strengths : dict of str to float
        Of the tints of the batch, 1 is as characterised.
    posterior : StrengthPrior
        What is believed of the tins the batch was poured from.
    warnings : tuple of str
    """

    tin: Tin
    total: float
    strengths: dict[str, float]
    posterior: StrengthPrior
    warnings: tuple[str, ...]


def updated_tin(
    target: ColourTarget,
    optics: TintOptics,
    tints: tuple[Tint, ...],
    batch: tuple[tuple[str, float], ...],
    sprayed: Reading,
    scale: Scale,
    record: TinRecord | None,
) -> UpdatedTin:
    """Return a tin with its strengths updated from its spray-out.

    Parameters
    ----------
    target : ColourTarget
    optics : TintOptics
        Of the usable tints of the bank.
    tints : tuple of Tint
        The bank's.
    batch : tuple of (tint, grams)
        As poured.
    sprayed : Reading
        Of the spray-out of that batch.
    scale : Scale
    record : TinRecord or None
        What is known of the tins, and of this one, from earlier spray-outs.

    Raises
    ------
    InputError
        A tint of the batch that isn't among the usable ones, or a batch without colour.
    """
    record = record or TinRecord()
    found = card_strengths(optics, tints, batch, sprayed, scale, record.prior)
    mine, weights, update = found.optics, found.grams, found.strengths
    # of what is in the tin, a slip of the pour or of dispersal is as good as strength: there the update holds as it is
    everything = np.zeros(len(optics.names))
    everything[[optics.index(name) for name in mine.names]] = weights
    comes_to_bear = optics.spread_of_ratios(everything, optics.amount_sd)
    stirred = found.believed.chosen(optics.names).stirred_in(comes_to_bear)
    beliefs = stirred.given(strength_evidence(mine.names, weights, update, found.stirred)).chosen(optics.names)
    today = optics.strengthened(beliefs.factors)
    warnings = list(dict.fromkeys((*target.warnings, *sprayed.warnings)))
    if sprayed.reflectance is None and not sprayed.seen:
        warnings.append("the spray-out is known as Lab only: the strengths are less certain than from a spectrum")
    warnings += found.warnings
    total, nothing = float(weights.sum()), np.zeros(SIZE)
    plain = Tin(today, everything, total, nothing, None, target, beliefs.log_covariance, 0.0)
    bank = (left_open(mine, weights) ** 2).sum(axis=0)
    tin = _held_against(plain, sprayed, stirred.log_covariance, optics.model_sd or MODEL_SHARE, bank)
    cards = _of_this_tin(mine, weights, sprayed, record.earlier)
    if len(cards) > 1:
        both = cards_together(mine, cards, stirred, POUR_SD_STEPS * scale.step_g, left_open(mine, weights))
        tin = _by_all(tin, optics, stirred, both)
    strengths = {name: float(factor) for name, factor in zip(mine.names, update.factors, strict=True)}
    clear_grams = found.clear_grams
    if record.since:
        whole, clear_grams = coloured_parts(optics, tints, (*batch, *record.since))
        more = summed(record.since)
        tin = tin.grown(np.array([more.get(name, 0.0) if name in whole else 0.0 for name in optics.names]))
    return UpdatedTin(tin, tin.total + clear_grams, strengths, found.believed.given(found.evidence), tuple(warnings))


def _of_this_tin(mine: TintOptics, weights: Floats, sprayed: Reading, earlier: Sequence[EarlierCard]) -> list[TinCard]:
    """Return the cards of a tin that tell a spectrum, the last of it as it is; none where that tells none."""
    if sprayed.reflectance is None or mine.backing is not None:
        return []
    cards = []
    for one in earlier:
        grams = summed(one.batch)
        then = np.array([grams.get(name, 0.0) for name in mine.names])
        if one.reading.reflectance is not None and (then <= weights + 1e-6).all():
            cards.append(TinCard(then, one.reading))
    return [*cards, TinCard(weights, sprayed)]


def _by_all(tin: Tin, optics: TintOptics, stirred: StrengthPrior, both: TogetherFound) -> Tin:
    """Return a tin as all its cards together show it.

    What is left open of it is counted as after one card: what two leave less of is little, and roughly known.
    """
    beliefs = stirred.given(both.evidence).chosen(optics.names)
    today = optics.strengthened(beliefs.factors)
    return replace(tin, optics=today, offset=both.offset, log_covariance=beliefs.log_covariance)


def _held_against(tin: Tin, sprayed: Reading, before: Floats, share: float, bank: Floats) -> Tin:
    """Return a tin with what its spray-out shows beyond the strengths.

    `before` is their covariance before it, `bank` the variance that the bank leaves open of the reading, shape (31,).
    """
    if sprayed.seen:
        goal, lab_offset, lab_root = brought_to(tin.target, tin.optics, tin.poured, before, sprayed)
        return replace(tin, target=goal, lab_offset=lab_offset, lab_root=lab_root)
    model = predicted_reflectance(tin.optics, tin.poured)
    if sprayed.reflectance is None:
        lab_offset = np.asarray(sprayed.lab) - reflectance_to_lab(model, sprayed.light, sprayed.observer)
        return replace(tin, lab_offset=lab_offset)
    # what separates reading and model is partly the theory's and the bank's, which stays, and partly noise
    noise = reading_noise(sprayed)
    theory = (share * model) ** 2 + MODEL_FLOOR**2 + bank
    kept = theory / (theory + noise.each**2 + noise.together**2)
    left = np.sqrt(kept)
    offset = (sprayed.reflectance - model) * kept
    return replace(tin, offset=offset, reading_sd=left * noise.each, place_sd=left * noise.together)
