"""Samples as a file holds them, gathered into readings: repeats of a name together, geometries side by side."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from finishmatch.colour import OBSERVERS, Floats, light_name
from finishmatch.errors import InputError
from finishmatch.readings.geometry_names import aspecular_deg
from finishmatch.readings.reading import Reading
from finishmatch.readings.spikes import without_spikes
from finishmatch.readings.strangers import without_stranger
from finishmatch.signs import check_name

MAX_SAMPLES = 20_000
# of a sample read in several geometries the first of these stands for it; 45as45 is lit and seen as 45/0 is
_FIRST = ("di8", "45/0", "45as45", "de8")


@dataclass(frozen=True)
class Sample:
    """One reading of a file: a spectrum on the house grid, shape (31,), or CIELAB, shape (3,).

    `where` names it in a message.
    """

    name: str
    values: Floats
    where: str
    geometry: str = ""
    light: str = "D65"
    observer: int = 10


def gather(samples: Sequence[Sample], source: Path, warnings: tuple[str, ...] = ()) -> dict[str, Reading]:
    """Return a file's readings by name, in the order of the file.

    Several samples of one name and geometry are repeats. A sample read in several geometries keeps them all as its
    views, and one stands for it. A spike among repeats is set aside and named. Where a name has spectra and
    CIELAB, the spectra count.

    Raises
    ------
    InputError
        When the file holds no sample, or repeats of different lights.
    """
    if not samples:
        raise InputError(str(source), "holds no sample that can be read", "spectra or CIELAB are needed")
    check_count(len(samples), source)
    by_name: dict[str, list[Sample]] = {}
    for sample in samples:
        check_name(sample.where, sample.name)
        by_name.setdefault(sample.name, []).append(sample)
    return {name: _reading(name, found, source, warnings) for name, found in by_name.items()}


def check_count(samples: int, source: str | Path) -> None:
    """Refuse more samples than a file of readings has, or raise `InputError`."""
    if samples > MAX_SAMPLES:
        raise InputError(str(source), f"holds more than {MAX_SAMPLES} samples", "split it into smaller files")


def viewing_named(light: str, observer: str) -> tuple[str, int]:
    """Return light and observer as a file names them: "FL2" is F2; D50 and 2° where nothing is named (ISO 13655).

    Raises
    ------
    InputError
        For a light or observer that isn't known here.
    """
    degrees = re.search(r"\d+", observer)
    found = int(degrees[0][:6]) if degrees else 2
    if found not in OBSERVERS:
        raise InputError(f"observer {found}", "not one known here", "use 2 or 10")
    return light_name(re.sub(r"^FL(?=\d)", "F", light.strip().upper()) or "D50"), found


def _reading(name: str, samples: Sequence[Sample], source: Path, warnings: tuple[str, ...]) -> Reading:
    if any(sample.values.size != 3 for sample in samples):
        samples = [sample for sample in samples if sample.values.size != 3]
    views = []
    for geometry in dict.fromkeys(sample.geometry for sample in samples):
        same = [sample for sample in samples if sample.geometry == geometry]
        if len({(sample.light, sample.observer) for sample in same}) > 1:
            raise InputError(
                same[-1].where, f"the repeats of {name[:40]!r} differ in light or observer", "give them two names"
            )
        values = np.array([sample.values for sample in same])
        places = [sample.where for sample in same]
        repeats, spikes = without_spikes(values, places)
        repeats, strangers = without_stranger(name, repeats, places)
        noted = (*warnings, *spikes, *strangers)
        views.append(Reading(name, repeats, same[0].light, same[0].observer, geometry, source, noted))
    if len(views) == 1:
        return views[0]
    first = _standing_for(view.geometry for view in views)
    main = next(view for view in views if view.geometry == first)
    warning = (
        f"{name} was read as {', '.join(view.geometry or 'unknown' for view in views)}; {first or 'unknown'} is used"
    )
    return replace(main, warnings=(*main.warnings, warning), views=tuple(views))


def _standing_for(geometries: Iterable[str]) -> str:
    """Return the geometry that stands for a sample: a usual one, or the angle nearest to 45° off the gloss."""
    known = list(geometries)
    for geometry in _FIRST:
        if geometry in known:
            return geometry
    angles = {geometry: angle for geometry in known if (angle := aspecular_deg(geometry)) is not None}
    return min(angles, key=lambda geometry: abs(angles[geometry] - 45)) if angles else known[0]
