"""Readings, lights, tolerance and geometry as they are given to a step, checked before anything is computed."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np

from finishmatch import readings as reading_room  # what converts a geometry is imported when one is to be
from finishmatch.colour import Floats, de00, light_name
from finishmatch.colour.gloss import lab_with_gloss
from finishmatch.errors import InputError
from finishmatch.optics import Bank
from finishmatch.optics.surface import fresnel_normal
from finishmatch.readings import Reading, resolve_reading
from finishmatch.readings.geometry_names import AS_A_CAMERA, WITH_GLOSS
from finishmatch.readings.seen import reading_with_gloss
from finishmatch.steps.record import tolerance_in

LIGHTS = ("D65", "A", "F11")
"""The lights a colour is judged in where none are named, the reference first."""

WIDEST_TOLERANCE = 10.0  # ΔE00; beyond it nothing is judged

GLOSS_COUNTS_DE00 = 5.0  # what the gloss may make before it is asked about: so it is on dark colours

ReadingLike = Reading | str | Path | Sequence[float] | Floats
"""A reading; or L,a,b, FILE or FILE@NAME as a text; or three numbers of CIELAB, or 31 reflectance factors."""


def light_list(lights: str | Sequence[str]) -> tuple[str, ...]:
    """Return CIE light names, each once, in the order named; commas may separate them."""
    names = [
        light_name(part) for light in ([lights] if isinstance(lights, str) else lights) for part in light.split(",")
    ]
    return tuple(dict.fromkeys(names))


def reading_of(given: ReadingLike, light: str, observer: int, name: str = "") -> Reading:
    """Return the reading that is meant.

    Parameters
    ----------
    given : ReadingLike
    light : str
        For CIELAB.
    observer : int
        2 or 10.
    name : str
        What numbers are called.
    """
    if isinstance(given, Reading):
        return given
    if isinstance(given, str | Path):
        return resolve_reading(str(given), light, observer)
    values = np.asarray(given, dtype=float)
    if values.shape not in ((3,), (31,)) or not np.isfinite(values).all():
        what = f"an array of shape {values.shape} is not a colour"
        raise InputError(name, what, "give L, a, b, or 31 reflectance factors from 400 to 700 nm")
    return Reading(name, values[None], light, observer)


def tolerance_of(
    given: float | None, standard: Reading, usual: float, job: str | None = None
) -> tuple[float, tuple[str, ...]]:
    """Return the tolerance to judge by, and what is to be said of it.

    As given; else the target's own (a file of weighed evidence carries the tolerance that its evidence can defend);
    else that of the target the job has; else the usual.
    """
    if given is not None:
        check_tolerance(given)
        return given, ()
    own = None if standard.target is None else standard.target.tolerance
    if own is not None:
        return own, (f"the tolerance of {own:.2f} is the target's own, from {standard.source}",)
    kept = None if job is None else tolerance_in(job)
    if kept is not None:
        return kept[0], (f"the tolerance of {kept[0]:.2f} is that of the job's target #{kept[1]}",)
    return usual, ()


def check_tolerance(tolerance: float | None) -> None:
    """See that a tolerance is one; None is settled later."""
    if tolerance is not None and not (math.isfinite(tolerance) and tolerance > 0):
        raise InputError("`tolerance`", f"{tolerance:g} is not a tolerance", "give a ΔE00 above 0")
    if tolerance is not None and tolerance > WIDEST_TOLERANCE:
        mend = "0.5 to 2 is usual, and 5 is another colour to anybody"
        raise InputError("`tolerance`", f"within ΔE00 {tolerance:g} anything would pass", mend)


def check_gloss(gloss: float | None, binder_index: float = 1.5) -> None:
    """See that a gloss and an index are some."""
    if gloss is not None and not (math.isfinite(gloss) and 0 < gloss <= 200):
        raise InputError("`gloss`", f"{gloss:g} is not the gloss of a paint", "give gloss units at 60°, 0 to 100")
    if not 1.3 <= binder_index <= 1.8:
        mend = "it lies between 1.3 and 1.8; most are 1.5"
        raise InputError("`binder_index`", f"{binder_index:g} is not the index of a binder", mend)


@dataclass(frozen=True)
class Viewing:
    """How readings of another geometry are brought to that of what they are held against.

    Parameters
    ----------
    geometry : str
        That is wanted.
    binder_index : float
    gloss : float or None
        Of the film at 60°, gloss units.
    light : str
    observer : int
        In which the doubt of a conversion is stated.
    of_bank : bool
        Whether it is that of a bank: what a camera saw is then brought to it as its own panels are.
    """

    geometry: str
    binder_index: float
    gloss: float | None
    light: str
    observer: int
    of_bank: bool = False


def viewing_of(bank: Bank, gloss: float | None, light: str, observer: int) -> Viewing:
    """Return how readings are brought to that of a bank; the parameters are those of `Viewing`."""
    return Viewing(bank.geometry, bank.binder_index, gloss, light, observer, of_bank=True)


def read_alike(wanted: Viewing, *readings: Reading) -> tuple[list[Reading], list[reading_room.Conversion]]:
    """Return readings as a geometry would have read them, and what was converted.

    Where several were converted alike, as a target and its spray-out read with one instrument, the model's error is
    common to them, and only what separates them is left as doubt, on the first.
    """
    if all(not reading.geometry or reading.geometry == wanted.geometry for reading in readings):
        return list(readings), []
    readings = tuple(_as_panels(wanted, reading) for reading in readings)
    found = [
        reading_room.read_likewise(
            reading, wanted.geometry, wanted.binder_index, wanted.gloss, wanted.light, wanted.observer
        )
        for reading in readings
    ]
    brought = [reading for reading, _ in found]
    doubts = [reading.conversion_sd for reading in brought if reading.conversion_sd is not None]
    if doubts:
        alike = len(doubts) == 2 and len({reading.geometry for reading in readings}) == 1
        left = np.abs(doubts[0] - doubts[1]) if alike else np.sqrt(sum(sd**2 for sd in doubts))
        brought[0] = replace(brought[0], conversion_sd=left)
    return brought, [conversion for _, conversion in found if conversion is not None]


def _as_panels(wanted: Viewing, reading: Reading) -> Reading:
    """Return what a camera saw of a colour, its CIELAB, with the gloss of a bank's panels, where these count it."""
    unlike = reading.geometry == AS_A_CAMERA and wanted.geometry in WITH_GLOSS
    if not wanted.of_bank or reading.is_spectral or not unlike:
        return reading
    note = (
        f"{reading.name} was read {reading.geometry} and the bank {wanted.geometry}, which counts the gloss: that of a "
        "glossy film is added"
    )
    found = reading_with_gloss(reading, fresnel_normal(wanted.binder_index))
    return replace(found, geometry=wanted.geometry, warnings=(*reading.warnings, note))


def geometry_doubt(reading: Reading, wanted: Viewing) -> tuple[str, ...]:
    """Return a question where a typed colour may have been read without the gloss that the bank's instrument counts.

    Parameters
    ----------
    reading : Reading
    wanted : Viewing
        How the bank was read.

    Notes
    -----
    A glossy film throws back ((n - 1) / (n + 1))² of the light at its surface (Fresnel), whatever its colour: on a dark
    one that is much of what is read.
    """
    if reading.is_spectral or reading.geometry or wanted.geometry != "di8":
        return ()
    lab, surface = reading.lab_in(reading.light, reading.observer), fresnel_normal(wanted.binder_index)
    apart = float(de00(lab, lab_with_gloss(lab, surface, reading.light, reading.observer)))
    if apart < GLOSS_COUNTS_DE00:
        return ()
    return (
        f"how {reading.name} was read isn't known, and the bank was read {wanted.geometry}, which counts the gloss: is "
        f"it of the same kind of instrument? Of a glossy film read without its gloss it is ΔE00 {apart:.0f} off",
    )


def itself_unknown(target: Reading, tolerance: float) -> tuple[str, ...]:
    """Return what a match leaves open to a single reading that is known less surely than it is to be matched, ΔE00."""
    facts = target.target
    if facts is None or facts.weighed or not facts.u95 or facts.u95 <= tolerance:
        return ()
    return (
        f"{target.name} is known to ΔE00 {facts.u95:.1f} only: a match within {tolerance:.2f} may be "
        f"{facts.u95 + tolerance:.1f} from the colour itself; judge the card by a photograph that shows both: this "
        "doubt has no part then",
    )


def conversions_document(conversions: Sequence[reading_room.Conversion]) -> list[dict[str, Any]]:
    """Return conversions in their JSON form."""
    return [vars(conversion) for conversion in conversions]
