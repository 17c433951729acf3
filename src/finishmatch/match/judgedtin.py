"""The tin as its spray-out tells it: strengths of its tints, and what still parts reading and model."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from finishmatch.colour import reflectance_to_lab
from finishmatch.errors import InputError
from finishmatch.match.strength import StrengthPrior, update_strengths
from finishmatch.match.target import ColourTarget
from finishmatch.match.tin import Tin
from finishmatch.match.weighing import POUR_SD_STEPS, Scale
from finishmatch.optics import Tint, TintOptics, predicted_reflectance
from finishmatch.optics.panelset import MODEL_FLOOR, MODEL_SHARE, READING_SD
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
    mine = optics.chosen(list(poured))
    weights = np.array(list(poured.values()))
    believed = prior or StrengthPrior.default(mine.names)
    update = update_strengths(mine, weights, sprayed, prior=believed)
    posterior = believed.learnt(mine.names, weights, update, POUR_SD_STEPS * scale.step_g)
    # of what is in the tin, a slip of the pour is as good as strength: there the update holds as it is
    beliefs = believed.learnt(mine.names, weights, update).chosen(optics.names)
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
    beyond = [name for name, f in zip(mine.names, update.factors, strict=True) if not 0.85 <= f <= 1.18]
    if beyond:
        warnings.append(
            f"{', '.join(beyond)}: today's strength is far from the bank's; check the weights poured and the tin"
        )
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
    return JudgedTin(tin, tin.total + float(clear_grams), strengths, posterior, tuple(warnings))
