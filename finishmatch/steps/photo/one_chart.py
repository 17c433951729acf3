"""Photographs that are read together show one chart: where nobody said which, one that shows it tells for all."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path

from finishmatch.photo.find.chart import SINCE_2014, Chart, usual_chart
from finishmatch.photo.read import PhotoReading
from finishmatch.steps.progress import Progress

Read = Callable[[int, Chart | None], PhotoReading]


def read_by_one_chart(paths: Sequence[Path], chart: Chart | None, read: Read, progress: Progress) -> list[PhotoReading]:
    """Return what is read of photographs, all by one chart.

    Parameters
    ----------
    paths : sequence of Path
        In the order in which `read` numbers them.
    chart : Chart or None
        The one that was said.
    read : callable
        Reads a photograph by its place among them, by a chart or, with None, as `read_photograph` takes it.
    progress : Progress
    """
    readings = []
    for place, path in enumerate(paths):
        with progress(f"reading {path.name}"):
            readings.append(read(place, chart))
    taken = [_taken_as(reading) for reading in readings]
    if len(set(taken) - {""}) < 2:
        return readings
    newer = usual_chart(SINCE_2014)  # the older is what is taken where a photograph doesn't show it
    return [
        reading if made in ("", SINCE_2014) else read(place, newer)
        for place, (reading, made) in enumerate(zip(readings, taken, strict=True))
    ]


def _taken_as(reading: PhotoReading) -> str:
    """Return as which edition a chart was taken that nobody said anything of; "" of any other."""
    reference = reading.reference
    return reference.chart.made if reference is not None and reference.assumed else ""
