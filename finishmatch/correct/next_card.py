"""What the next card of a tin may read, by the last that was sprayed of it and what was added since."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from finishmatch.colour import Floats, de00, reflectance_to_lab
from finishmatch.correct.tin import Solved, Tin
from finishmatch.evidence.target import colour_target
from finishmatch.mix.expected_difference import U95_LIGHTS, U95_OBSERVER
from finishmatch.mix.foretold import Foretold
from finishmatch.mix.weighing import Scale
from finishmatch.readings import Reading


@dataclass(frozen=True)
class NextCard:
    """What the next card of a tin is predicted to read.

    Parameters
    ----------
    tin : Tin
        With its last card, and what was added since.
    reflectance : ndarray, shape (31,)
        Of a tin whose card told CIELAB alone it is the model's.
    scale : Scale
        On which what was added was poured.
    """

    tin: Tin
    reflectance: Floats
    scale: Scale

    def lab_in(self, light: str, observer: int) -> Floats:
        """Return its CIELAB in a light; what a card told in one light alone parts from the model by alike in all."""
        lab: Floats = reflectance_to_lab(self.reflectance, light, observer)
        return lab if self.tin.lab_offset is None else lab + self.tin.lab_offset

    def drawn(self, repeats: int = 1) -> Floats:
        """Return draws of how far it reads from what is predicted, ΔE00 (D65, 10°), shape (draws,).

        Notes
        -----
        What the last card leaves open, and how the next is read, as the mean of some `repeats`; what was added is as
        unsure as its tins and its pour. Either card is stirred by itself.
        """
        tin, root = self.tin, np.sqrt(repeats)
        read = colour_target(Reading("batch", self.reflectance[None]), U95_LIGHTS, U95_OBSERVER)
        itself = replace(read, reading_sd=0.0, place_sd=0.0)  # what is predicted has no noise: its card has
        if tin.lab_offset is not None:
            tin = replace(tin, reading_sd=read.reading_sd, place_sd=read.place_sd)
        of_it = replace(
            tin,
            target=itself,
            lab_offset=None,
            lab_root=None,
            reading_sd=np.hypot(tin.reading_sd, read.reading_sd / root),
            place_sd=np.hypot(tin.place_sd, read.place_sd / root),
            counts=1.0,
            solved=Solved(),
        )
        return of_it.drawn(np.zeros(len(tin.poured)), self.scale)[:, 0]

    def within_95(self) -> float:
        """Return the ΔE00 (D65, 10°) of what is predicted that holds the next card, read once, 95 times in 100."""
        return float(np.percentile(self.drawn(), 95))

    def against(self, card: Reading) -> Foretold:
        """Return that card, when it was sprayed and read, against what was predicted of it."""
        light, observer = U95_LIGHTS[0], U95_OBSERVER
        off = float(de00(self.lab_in(light, observer), card.lab_in(light, observer)))
        drawn = self.drawn(len(card.repeats))
        expected, within = float(np.sqrt(np.mean(drawn**2))), float(np.percentile(drawn, 95))
        return Foretold(off, expected, within, again=True, by_card=True)


def next_card(tin: Tin, last: Reading, scale: Scale) -> NextCard:
    """Return what the next card of a tin is predicted to read: what its last read, where nothing was added since.

    Parameters
    ----------
    tin : Tin
        With its last card, and what was added since.
    last : Reading
        That card.
    scale : Scale
        On which what was added was poured.
    """
    if last.reflectance is not None and not np.any(tin.since):
        return NextCard(tin, last.reflectance, scale)
    return NextCard(tin, tin.reflectance(np.zeros(len(tin.poured))), scale)
