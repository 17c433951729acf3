"""Photographs are read together with those of the same samples under lamps."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path

from finishmatch.photo.colour_in_lights import read_in_lights
from finishmatch.photo.exchanged_lights import refuse_exchanged
from finishmatch.photo.find.chart import Chart
from finishmatch.photo.read import PhotoReading
from finishmatch.steps.photo.named_twice import refuse_named_twice, refuse_same_picture
from finishmatch.steps.photo.one_chart import read_by_one_chart
from finishmatch.steps.progress import Progress


@dataclass(frozen=True)
class ReadInLights:
    """Photographs as they were read, by those under lamps too.

    Parameters
    ----------
    readings : list of PhotoReading
        In the light that the colours are given for, by those under lamps too.
    alone : tuple of PhotoReading
        The same, each by itself.
    lamps : tuple of PhotoReading
    digests : tuple of str
        Of the files of the readings.
    notes : tuple of str
        What is to be said of the lamps.
    """

    readings: list[PhotoReading]
    alone: tuple[PhotoReading, ...]
    lamps: tuple[PhotoReading, ...]
    digests: tuple[str, ...]
    notes: tuple[str, ...]


def read_with_lamps(
    every: Sequence[tuple[str, Path]],
    lamps: int,
    chart: Chart | None,
    read: Callable[[str, Path, Chart | None], PhotoReading],
    progress: Progress,
) -> ReadInLights:
    """Read photographs, the last of which are under lamps.

    Parameters
    ----------
    every : sequence of (str, Path)
        For which light each is read.
    lamps : int
        How many of them, at the end, are under lamps.
    chart : Chart or None
        The one that was said.
    read : callable
        Reads a photograph for a light by a chart.
    progress : Progress

    Raises
    ------
    InputError
        One is named twice, or beside a copy of it; one in daylight is named as under a lamp, and the other way round.
    """
    paths, first = [path for _, path in every], len(every) - lamps
    digests = refuse_named_twice(paths)
    found = read_by_one_chart(paths, chart, lambda at, its: read(*every[at], its), progress)
    refuse_same_picture(found)
    refuse_exchanged(found)
    if not lamps:
        return ReadInLights(found, tuple(found), (), digests, ())
    joined = [read_in_lights(reading, found[first:]) for reading in found[:first]]
    said = [note for _, notes in joined for note in notes]
    said += [f"{one.picture.source.name}: {note}" for one in found[first:] if not one.why_not for note in one.warnings]
    readings, notes = [reading for reading, _ in joined], tuple(dict.fromkeys(said))
    return ReadInLights(readings, tuple(found[:first]), tuple(found[first:]), digests[:first], notes)
