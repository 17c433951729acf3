"""Readings of another geometry, brought to that of what they are held against, as --gloss allows."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace
from typing import TYPE_CHECKING, Any

from finishmatch.errors import InputError

if TYPE_CHECKING:
    from finishmatch.readings import Reading
    from finishmatch.readings.convert_geometry import Conversion


def check_gloss(gloss: float | None, index: float = 1.5) -> None:
    """See that a gloss and an index are some, before anything is computed for them."""
    if gloss is not None and not (math.isfinite(gloss) and 0 < gloss <= 200):
        raise InputError("--gloss", f"{gloss:g} is no gloss of paint", "give gloss units at 60°, 0 to 100")
    if not 1.3 <= index <= 1.8:
        raise InputError("--binder-index", f"{index:g} is no binder's", "it lies between 1.3 and 1.8; most are 1.5")


def brought_to(
    geometry: str, index: float, gloss: float | None, light: str, observer: int, *readings: Reading
) -> tuple[list[Reading], list[Conversion]]:
    """Return readings as a geometry would have read them, and what was converted.

    Where several were converted alike, as a target and its spray-out read with one instrument, the model's error is
    common to them, and only what parts them is left as doubt, on the first.
    """
    if all(not reading.geometry or reading.geometry == geometry for reading in readings):
        return list(readings), []  # the model isn't loaded for what needs none
    import numpy as np

    from finishmatch.readings.convert_geometry import read_likewise

    found = [read_likewise(reading, geometry, index, gloss, light, observer) for reading in readings]
    brought = [reading for reading, _ in found]
    doubts = [reading.conversion_sd for reading in brought if reading.conversion_sd is not None]
    if doubts:
        alike = len(doubts) == 2 and len({reading.geometry for reading in readings}) == 1
        left = np.abs(doubts[0] - doubts[1]) if alike else np.sqrt(sum(sd**2 for sd in doubts))
        brought[0] = replace(brought[0], conversion_sd=left)
    return brought, [conversion for _, conversion in found if conversion is not None]


def converted_document(conversions: Sequence[Conversion]) -> list[dict[str, Any]]:
    """Return conversions as the JSON object tells them."""
    return [vars(conversion) for conversion in conversions]
