"""What a batch is held against before it is sprayed, and the way back to that by adding only."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from finishmatch.colour import Floats, difference_words, reflectance_to_lab
from finishmatch.correct.correct import correct_unsprayed
from finishmatch.correct.correction import Correction
from finishmatch.correct.tin import Tin
from finishmatch.errors import InputError
from finishmatch.evidence.target import ColourTarget, colour_target
from finishmatch.mix.weighing import Scale
from finishmatch.optics import TintOptics, predicted_reflectance
from finishmatch.optics.strength import StrengthPrior
from finishmatch.readings import Reading
from finishmatch.readings.convert_geometry import Conversion
from finishmatch.steps.bank import FittedBank, coloured_grams
from finishmatch.steps.colour_inputs import (
    LIGHTS,
    ReadingLike,
    check_gloss,
    check_tolerance,
    light_list,
    read_alike,
    reading_of,
    tolerance_of,
    viewing_of,
)
from finishmatch.steps.corrected import TOLERANCE
from finishmatch.steps.correction_forms import correction_document
from finishmatch.steps.left_out import names_without
from finishmatch.steps.matching import Parts, PartsLike
from finishmatch.steps.record import target_in
from finishmatch.steps.shelf import Shelf

# variance of a strength where bank and tins are common to a batch and to what was meant: they don't separate the two
_COMMON = 1e-10
MEANT = "what was meant"


@dataclass(frozen=True, kw_only=True)
class WayBackRequest:
    """What a batch is held against, and how it is brought back.

    Parameters
    ----------
    target : ReadingLike or None
        What the batch is held against; None: what was meant, where `meant` says that; else the job's target; else the
        batch as it was written.
    meant : PartsLike or None
        The batch whose colour was meant.
    tolerance : float or None
        ΔE00 that counts as reached in every light; None: the target's own, else the job's, else 0.5.
    gloss : float or None
        Of the film at 60°, gloss units: a target of another geometry than the bank's is converted.
    max_growth : float
        Most that may be added to come back, as a share of the batch.
    lights : sequence of str
        CIE lights, the reference first.
    observer : int
        2 or 10.
    """

    target: ReadingLike | None = None
    meant: PartsLike | None = None
    tolerance: float | None = None
    gloss: float | None = None
    max_growth: float = 0.2
    lights: str | Sequence[str] = LIGHTS
    observer: int = 10


@dataclass(frozen=True)
class Goal:
    """What a batch is held against: a colour (None: that of what was meant), and the tolerance, ΔE00."""

    standard: Reading | None
    tolerance: float
    warnings: tuple[str, ...] = ()


@dataclass(frozen=True)
class Unsprayed:
    """A batch before it is sprayed: bank, stock, the optics of the film, what is known of its tins, and its parts.

    `without` has the tints that its recipe did without: they aren't added on the way back either. `tin` is what its
    last card shows of it, where that tells its colour.
    """

    fitted: FittedBank
    film: TintOptics
    prior: StrengthPrior | None
    parts: Parts
    shelf: Shelf
    without: tuple[str, ...] = ()
    tin: Tin | None = None

    @property
    def names(self) -> tuple[str, ...]:
        """The usable tints that may be in it."""
        return names_without(self.fitted, self.parts, self.without)

    @property
    def today(self) -> TintOptics:
        """The optics of these, by the strengths known."""
        if self.tin is not None:
            return self.tin.optics.chosen(self.names)
        usable = self.film.chosen(self.names)
        return usable if self.prior is None else self.prior.strengthened(usable)

    @property
    def offset(self) -> Floats:
        """What a reading departs from the model by, shape (31,)."""
        return np.zeros(31) if self.tin is None else self.tin.offset

    @property
    def grams(self) -> Floats:
        """Of each of these, shape (n,)."""
        coloured = coloured_grams(self.parts, self.fitted)
        return np.array([coloured.get(name, 0.0) for name in self.names])


@dataclass(frozen=True)
class HeldAgainst:
    """How a batch differs from what it is held against, batch minus that, and the way back.

    Parameters
    ----------
    name : str
        Of what it is held against.
    meant : bool
        Whether that is the colour of another batch: what was meant.
    as_written : bool
        Whether that other batch is the batch as written, before a part was poured otherwise.
    target : ColourTarget
    tolerance : float
        ΔE00.
    words : tuple of str
        In the reference light, largest part first.
    way_back : Correction
    conversions : tuple of Conversion
    warnings : tuple of str
    """

    name: str
    meant: bool
    as_written: bool
    target: ColourTarget
    tolerance: float
    words: tuple[str, ...]
    way_back: Correction
    conversions: tuple[Conversion, ...] = ()
    warnings: tuple[str, ...] = ()

    @property
    def lights(self) -> dict[str, float]:
        """The expected ΔE00 in each light."""
        return self.way_back.before

    @property
    def worst_light(self) -> str:
        """The light in which the difference is largest."""
        return max(self.lights, key=lambda light: self.lights[light])

    @property
    def within(self) -> bool:
        """Whether the difference is inside the tolerance in every light."""
        return self.lights[self.worst_light] <= self.tolerance

    def as_dict(self) -> dict[str, Any]:
        """Return the difference in its JSON form."""
        return {
            "name": self.name,
            "meant": self.meant,
            "lights": self.lights,
            "words": list(self.words),
            "verdict": "within" if self.within else "outside",
            "tolerance": self.tolerance,
        }

    def way_back_as_dict(self) -> dict[str, Any]:
        """Return the way back in its JSON form."""
        return correction_document(self.way_back)


def goal_of(request: WayBackRequest, job: str | None) -> Goal:
    """Return what a batch is held against, checked before a bank is fitted; the job's target where nothing is named."""
    check_tolerance(request.tolerance)
    check_gloss(request.gloss)
    lights = light_list(request.lights)
    if request.target is not None and request.meant is not None:
        raise InputError("`meant`", "a batch is held against one colour", "leave out `meant` or `target`")
    standard = None
    if request.target is not None:
        standard = reading_of(request.target, lights[0], request.observer, "target")
    elif request.meant is None and job is not None:
        standard = target_in(job)
    itself = Reading(MEANT, np.zeros((1, 31))) if standard is None else standard
    tolerance, warnings = tolerance_of(request.tolerance, itself, TOLERANCE, job)
    return Goal(standard, tolerance, warnings)


def held_against(batch: Unsprayed, goal: Goal, meant: Parts, scale: Scale, request: WayBackRequest) -> HeldAgainst:
    """Return how a batch differs from what it is compared with, and the way back by adding only.

    Parameters
    ----------
    batch : Unsprayed
    goal : Goal
    meant : tuple of (tint, grams)
        What was meant, where the goal names no colour.
    scale : Scale
    request : WayBackRequest

    Raises
    ------
    InputError
        A target that can't be used, a tint that the bank doesn't know well enough.
    """
    bank = batch.fitted.bank
    today, lights = batch.today, light_list(request.lights)
    conversions: list[Conversion] = []
    standard = goal.standard
    if standard is None:
        colour = predicted_colour(replace(batch, parts=meant))
        # nothing was read of it
        target = replace(colour_target(Reading(MEANT, colour[None]), lights, request.observer), place_sd=0.0)
        today, covariance = replace(today, draws=None), np.eye(len(today.names)) * _COMMON
    else:
        wanted = viewing_of(bank, request.gloss, lights[0], request.observer)
        (alike,), conversions = read_alike(wanted, standard)
        target = colour_target(alike, lights, request.observer)
        known = batch.prior or StrengthPrior.default(today.names)
        covariance = known.chosen(today.names).log_covariance
    poured = batch.grams
    tin = Tin(today, poured, float(poured.sum()), batch.offset, None, target, covariance, 0.0, sprayed=False)
    total = sum(grams for _, grams in batch.parts)
    found = correct_unsprayed(tin, total, batch.shelf.tints, goal.tolerance, request.max_growth, scale)
    lab = reflectance_to_lab(tin.reflectance(np.zeros(len(poured))), target.lights[0], target.observer)
    return HeldAgainst(
        name=MEANT if standard is None else standard.name,
        meant=standard is None,
        as_written=standard is None and request.meant is None,
        target=target,
        tolerance=goal.tolerance,
        words=tuple(difference_words(target.labs[0], lab)),
        way_back=found,
        conversions=tuple(conversions),
        warnings=(*goal.warnings, *target.warnings, *found.warnings, *batch.shelf.warnings),
    )


def predicted_colour(batch: Unsprayed) -> Floats:
    """Return the reflectance a batch is predicted to have, shape (31,)."""
    return predicted_reflectance(batch.today, batch.grams) + batch.offset
