"""Photographs are read: the colours of the samples in them, how sure each is, and how far they differ."""

from __future__ import annotations

import csv
import io
import math
import os
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

from finishmatch.colour import light_name
from finishmatch.errors import InputError
from finishmatch.ledger import ReadingEntry
from finishmatch.ledger.home import ledger_home
from finishmatch.optics.camera_look import CameraSaw
from finishmatch.outputs import check_output, write_output
from finishmatch.photo.combine import CombinedRegion, combine_differences, combine_regions, own_u95, unlike
from finishmatch.photo.find.chart import Chart, chart_named
from finishmatch.photo.find.regions import Region
from finishmatch.photo.geometry import GEOMETRY
from finishmatch.photo.open.picture import open_picture
from finishmatch.photo.overlay import SUFFIXES, drawn_overlay
from finishmatch.photo.read import PhotoDifference, PhotoReading, read_photograph
from finishmatch.readings.guarded_cells import guarded
from finishmatch.readings.look_form import saw_cell, saw_document
from finishmatch.readings.looks_of_rows import CAMERA_SAW
from finishmatch.steps.photo.looks_kept import LooksOfSamples, looks_of_samples
from finishmatch.steps.photo.photo_read import PhotoRead
from finishmatch.steps.photo.photographs_named import lamps_beside, regions_of_each
from finishmatch.steps.photo.read_again import record_readings
from finishmatch.steps.photo.read_with_lamps import read_with_lamps
from finishmatch.steps.progress import Progress, quiet
from finishmatch.steps.record import check_job


@dataclass(frozen=True)
class PhotoRequest:
    """What is asked of photographs besides which they are.

    Parameters
    ----------
    region : tuple of str or Region
        The samples, each "NAME=x,y,w,h" in pixels of the upright picture, or "PHOTO:NAME=x,y,w,h" of one photograph;
        none is those in the windows of the shop's card, or found beside the chart.
    skip_patch : tuple of int
        Patches of the chart, 1 to 24, that are left out: dirty ones.
    chart : str, Path or None
        The chart, as `chart_named` takes it; None is the one that is registered, or else the usual one as published.
    light : str
    observer : int
        For which the colours are given.
    under : tuple of str
        LIGHT=PHOTO: photographs of the same samples under lamps, by which those in `light` are known nearer.
    within : float
        ΔE00: the certainty for which the number of photographs needed is given.
    save : str, Path or None
        Where the colours are written, as a readings file.
    overlay : str, Path or None
        Where a picture is written that shows the chart and the samples found.
    replace : bool
        Whether they may be written over files that the program didn't write.
    """

    region: tuple[str | Region, ...] = ()
    skip_patch: tuple[int, ...] = ()
    chart: str | Path | None = None
    light: str = "D65"
    observer: int = 10
    under: tuple[str, ...] = ()
    within: float = 0.5
    save: str | Path | None = None
    overlay: str | Path | None = None
    replace: bool = False


def read_photo(
    photographs: str | Path | Sequence[str | Path],
    request: PhotoRequest = PhotoRequest(),
    *,
    job: str | None = None,
    progress: Progress = quiet,
) -> PhotoRead:
    """Read the colours of samples from photographs that have a 24-patch chart, or the shop's card, in them.

    Parameters
    ----------
    photographs : str, Path or sequence of them
        One, or several of the same samples, which are combined.
    request : PhotoRequest
    job : str or None
        Where the colours are recorded.
    progress : Progress

    Returns
    -------
    PhotoRead

    Raises
    ------
    InputError
        What was given is wrong; nothing is written or recorded then.
    """
    paths = _paths(photographs)
    light = _one_light(request.light)
    lamps = lamps_beside(request.under, light)
    every = [*((light, path) for path in paths), *lamps]
    regions = regions_of_each(request.region, [path for _, path in every])
    _check_outputs([path for _, path in every], request)
    check_job(job)
    chart = None if request.chart is None else chart_named(request.chart)
    lit = read_with_lamps(
        every, len(lamps), chart, lambda light, path, its: _read(light, path, regions, its, request), progress
    )
    readings = lit.readings
    served = [reading for reading in readings if not reading.why_not]
    found = combine_regions(served, request.within)
    saw = looks_of_samples(lit)
    differences = combine_differences(served, found)
    if request.overlay is not None:
        picture = drawn_overlay(readings[0], Path(request.overlay).suffix.lower())
        write_output(request.overlay, picture, request.replace)
    if request.save is not None and served:
        write_output(request.save, _readings_file(served, found, differences, saw), request.replace)
    why = "" if served else readings[0].why_not
    entries = [_entry(region, light, request.observer, differences, saw) for region in found]
    sources = [one.picture.source for one in (*served, *(lit.lamps if served else ()))]
    recorded, again = record_readings(job, entries, sources)
    said = (*_warnings(readings, found), *lit.notes, *again)
    return PhotoRead(tuple(readings), found, differences, light, request.observer, said, why, recorded, lit.lamps)


def _paths(photographs: str | Path | Sequence[str | Path]) -> list[Path]:
    paths = [Path(photographs)] if isinstance(photographs, str | Path) else [Path(one) for one in photographs]
    if not paths:
        raise InputError("photographs", "none is named", "name at least one")
    return paths


def _read(
    light: str, path: Path, regions: Mapping[Path, Sequence[Region]], chart: Chart | None, request: PhotoRequest
) -> PhotoReading:
    return read_photograph(
        open_picture(path),
        regions[path],
        chart=chart,
        skip=request.skip_patch,
        light=light,
        observer=request.observer,
        home=ledger_home(),
    )


def _one_light(text: str) -> str:
    names = tuple(dict.fromkeys(light_name(part) for part in text.split(",")))
    if len(names) != 1:
        raise InputError("`light`", f"names {len(names)} lights", "a photograph is read for one; run it once for each")
    return names[0]


def _check_outputs(paths: Sequence[Path], request: PhotoRequest) -> None:
    """See that what is to be written can be, and the certainty be asked for, before anything is read."""
    if not (math.isfinite(request.within) and request.within > 0):
        raise InputError("`within`", f"{request.within:g} is not a difference", "give a ΔE00 above 0")
    if request.overlay is not None and Path(request.overlay).suffix.lower() not in SUFFIXES:
        name = Path(request.overlay).name
        raise InputError("`overlay`", f"{name[:60]!r} is not a picture", "name it .png or .jpg")
    for parameter, file in (("`overlay`", request.overlay), ("`save`", request.save)):
        if file is None:
            continue
        if not Path(file).parent.is_dir():
            raise InputError(parameter, f"there is no folder {Path(file).parent}", "make it, or name another")
        if os.path.realpath(file) in map(os.path.realpath, paths):  # a link to itself raises nothing here
            raise InputError(parameter, "is a photograph that is to be read", "name another file")
        check_output(file, request.replace)


def _warnings(readings: Sequence[PhotoReading], found: Sequence[CombinedRegion]) -> list[str]:
    """Return all warnings, each once; with several photographs each says which it is of."""
    if len(readings) == 1:
        return list(readings[0].warnings)
    warnings: list[str] = []
    served = 0  # photographs that can't serve are not among those of a region
    for reading in readings:
        name = reading.picture.source.name
        if reading.why_not and any(not one.why_not for one in readings):
            warnings.append(f"{name}: not used: {reading.why_not}")
        warnings += [f"{name}: {warning}" for warning in reading.warnings]
        aside = [region.name for region in found if not reading.why_not and served in region.set_aside]
        served += not reading.why_not
        if aside:
            warnings.append(f"{name}: set aside for {', '.join(aside)}: read too far from the other photographs")
    served_ones = [reading for reading in readings if not reading.why_not]
    for sample, apart in unlike(served_ones, found):
        warnings.append(
            f"{sample}: the photographs tell it ΔE00 {apart:.0f} apart, further than they may be off: do they all show "
            "it? Samples that were found are numbered in reading order, and one that isn't seen, or a picture turned "
            "round, shifts the numbers: say where each lies with `region` PHOTO:NAME=x,y,w,h"
        )
    return list(dict.fromkeys(warnings))


def _readings_file(
    served: Sequence[PhotoReading],
    found: Sequence[CombinedRegion],
    differences: Sequence[PhotoDifference],
    saw: LooksOfSamples,
) -> str:
    """Return what was found as a readings file, one line for each photograph, with what its camera saw besides."""
    text = io.StringIO()
    names = [reading.picture.source.name for reading in served]
    viewing = (served[0].light, served[0].observer)
    text.write(f"# read from {', '.join(names)}\n")
    for region in found:
        text.write(f"# {' '.join(region.name.split())}: within ΔE00 {region.u95:.2f}, 95 times in 100\n")
    writer = csv.writer(text, lineterminator="\n")
    beside = [CAMERA_SAW] if saw else []
    writer.writerow(["name", "geometry", "L", "a", "b", "light", "observer", "u95", "u95_own", "picture", *beside])
    for region in found:
        own = own_u95(region.name, region.u95, differences)
        doubts = [f"{region.u95:.2f}", "" if own is None else f"{own:.2f}"]
        for number, lab in zip(region.counted, region.labs, strict=True):
            cells = [*(f"{value:.3f}" for value in lab), *viewing, *doubts, guarded(names[number])]
            looks = tuple(saw.get((number, region.name), ()))
            seen = [saw_cell(lab, [CameraSaw(lab, looks)] if looks else [])] if saw else []
            writer.writerow([guarded(region.name), GEOMETRY, *cells, *seen])
    return text.getvalue()


def _entry(
    region: CombinedRegion, light: str, observer: int, differences: Sequence[PhotoDifference], saw: LooksOfSamples
) -> ReadingEntry:
    looks = tuple(look for number in region.counted for look in saw.get((number, region.name), ()))
    return ReadingEntry(
        role="photograph",
        name=region.name,
        lab=region.lab.tolist(),
        light=light,
        observer=observer,
        geometry=GEOMETRY,
        repeats=len(region.labs),
        spread_de00=region.spread_de00,
        u95=region.u95,
        u95_own=own_u95(region.name, region.u95, differences),
        camera_saw=[saw_document(CameraSaw(region.lab, looks))] if looks else [],
    )
