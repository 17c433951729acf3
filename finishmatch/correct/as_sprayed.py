"""How a spray-out stands to its target: as it was read, or as it was seen beside it; and how its tin does since."""

from __future__ import annotations

import numpy as np

from finishmatch.colour import de00, difference_words, reflectance_to_lab
from finishmatch.correct.tin import Tin
from finishmatch.evidence.target import ColourTarget
from finishmatch.readings import Reading
from finishmatch.readings.seen import seen_de00


def off_in_words(target: ColourTarget, sprayed: Reading) -> list[str]:
    """Return how a spray-out is off its target, in words, in the first light."""
    standard, light = target.labs[0], target.lights[0]
    trial = standard + sprayed.seen[0].delta if sprayed.seen else sprayed.lab_in(light, target.observer)
    return difference_words(standard, trial)


def tin_in_words(tin: Tin) -> list[str]:
    """Return how a tin as it is now is off its target, in words, in the first light."""
    target = tin.moved()
    lab = reflectance_to_lab(tin.reflectance(np.zeros(len(tin.poured))), target.lights[0], target.observer)
    return difference_words(target.labs[0], lab)


def sprayed_differences(target: ColourTarget, sprayed: Reading) -> dict[str, float]:
    """Return ΔE00 of a spray-out to its target in each light; where it was seen beside it, as it was seen."""
    if sprayed.seen:
        return seen_de00(sprayed)
    labs = np.stack([sprayed.lab_in(light, target.observer) for light in target.lights])
    return {light: float(de) for light, de in zip(target.lights, de00(target.labs, labs), strict=True)}
