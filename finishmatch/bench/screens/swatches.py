"""Two colours of a job edge to edge in a chosen light, how they differ in words, and their plots."""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, Query
from fastapi.responses import Response

from finishmatch.bench.charts import Dot, ab_plane, spectra
from finishmatch.bench.desk import AtDesk
from finishmatch.bench.parameters import JobRef
from finishmatch.colour import WAVELENGTHS_NM
from finishmatch.errors import InputError
from finishmatch.steps.side_by_side import ColourShown, SideBySide, side_by_side

router = APIRouter(include_in_schema=False)

NumberOrNone = Annotated[str, Query(pattern=r"^([1-9][0-9]{0,8})?$")]
LightName = Annotated[str, Query(pattern=r"^[A-Za-z0-9-]{0,10}$")]


@router.get("/job/{ref}/swatches")
def swatches(
    ref: JobRef, desk: AtDesk, standard: NumberOrNone = "", trial: NumberOrNone = "", light: LightName = ""
) -> Response:
    """Show two colours of a job side by side."""
    shown = desk.shown(ref)
    one, two = (int(number) if number else None for number in (standard, trial))
    try:
        found: SideBySide = desk.bench.remembered(
            ("side by side", ref, one, two, light),
            lambda: side_by_side(ref, standard=one, trial=two, light=light or None),
        )
    except InputError as error:
        desk.wrong = error
        found = side_by_side(ref)
    colours = [colour for colour in (found.standard, found.trial) if colour is not None]
    dots = [_dot(colour) for colour in colours]
    tolerance = None if found.compared is None else found.compared.verdict.tolerance
    drawn = [dot for dot in dots if len(dot.reflectance)]
    return desk.page(
        "swatches.html",
        shown=shown,
        found=found,
        colours=colours,
        plane=ab_plane("swatches", dots, tolerance) if dots else "",
        curves=spectra("swatches", dots) if drawn else "",
        drawn=drawn,
    )


def _dot(colour: ColourShown) -> Dot:
    reflectance = colour.of.reading.reflectance
    name = f"{colour.of.kind} #{colour.of.number}"
    if reflectance is None:
        return Dot(name, colour.lab.tolist(), colour.screen)
    return Dot(name, colour.lab.tolist(), colour.screen, WAVELENGTHS_NM.tolist(), reflectance.tolist())
