"""`finishmatch photo read`: colours from photographs with a 24-patch chart in them."""

from __future__ import annotations

import math
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from finishmatch.cli.common import emit_json, job_option, json_option, say_recorded, say_warnings, stage, swatch, table
from finishmatch.errors import InputError
from finishmatch.files import write_file

if TYPE_CHECKING:
    from finishmatch.photo.combine import CombinedRegion
    from finishmatch.photo.find.chart import Chart
    from finishmatch.photo.find.regions import Region
    from finishmatch.photo.read import LostRegion, PhotoDifference, PhotoReading

EXAMPLE = """\b
Examples:
  finishmatch photo read swatches/photo.jpg
  finishmatch photo read swatches/photo.jpg --region "tin=117,75,90,60" --region "card 1=303,75,90,60" --light A
  finishmatch photo read swatches/photo.jpg --save readings.csv --overlay seen.png

Lay a 24-patch chart beside the samples and photograph both together. Exit status: 0 read; 1 the photograph can't
serve, and what to change; 2 the input is wrong.
"""


@click.command("read", epilog=EXAMPLE)
@click.argument("image", nargs=-1, required=True)
@click.option(
    "--region",
    "region_texts",
    multiple=True,
    metavar="NAME=x,y,w,h",
    help="A sample, in pixels from the top left of the upright picture; repeat for several. Without it those in "
    "the windows of the shop's card, or beside the chart, are found.",
)
@click.option(
    "--skip-patch", "skip", type=int, multiple=True, metavar="N", help="Leave a dirty patch out, 1 to 24; repeat it."
)
@click.option(
    "--chart", "chart_file", metavar="FILE", help="What your own chart reads: a readings file, names 1 to 24."
)
@click.option("--light", default="D65", show_default=True, help="CIE light the colours are told in.")
@click.option(
    "--observer", type=click.Choice(["2", "10"]), default="10", show_default=True, help="CIE observer, degrees."
)
@click.option(
    "--within",
    type=float,
    default=0.5,
    show_default=True,
    help="With several photographs: the ΔE00 for which the number needed is told.",
)
@click.option("--save", metavar="FILE", help="Write the colours as a readings file, for compare, mix and correct.")
@click.option("--overlay", metavar="FILE", help="Write a picture (.png, .jpg) of where chart and samples were found.")
@job_option
@json_option
def read_command(
    image: tuple[str, ...],
    region_texts: tuple[str, ...],
    skip: tuple[int, ...],
    chart_file: str | None,
    light: str,
    observer: str,
    within: float,
    save: str | None,
    overlay: str | None,
    job: str | None,
    as_json: bool,
) -> int:
    """Read the colours of samples from photographs IMAGE that have a 24-patch chart in them.

    Several photographs of the same samples are combined.
    """
    from finishmatch.cli.inputs import light_list
    from finishmatch.photo.combine import combine_differences, combine_regions
    from finishmatch.photo.find.chart import read_chart
    from finishmatch.steps.record import check_job

    lights = light_list([light])
    if len(lights) != 1:
        raise InputError("--light", f"names {len(lights)} lights", "a photograph is told in one; run it once for each")
    if not (math.isfinite(within) and within > 0):
        raise InputError("--within", f"{within:g} is not a difference", "give a ΔE00 above 0")
    regions = _regions(region_texts)
    _check_outputs(image, save, overlay)
    check_job(job)
    chart = read_chart(Path(chart_file)) if chart_file is not None else None
    readings = [_read(text, regions, chart, skip, lights[0], int(observer), as_json) for text in image]
    served = [reading for reading in readings if not reading.why_not]
    found = combine_regions(served, within)
    differences = combine_differences(served, found) if served else ()
    warnings = _warnings(readings, found)
    why = "" if served else readings[0].why_not
    if overlay is not None:
        from finishmatch.photo.overlay import write_overlay

        write_overlay(readings[0], Path(overlay))
    if save is not None and served:
        _save(Path(save), image, found, lights[0], observer)
    recorded = _record(job, found, lights[0], int(observer), served)
    if as_json:
        emit_json(_document(readings, found, differences, warnings, why))
    else:
        _show(readings, found, differences, warnings, why)
        if save is not None and served:
            click.echo(f"  saved in {save}; for example: finishmatch compare {_example(save, found)}")
        if overlay is not None:
            click.echo(f"  drawn in {overlay}")
        say_recorded(job, recorded)
    return 0 if served else 1


def _regions(texts: Sequence[str]) -> list[Region]:
    from finishmatch.photo.find.regions import typed_region

    regions = [typed_region(text) for text in texts]
    names = [region.name for region in regions]
    for name in names:
        if names.count(name) > 1:
            raise InputError(f"--region {name[:40]}", "is named twice", "give each sample a name of its own")
    return regions


def _check_outputs(image: Sequence[str], save: str | None, overlay: str | None) -> None:
    """See that what is to be written can be, before anything is read."""
    if overlay is not None:
        from finishmatch.photo.overlay import check_overlay

        check_overlay(Path(overlay))
    if save is not None and not Path(save).parent.is_dir():
        raise InputError("--save", f"there is no folder {Path(save).parent}", "make it, or name another")
    for option, name in (("--save", save), ("--overlay", overlay)):
        if name is not None and any(Path(name).resolve() == Path(one).resolve() for one in image):
            raise InputError(option, "is a photograph that is to be read", "name another file")


def _read(
    text: str,
    regions: Sequence[Region],
    chart: Chart | None,
    skip: Sequence[int],
    light: str,
    observer: int,
    quiet: bool,
) -> PhotoReading:
    from finishmatch.ledger.home import ledger_home
    from finishmatch.photo.open.picture import open_picture
    from finishmatch.photo.read import read_photograph

    with stage(f"reading {Path(text).name}", quiet):
        picture = open_picture(Path(text))
        home = ledger_home()
        return read_photograph(picture, regions, chart=chart, skip=skip, light=light, observer=observer, home=home)


def _warnings(readings: Sequence[PhotoReading], found: Sequence[CombinedRegion]) -> list[str]:
    """Return all warnings, each once; with several photographs each says which it is of."""
    if len(readings) == 1:
        return list(readings[0].warnings)
    told: list[str] = []
    for i, reading in enumerate(readings):
        name = _name(reading)
        if reading.why_not and any(not one.why_not for one in readings):
            told.append(f"{name}: not used: {reading.why_not}")
        told += [f"{name}: {warning}" for warning in reading.warnings]
        aside = [region.name for region in found if i in region.set_aside]
        if aside:
            told.append(f"{name}: set aside for {', '.join(aside)}: read too far from the other photographs")
    return list(dict.fromkeys(told))


def _lost(readings: Sequence[PhotoReading], found: Sequence[CombinedRegion]) -> list[LostRegion]:
    """Return the samples that none of the photographs could read, each once."""
    read = {region.name for region in found}
    lost: dict[str, LostRegion] = {}
    for reading in readings:
        for one in reading.lost:
            if one.name not in read:
                lost.setdefault(one.name, one)
    return list(lost.values())


def _name(reading: PhotoReading) -> str:
    return reading.picture.source.name


def _median(values: Sequence[float]) -> float:
    import statistics

    return float(statistics.median(values))


def _chart_document(readings: Sequence[PhotoReading]) -> dict[str, Any]:
    """Return what the chart told, over all photographs in which it was found: the medians."""
    import numpy as np

    fits = [reading.fit for reading in readings if reading.fit is not None]
    if not fits:
        none = {"median": None, "p90": None}
        found = any(reading.chart is not None for reading in readings)
        return {"found": found, "printed": False, "patches_used": 0, "fit_de00_median": None, "leave_one_out": none}
    return {
        "found": any(reading.chart is not None for reading in readings),
        "printed": any(reading.printed for reading in readings),
        "patches_used": min(len(reading.patches) for reading in readings if reading.fit is not None),
        "fit_de00_median": _median([float(np.median(fit.residuals)) for fit in fits]),
        "leave_one_out": {
            "median": _median([float(np.median(fit.left_out)) for fit in fits]),
            "p90": _median([float(np.percentile(fit.left_out, 90)) for fit in fits]),
        },
    }


def _document(
    readings: Sequence[PhotoReading],
    found: Sequence[CombinedRegion],
    differences: Sequence[PhotoDifference],
    warnings: Sequence[str],
    why: str,
) -> dict[str, Any]:
    light, observer = readings[0].light, readings[0].observer
    return {
        "chart": _chart_document(readings),
        "card": any(reading.card is not None for reading in readings),
        "regions": [
            {
                "name": region.name,
                "lab": region.lab,
                "light": light,
                "observer": observer,
                "u95": region.u95,
                "rejected": region.rejected,
                "clipped": region.clipped,
                "photographs": len(region.labs),
                "spread_de00": region.spread_de00,
                "photographs_needed": region.needed,
            }
            for region in found
        ],
        "lost": [{"name": one.name, "why": one.why} for one in _lost(readings, found)],
        "differences": [
            {"standard": one.standard, "trial": one.trial, "de00": one.de00, "u95": one.u95} for one in differences
        ],
        "photographs": [
            {
                "file": str(reading.picture.source),
                "chart": _chart_document([reading]),
                "card": reading.card is not None,
                "used": not reading.why_not,
                "why_not": reading.why_not,
                "lost": [one.name for one in reading.lost],
            }
            for reading in readings
        ],
        "why": why,
        "warnings": list(warnings),
    }


def _show(
    readings: Sequence[PhotoReading],
    found: Sequence[CombinedRegion],
    differences: Sequence[PhotoDifference],
    warnings: Sequence[str],
    why: str,
) -> None:
    chart = _chart_document(readings)
    if chart["leave_one_out"]["median"] is not None:
        left = chart["leave_one_out"]
        many = f"; {len(readings)} photographs" if len(readings) > 1 else ""
        what = "chart found" if chart["found"] else "no chart; the card's registered print serves"
        click.echo(
            f"  {what}, {chart['patches_used']} patches used; each read without itself: ΔE00 {left['median']:.2f} "
            f"(median), 90 in 100 within {left['p90']:.2f}{many}"
        )
    if found:
        _show_regions(found, _lost(readings, found), readings[0].light, readings[0].observer, len(readings) > 1)
    if differences:
        rows = [[f"{one.trial} against {one.standard}", f"{one.de00:.2f}", f"±{one.u95:.2f}"] for one in differences]
        click.echo()
        click.echo("\n".join(table(["in one photograph", "ΔE00", "95 in 100"], rows)))
        click.echo("  Samples under one light are compared far more surely than either is known by itself.")
    say_warnings(warnings)
    if why:
        click.echo(f"  This photograph can't serve: {why}" if len(readings) == 1 else f"  None can serve: {why}")


def _show_regions(
    found: Sequence[CombinedRegion], lost: Sequence[LostRegion], light: str, observer: int, several: bool
) -> None:
    from finishmatch.colour.display import lab_to_hex

    header = ["", f"{light}, {observer}°", "L*", "a*", "b*", "ΔE00, 95 in 100", "set aside"]
    rows = []
    for region in found:
        row = [swatch(lab_to_hex(region.lab)), region.name, *(f"{value:.1f}" for value in region.lab)]
        row += [f"±{region.u95:.1f}", f"{100 * region.rejected:.0f} %"]
        if several:
            spread = "-" if region.spread_de00 is None else f"{region.spread_de00:.2f}"
            row += [str(len(region.labs)), spread, "-" if region.needed is None else str(region.needed)]
        rows.append(row)
    if several:
        header += ["photographs", "spread", "needed"]
    rows += [["", one.name, "-", "-", "-", "lost", *["-"] * (len(header) - 6)] for one in lost]
    click.echo()
    click.echo("\n".join(table(header, rows)))


def _save(path: Path, image: Sequence[str], found: Sequence[CombinedRegion], light: str, observer: str) -> None:
    """Write what was found as a readings file, one line for each photograph."""
    import csv
    import io

    from finishmatch.photo.read import GEOMETRY

    text = io.StringIO()
    text.write(f"# read from {', '.join(Path(one).name for one in image)} by finishmatch photo read\n")
    for region in found:
        text.write(f"# {' '.join(region.name.split())}: within ΔE00 {region.u95:.2f}, 95 times in 100\n")
    writer = csv.writer(text, lineterminator="\n")
    writer.writerow(["name", "geometry", "L", "a", "b", "light", "observer"])
    for region in found:
        for lab in region.labs:
            writer.writerow([region.name, GEOMETRY, *(f"{value:.3f}" for value in lab), light, observer])
    write_file(path, text.getvalue())


def _example(save: str, found: Sequence[CombinedRegion]) -> str:
    import shlex

    names = [shlex.quote(f"{save}@{region.name}") for region in found[:2]]
    return " ".join(names) if len(names) == 2 else f"{names[0]} L,a,b"


def _record(
    job: str | None, found: Sequence[CombinedRegion], light: str, observer: int, served: Sequence[PhotoReading]
) -> list[int]:
    if job is None or not found:
        return []
    from finishmatch.ledger import ReadingEntry
    from finishmatch.photo.read import GEOMETRY
    from finishmatch.steps.record import record_to

    entries = [
        ReadingEntry(
            role="photograph",
            name=region.name,
            lab=region.lab.tolist(),
            light=light,
            observer=observer,
            geometry=GEOMETRY,
            repeats=len(region.labs),
            spread_de00=region.spread_de00,
            u95=region.u95,
        )
        for region in found
    ]
    return record_to(job, entries, [reading.picture.source for reading in served])
