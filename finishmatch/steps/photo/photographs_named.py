"""What is said of photographs by their names: the lamp that one was taken under, and where samples lie in one."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path

from finishmatch.colour import light_name
from finishmatch.errors import InputError
from finishmatch.photo.colour_in_lights import read_in_lights
from finishmatch.photo.find.chart import Chart
from finishmatch.photo.find.regions import Region, typed_region
from finishmatch.photo.read import PhotoReading
from finishmatch.steps.photo.named_twice import refuse_named_twice, refuse_same_picture
from finishmatch.steps.photo.one_chart import read_by_one_chart
from finishmatch.steps.progress import Progress


def under_lamp(option: str, text: str) -> tuple[str, Path]:
    """Return the light and the photograph meant by "LIGHT=PHOTO".

    Parameters
    ----------
    option : str
        Names the option in what is raised.
    text : str

    Raises
    ------
    InputError
        It isn't that, or there is no such light.
    """
    light, sign, photo = text.partition("=")
    if not sign or not photo.strip():
        mend = "name the lamp and its photograph, for example A=lamp.jpg"
        raise InputError(f"`{option}` {text[:60]!r}", "is not LIGHT=PHOTO", mend)
    return light_name(light.strip()), Path(photo.strip())


def lamps_beside(under: Sequence[str], light: str) -> list[tuple[str, Path]]:
    """Return light and photograph of each lamp, beside photographs read for another light.

    Parameters
    ----------
    under : sequence of str
        LIGHT=PHOTO.
    light : str
        That the colours are given for.

    Raises
    ------
    InputError
        One isn't that, or is in the very light.
    """
    lamps = [under_lamp("under", one) for one in under]
    for (its, _), text in zip(lamps, under, strict=True):
        if its == light:
            mend = "name it with the others, or the lamp it was taken under"
            raise InputError(f"`under` {text[:60]!r}", f"is in {light}, for which the colours are given", mend)
    return lamps


def regions_of_each(given: Sequence[str | Region], photographs: Sequence[Path]) -> dict[Path, list[Region]]:
    """Return where samples lie in each photograph: what is said of one by its name goes before what is said of all.

    Parameters
    ----------
    given : sequence of str or Region
        "NAME=x,y,w,h", or "PHOTO:NAME=x,y,w,h" of one photograph, called by its path or the name of its file.
    photographs : sequence of Path

    Raises
    ------
    InputError
        It isn't that, or a sample is named twice.
    """
    of_all, of_one = dict[str, Region](), {path: dict[str, Region]() for path in photographs}
    for one in given:
        text = one if isinstance(one, str) else one.name
        whose = {path: said for path in photographs for said in (f"{path}:", f"{path.name}:") if text.startswith(said)}
        region = one if isinstance(one, Region) else typed_region(text[max(map(len, whose.values()), default=0) :])
        for places in [of_one[path] for path in whose] or [of_all]:
            if region.name in places:
                raise InputError(f"`region` {region.name[:40]}", "is named twice", "say once where each sample lies")
            places[region.name] = region
    return {path: list((of_all | places).values()) for path, places in of_one.items()}


@dataclass(frozen=True)
class ReadInLights:
    """Photographs as they were read, by those under lamps too.

    Parameters
    ----------
    readings : list of PhotoReading
        In the light that the colours are given for.
    lamps : tuple of PhotoReading
    digests : tuple of str
        Of the files of the readings.
    notes : tuple of str
        What is to be said of the lamps.
    """

    readings: list[PhotoReading]
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
        One is named twice, or beside a copy of it.
    """
    paths, first = [path for _, path in every], len(every) - lamps
    digests = refuse_named_twice(paths)
    found = read_by_one_chart(paths, chart, lambda at, its: read(*every[at], its), progress)
    refuse_same_picture(found)
    if not lamps:
        return ReadInLights(found, (), digests, ())
    joined = [read_in_lights(reading, found[first:]) for reading in found[:first]]
    said = [note for _, notes in joined for note in notes]
    said += [f"{one.picture.source.name}: {note}" for one in found[first:] if not one.why_not for note in one.warnings]
    readings, notes = [reading for reading, _ in joined], tuple(dict.fromkeys(said))
    return ReadInLights(readings, tuple(found[first:]), digests[:first], notes)
