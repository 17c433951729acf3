"""A card and its standard in one picture: how they differ, in each light there is a picture of."""

from __future__ import annotations

import hashlib
import os
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from finishmatch.colour import de00, light_name
from finishmatch.errors import InputError
from finishmatch.ledger.home import ledger_home
from finishmatch.ledger.photograph_marks import photograph_mark
from finishmatch.optics.camera_look import PairLook
from finishmatch.photo.exchanged_lights import refuse_exchanged
from finishmatch.photo.find.chart import Chart, chart_named
from finishmatch.photo.find.regions import Region
from finishmatch.photo.in_all_lights import in_all_lights
from finishmatch.photo.likeness import likeness_of
from finishmatch.photo.looks import panel_look
from finishmatch.photo.open.picture import open_picture
from finishmatch.photo.read import PhotoReading, read_photograph
from finishmatch.photo.side_by_side import STANDARD, TRIAL, combined, side_by_side
from finishmatch.readings.photograph_likeness import Likeness, same_photograph
from finishmatch.readings.reading import Reading, SeenDifference, TargetFacts
from finishmatch.readings.seen import MOST_U95
from finishmatch.steps.photo.named_twice import ANEW
from finishmatch.steps.photo.one_chart import read_by_one_chart
from finishmatch.steps.photo.photographs_named import regions_of_each, under_lamp
from finishmatch.steps.progress import Progress, quiet
from finishmatch.steps.seen import SeenCard

LITTLE_U95 = 2.5  # ΔE00; the camera's own file tells close colours to 0.5 to 1.4, under a lamp to 2 (docs/accuracy.md)

FAR_APART = 25.0  # ΔE00: no card or letdown is so far from what it is held against; a deep shadow over one makes 16


@dataclass(frozen=True)
class SeenRequest:
    """Which photographs show a card beside its standard.

    Parameters
    ----------
    seen : sequence of str or Path
        Read for `light`.
    seen_under : sequence of str
        LIGHT=PHOTO: taken under another lamp, and read for that light.
    region : sequence of str
        Where the two lie, "standard=x,y,w,h" and "spray-out=x,y,w,h", in every photograph, or before it the photograph
        in which they lie so, "lamp.jpg:standard=x,y,w,h"; without it they are in the windows of the shop's card, or
        found.
    chart : str, Path or None
        A readings file of what the chart's patches are.
    light, observer
        The first light of the match.
    called : (str, str)
        What standard and spray-out are called in the photographs.
    """

    seen: Sequence[str | Path] = ()
    seen_under: Sequence[str] = ()
    region: Sequence[str] = ()
    chart: str | Path | None = None
    light: str = "D65"
    observer: int = 10
    called: tuple[str, str] = (STANDARD, TRIAL)


def read_seen(request: SeenRequest, *, progress: Progress = quiet) -> SeenCard:
    """Return how a card differs from its standard in photographs that show both.

    Parameters
    ----------
    request : SeenRequest
    progress : Progress

    Raises
    ------
    InputError
        A photograph that can't serve or doesn't show the two, photographs of one light that disagree, one in daylight
        that is named as under a lamp and the other way round.
    """
    by_light = _by_light(request)
    regions = _regions(request, [path for paths in by_light.values() for path in paths])
    chart = None if request.chart is None else chart_named(request.chart)
    by_itself, readings, taken = list[SeenDifference](), list[list[PhotoReading]](), dict[str, tuple[Path, str]]()
    every = [(path, light) for light, paths in by_light.items() for path in paths]
    found = read_by_one_chart(
        [path for path, _ in every],
        chart,
        lambda at, its: _read(every[at][0], regions[every[at][0]], its, every[at][1], request.observer),
        progress,
    )
    for (path, light), reading in zip(every, found, strict=True):
        _refuse_twice(_pixels(reading), path, light, taken, ", once as a copy of it")
    likeness = {path: likeness_of(reading.picture) for (path, _), reading in zip(every, found, strict=True)}
    _refuse_saved_anew(every, likeness)
    refuse_exchanged(found)
    for light, paths in by_light.items():
        group = [reading for (_, its), reading in zip(every, found, strict=True) if its == light]
        beside = combined([side_by_side(one, request.called) for one in group], light, request.observer)
        marks = tuple(_mark(*one, request, regions[one[0]], likeness) for one in zip(paths, group, strict=True))
        by_itself.append(replace(beside, marks=marks, looks=_looks(group, request.called)))
        readings.append(group)
    seen, notes = in_all_lights(by_itself, readings, request.called)
    warnings = list(notes)
    for one, paths, group in zip(seen, by_light.values(), readings, strict=True):
        names = ", ".join(path.name for path in paths)
        _refuse_untold(one.u95, names, _by_themselves(group, request.called))
        warnings += _little_told(one.u95, names)
        warnings += [f"{read.picture.source.name}: {said}" for read in group for said in read.warnings]
    sources = tuple(path for paths in by_light.values() for path in paths)
    pair = _by_themselves(readings[0], request.called)
    return SeenCard(seen, TRIAL, sources, tuple(dict.fromkeys(warnings)), pair)


def _by_light(request: SeenRequest) -> dict[str, list[Path]]:
    """Return the photographs of each light, the first light of the match first."""
    found: dict[str, list[Path]] = {}
    if request.seen:
        found[light_name(request.light)] = [Path(one) for one in request.seen]
    for text in request.seen_under:
        light, photo = under_lamp("seen_under", text)
        found.setdefault(light, []).append(photo)
    taken: dict[str, tuple[Path, str]] = {}
    for light, paths in found.items():
        for path in paths:
            _refuse_twice(os.path.realpath(path), path, light, taken, "")
    if not taken:
        raise InputError("`seen`", "no photograph is named", "name at least one")
    return found


def _regions(request: SeenRequest, photographs: Sequence[Path]) -> dict[Path, list[Region]]:
    """Return where the two lie in each photograph."""
    found = regions_of_each(request.region, photographs)
    for region in (region for its in found.values() for region in its):
        if region.name not in request.called:
            standard, trial = request.called
            mend = f"name the two `region` {standard}=x,y,w,h and `region` {trial}=x,y,w,h"
            raise InputError(f"`region` {region.name[:40]}", "is neither the standard nor the spray-out", mend)
    return found


def _refuse_twice(known_by: str, path: Path, light: str, taken: dict[str, tuple[Path, str]], how: str) -> None:
    """See that a photograph wasn't taken before, by its file or its pixels: one picture is of one light."""
    first, its_light = taken.setdefault(known_by, (path, light))
    if first is path:
        return
    if its_light != light:
        what = f"one photograph is given for {its_light} and for {light}{how}"
        raise InputError("`seen_under`", what, "photograph the two under each light by itself")
    raise InputError("`seen`", f"one photograph is named twice{how}", "name each once")


def _refuse_saved_anew(every: Sequence[tuple[Path, str]], likeness: Mapping[Path, Likeness | None]) -> None:
    """See that no photograph stands beside a copy of it that was turned, made smaller or saved anew."""
    for i, (path, light) in enumerate(every):
        for first, its_light in every[:i]:
            if same_photograph(likeness[first], likeness[path]):
                _refuse_twice("", path, light, {"": (first, its_light)}, f"{ANEW} ({first.name} and {path.name})")


def _little_told(u95: float, names: str) -> tuple[str, ...]:
    """Return a warning where photographs tell so little that a card passes which the eye sees to be off."""
    if u95 <= LITTLE_U95:
        return ()
    return (
        f"{names}: the difference is told to ΔE00 {u95:.1f} only, so a card passes that the eye sees to be off; take "
        "the camera's own file, not a copy that a messenger sent, or photograph the two anew in even daylight",
    )


def _refuse_untold(u95: float, names: str, pair: tuple[Reading, Reading]) -> None:
    """See that photographs tell a difference at all: one of a shadow over half the card passes any card otherwise.

    Of two that are far apart it is known ill in any light: the doubt grows with the difference.
    """
    if u95 <= MOST_U95:
        return
    standard, trial = pair
    apart = float(de00(np.asarray(standard.lab), np.asarray(trial.lab)))
    if apart > FAR_APART:
        what = f"shows two colours that are ΔE00 {apart:.0f} apart, too far to tell how far"
        mend = "is it the right piece, or panel, that lies beside it, and no shadow over one of the two?"
        raise InputError(names, what, mend)
    what = f"can't serve; the difference is known to ΔE00 {u95:.1f} only, so any card would pass"
    raise InputError(names, what, "photograph the two anew: in even daylight, no shadow over either")


def _by_themselves(readings: Sequence[PhotoReading], called: tuple[str, str]) -> tuple[Reading, Reading]:
    """Return standard and card by their own colours, the mean of the photographs."""

    def mean(name: str) -> Reading:
        found = [region for one in readings for region in one.regions if region.name == name]
        lab, facts = np.mean([one.lab for one in found], axis=0), TargetFacts(u95=max(one.u95 for one in found))
        return Reading(name, lab[None], readings[0].light, readings[0].observer, target=facts)

    return mean(called[0]), mean(called[1])


def _looks(readings: Sequence[PhotoReading], called: tuple[str, str]) -> tuple[PairLook, ...]:
    """Return what the cameras of photographs in one light saw of the two, where that is known well enough."""
    found = []
    for reading in readings:
        regions = {one.name: one for one in reading.regions}
        standard, trial = (panel_look(reading, regions[name]) for name in called)
        if standard is not None and trial is not None:
            found.append(PairLook(standard, trial, side_by_side(reading, called).doubt.own))
    return tuple(found)


def _mark(
    path: Path,
    reading: PhotoReading,
    request: SeenRequest,
    regions: Sequence[Region],
    likeness: Mapping[Path, Likeness | None],
) -> str:
    """Return by what a photograph of this card is known again: one may show several cards."""
    trial = request.called[1]
    said = next((repr(region) for region in regions if region.name == trial), trial)
    corners = next(one.quad for one in reading.regions if one.name == trial)
    file = hashlib.sha256(path.read_bytes() + said.encode()).hexdigest()  # all that records of an older form hold
    return photograph_mark(file, _pixels(reading), corners.tolist(), likeness[path])


def _pixels(reading: PhotoReading) -> str:
    return hashlib.sha256(reading.picture.values.tobytes()).hexdigest()


def _read(path: Path, regions: Sequence[Region], chart: Chart | None, light: str, observer: int) -> PhotoReading:
    return read_photograph(open_picture(path), regions, chart=chart, light=light, observer=observer, home=ledger_home())
