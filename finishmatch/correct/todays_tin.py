"""The tin as its spray-out tells it: strengths of its tints, and what still parts reading and model."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from finishmatch.colour import Floats, reflectance_to_lab
from finishmatch.correct.tin import Tin
from finishmatch.errors import InputError
from finishmatch.evidence.target import ColourTarget
from finishmatch.mix.strength import CardTold, StrengthPrior, Strengths, told_by_card, update_strengths
from finishmatch.mix.weighing import POUR_SD_STEPS, Scale
from finishmatch.optics import Tint, TintOptics, predicted_reflectance
from finishmatch.optics.panel_set import MODEL_FLOOR, MODEL_SHARE, READING_SD
from finishmatch.readings import Reading


@dataclass(frozen=True)
class JudgedTin:
    """A tin after its spray-out.

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


@dataclass(frozen=True)
class BatchTold:
    """What a card tells of the tins of its batch.

    Parameters
    ----------
    optics : TintOptics
        Of the tints of the batch, as the bank has them.
    grams : ndarray, shape (n,)
    clear_grams : float
        Of what makes no colour.
    believed : StrengthPrior
        Of the tins, before the card.
    strengths : Strengths
        After it, slips of the pour included.
    told : CardTold
        What the card by itself tells of the tins.
    warnings : tuple of str
        Strengths that are hard to believe.
    """

    optics: TintOptics
    grams: Floats
    clear_grams: float
    believed: StrengthPrior
    strengths: Strengths
    told: CardTold
    warnings: tuple[str, ...] = ()


def batch_told(
    optics: TintOptics,
    tints: tuple[Tint, ...],
    batch: tuple[tuple[str, float], ...],
    sprayed: Reading,
    scale: Scale,
    prior: StrengthPrior | None,
    apart: tuple[tuple[TintOptics, TintOptics, float], ...] = (),
    unsure: Floats | None = None,
) -> BatchTold:
    """Return what a card tells of the tins its batch was poured from.

    Parameters
    ----------
    optics : TintOptics
        Of the usable tints of the bank, as their film was sprayed.
    tints, batch, sprayed, scale, prior
        As for `judged_tin`.
    apart : tuple of (optics, optics, float)
        Films it may have been as well, so many standard deviations apart: of another build, over another ground.
    unsure : ndarray, shape (31,), or None
        What the reading is off by at all wavelengths together, one standard deviation.

    Raises
    ------
    InputError
        A tint of the batch that isn't among the usable ones, or a batch without colour.
    """
    clears = {tint.name for tint in tints if tint.role == "clear"}
    poured: dict[str, float] = {}
    for name, grams in batch:
        if grams > 0:
            poured[name] = poured.get(name, 0.0) + grams
    clear_grams = sum(poured.pop(name) for name in clears & poured.keys())
    for name in poured:
        if name not in optics.names:
            raise InputError(f"the batch, tint {name!r}", "its optics aren't known", "add letdowns of it to the bank")
    if not poured:
        raise InputError("the batch", "holds no coloured tint", "check the batch file")
    names, weights = tuple(poured), np.array(list(poured.values()))
    mine = optics.chosen(names)
    believed = prior or StrengthPrior.default(names)
    doubts = [
        np.subtract(*(predicted_reflectance(film.chosen(names), weights) for film in pair)) / sds
        for *pair, sds in apart
    ]
    if unsure is not None:
        doubts.append(unsure)
    update = update_strengths(mine, weights, sprayed, prior=believed, doubt=np.array(doubts) if doubts else None)
    told = told_by_card(names, weights, update, believed, POUR_SD_STEPS * scale.step_g)
    beyond = [name for name, factor in zip(names, update.factors, strict=True) if not 0.85 <= factor <= 1.18]
    told_so = f"{', '.join(beyond)}: today's strength is far from the bank's; check the weights poured and the tin"
    return BatchTold(mine, weights, float(clear_grams), believed, update, told, (told_so,) if beyond else ())


def judged_tin(
    target: ColourTarget,
    optics: TintOptics,
    tints: tuple[Tint, ...],
    batch: tuple[tuple[str, float], ...],
    sprayed: Reading,
    scale: Scale,
    prior: StrengthPrior | None,
) -> JudgedTin:
    """Return a tin as its spray-out tells it.

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
    prior : StrengthPrior or None
        What earlier spray-outs told of the tins.

    Raises
    ------
    InputError
        A tint of the batch that isn't among the usable ones, or a batch without colour.
    """
    read = batch_told(optics, tints, batch, sprayed, scale, prior)
    mine, weights, update = read.optics, read.grams, read.strengths
    # of what is in the tin, a slip of the pour is as good as strength: there the update holds as it is
    beliefs = read.believed.given(told_by_card(mine.names, weights, update, read.believed)).chosen(optics.names)
    everything = np.zeros(len(optics.names))
    everything[[optics.index(name) for name in mine.names]] = weights
    today = optics.strengthened(beliefs.factors)
    model = predicted_reflectance(today, everything)
    warnings = list(dict.fromkeys((*target.warnings, *sprayed.warnings)))
    if sprayed.reflectance is not None:
        # what parts reading and model is partly the theory's, which stays, and partly noise, which doesn't
        noise = READING_SD**2 / len(sprayed.repeats)
        theory = (MODEL_SHARE * model) ** 2 + MODEL_FLOOR**2
        offset, lab_offset = (sprayed.reflectance - model) * theory / (theory + noise), None
    else:
        warnings.append("the spray-out is known as Lab only: the strengths are less certain than from a spectrum")
        offset = np.zeros_like(model)
        lab_offset = np.asarray(sprayed.lab) - reflectance_to_lab(model, sprayed.light, sprayed.observer)
    warnings += read.warnings
    tin = Tin(
        today,
        everything,
        float(weights.sum()),
        offset,
        lab_offset,
        target,
        beliefs.log_covariance,
        0.0 if sprayed.reflectance is None else READING_SD / float(np.sqrt(len(sprayed.repeats))),
    )
    strengths = {name: float(factor) for name, factor in zip(mine.names, update.factors, strict=True)}
    return JudgedTin(tin, tin.total + read.clear_grams, strengths, read.believed.given(read.told), tuple(warnings))
