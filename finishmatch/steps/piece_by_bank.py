"""A photographed target as a bank has it: by what the camera saw of it and of the bank's tints."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from finishmatch.colour import Floats, de00, de00_metric
from finishmatch.colour.local_metric import WITHIN_95
from finishmatch.evidence.target import ColourTarget, colour_target
from finishmatch.mix.piece_seen import piece_seen
from finishmatch.optics import TintOptics
from finishmatch.photo.geometry import GEOMETRY
from finishmatch.readings import Reading
from finishmatch.readings.seen import moved_with_standard, to_be_moved
from finishmatch.steps.by_own_photograph import is_by_itself
from finishmatch.steps.colour_inputs import Viewing, read_alike

WHOLE = 0.999  # a share that is all of it


@dataclass(frozen=True)
class PieceByBank:
    """A target as a bank has it.

    Parameters
    ----------
    reading : Reading
        Its colour, in the geometry it was read in; as it was read where the bank has nothing to say of it.
    likely : ndarray, shape (m, 31), or None
        What its spectrum may be, as the bank's instrument would read it.
    moved_de00 : float or None
        From the colour as it was read; None where the bank has nothing to say of it.
    moved : ndarray, shape (3,), or None
        The same in CIELAB.
    """

    reading: Reading
    likely: Floats | None = None
    moved_de00: float | None = None
    moved: Floats | None = None

    def trial(self, trial: Reading | None) -> Reading | None:
        """Return a trial that was held against the target as it was read, as it stands to it now: a camera saw both."""
        if trial is None or self.moved is None or not (trial.seen or is_by_itself(trial)):
            return trial
        return moved_with_standard(trial, self.moved)

    def kept(self, trial: Reading | None) -> Reading | None:
        """Return a trial as it was told, which is what is kept, with by how much its standard is moved."""
        return None if trial is None else to_be_moved(trial, self.moved)

    def goal(self, target: ColourTarget) -> ColourTarget:
        """Return a target of that colour with what its spectrum may be."""
        return target if self.likely is None or target.reflectance is not None else replace(target, likely=self.likely)

    @property
    def said(self) -> tuple[str, ...]:
        """What is to be said of it."""
        if self.moved_de00 is None:
            return ()
        lab = self.reading.lab_in(self.reading.light, self.reading.observer)
        L, a, b = (f"{round(float(value), 1) + 0.0:.1f}" for value in lab)
        u95 = self.reading.target and self.reading.target.u95
        known = "" if u95 is None else f" (±{u95:.1f})"
        return (
            f"{self.reading.name} is taken for L* {L}, a* {a}, b* {b}{known}, ΔE00 {self.moved_de00:.1f} from what was "
            "read: its camera sees mixtures of this bank's tints so",
        )

    def as_dict(self) -> dict[str, Any] | None:
        """Return its JSON object; None where the bank has nothing to say of it."""
        if self.moved_de00 is None:
            return None
        lab = self.reading.lab_in(self.reading.light, self.reading.observer)
        u95 = None if self.reading.target is None else self.reading.target.u95
        return {"lab": lab.tolist(), "u95": u95, "de00_from_read": self.moved_de00}


def piece_by_bank(standard: Reading, optics: TintOptics, wanted: Viewing) -> PieceByBank:
    """Return a target as a bank has it.

    Parameters
    ----------
    standard : Reading
        As it was read.
    optics : TintOptics
        Of the bank's tints that are known well enough.
    wanted : Viewing
        How the bank was read.
    """
    if standard.is_spectral or not standard.camera_saw:
        return PieceByBank(standard)
    moved, covariance, likely = np.zeros(3), None, None
    told, viewing = False, (standard.light, standard.observer)
    for saw in standard.camera_saw:
        goal = _as_bank_reads(standard, saw.lab, wanted)
        found = piece_seen(colour_target(goal, viewing[:1], standard.observer), saw.looks, optics)
        if found is None:
            continue
        told = True
        if standard.geometry == GEOMETRY:
            moved = moved + saw.share * (found.lab - saw.lab)
        else:  # as it is kept: as the bank's instrument would have read it
            now = _as_bank_reads(standard, found.lab, wanted)
            moved = moved + saw.share * (now.lab_in(*viewing) - goal.lab_in(*viewing))
        if saw.share >= WHOLE:
            covariance, likely = found.covariance, found.spectra
    if not told:
        return PieceByBank(standard)
    before = standard.lab_in(*viewing)
    reading = replace(standard, repeats=standard.repeats + moved)
    if covariance is not None:
        reading = _known_to(reading, covariance)
    return PieceByBank(reading, likely, float(de00(before, before + moved)), moved)


def _as_bank_reads(standard: Reading, lab: Floats, wanted: Viewing) -> Reading:
    """Return a colour as a photograph tells it, shape (3,), as the bank's instrument would have read it."""
    alone = replace(standard, repeats=lab[None], geometry=GEOMETRY, target=None, camera_saw=())
    (alike,), _ = read_alike(wanted, alone)
    return alike


def _known_to(reading: Reading, covariance: Floats) -> Reading:
    """Return a reading with how surely its colour is known now; of one that was weighed that holds more than this."""
    facts = reading.target
    if facts is None or facts.u95 is None or facts.weighed:
        return reading
    metric = de00_metric(reading.lab_in(reading.light, reading.observer))
    u95 = WITHIN_95 * float(np.sqrt(np.trace(metric @ covariance @ metric.T) / 3))
    u95 = min(u95, facts.u95)
    own = None if facts.u95_own is None else min(facts.u95_own, u95)
    return replace(reading, target=replace(facts, u95=u95, u95_own=own))
