"""The film a card was sprayed as: hiding, or of a build over a ground, and what is not sure about that."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from finishmatch.colour import Floats
from finishmatch.optics import Backing, TintOptics

BUILD_SD = 0.08  # share of a build: the gauge, and a coat that isn't even («common practice»: from memory)
_EVENLY = float(np.sqrt(12))  # what is anywhere between two ends is this many standard deviations wide


@dataclass(frozen=True)
class SprayedFilm:
    """A film as a card's was.

    Parameters
    ----------
    optics : TintOptics
        Of the tints, as their film was sprayed.
    alternatives : tuple of (optics, optics, float)
        Films it may have been as well, and how many standard deviations separate the two.
    """

    optics: TintOptics
    alternatives: tuple[tuple[TintOptics, TintOptics, float], ...] = ()


def sprayed_film(
    optics: TintOptics, grounds: tuple[tuple[str, Floats], ...], ground: str, build_um: float | None
) -> SprayedFilm:
    """Return the film of a card.

    Parameters
    ----------
    optics : TintOptics
        Of hiding films.
    grounds : tuple of (name, reflectance in contact, shape (31,))
        Of the bank.
    ground : str
        As the painter named it, whatever the capitals; one the bank doesn't know may be as light or as dark as any of
        these.
    build_um : float or None
        Dry build; where it isn't known, or the bank can't predict films of a build, the film is taken to hide.
    """
    if build_um is None or build_um <= 0 or not optics.per_um:
        return SprayedFilm(optics)

    def over(below: Floats, build: float = build_um) -> TintOptics:
        return optics.over(Backing(ground, build, below))

    named = [below for name, below in grounds if name.casefold() == ground.strip().casefold()]
    if named:
        below = named[0]
        doubts = []
    else:
        known = [np.asarray(below) for _, below in grounds] or [np.full(31, 0.03), np.full(31, 0.9)]
        dark, light = min(known, key=np.mean), max(known, key=np.mean)
        below = (dark + light) / 2
        doubts = [(over(light), over(dark), _EVENLY)]
    return SprayedFilm(over(below), ((over(below, build_um * (1 + BUILD_SD)), over(below), 1.0), *doubts))
