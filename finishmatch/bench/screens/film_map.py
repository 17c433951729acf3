"""The film map: the chance of breaking through on an outline of the panel; readings and defects entered at a place."""

from __future__ import annotations

import re
from dataclasses import dataclass, replace
from typing import Annotated, Any
from urllib.parse import urlencode

from fastapi import APIRouter, Query
from fastapi.responses import Response

from finishmatch.bench.desk import AtDesk, Desk
from finishmatch.bench.panels import OUTLINES, PanelDrawn
from finishmatch.bench.parameters import JobRef
from finishmatch.cautions import REWORK
from finishmatch.errors import InputError
from finishmatch.steps.defect.kinds import list_kinds
from finishmatch.steps.defect.log import LogRequest, log
from finishmatch.steps.defect.map import MOST_MM, FilmMapped, MapCell, MapRequest, map_film
from finishmatch.steps.job.film import film

router = APIRouter(include_in_schema=False)

PanelName = Annotated[str, Query(max_length=80)]
Millimetres = Annotated[str, Query(pattern=r"^([0-9]{1,5}(\.[0-9]{1,2})?)?$")]
Typed = Annotated[str, Query(max_length=40)]
DEEPEST_UM = 5000.0
FINE = 16  # cells across of what is drawn; the zones that are numbered are coarser
ACROSS = 5
_WHOLE_MM = re.compile(r"[0-9]{1,5}(\.[0-9]{1,2})?")
FLATTEST = 0.3  # what is flatter is drawn higher than it is, so that a finger finds its place


@dataclass(frozen=True)
class Asked:
    """What the address of the map asks for: a panel, the place that was tapped, the depth of a pit."""

    panel: str = ""
    x: str = ""
    y: str = ""
    depth: str = ""

    @property
    def at(self) -> tuple[float, float] | None:
        """The place that was tapped, mm across and down."""
        return (float(self.x), float(self.y)) if self.x and self.y else None


@dataclass(frozen=True)
class Zone:
    """A part of the outline that can be tapped: its middle, its size, and what the map says there."""

    at: tuple[float, float]
    size: tuple[float, float]
    cell: MapCell | None


@router.get("/job/{ref}/film-map")
def film_map(
    ref: JobRef, desk: AtDesk, panel: PanelName = "", x: Millimetres = "", y: Millimetres = "", depth: Typed = ""
) -> Response:
    """Show the film over a panel on its outline."""
    asked = Asked(panel, x, y)
    try:
        asked = replace(asked, depth=_depth(desk, depth.strip()))
    except InputError as error:
        desk.wrong = error
    return _page(ref, asked, desk)


def _depth(desk: Desk, text: str) -> str:
    """Return the depth of a pit that the map is asked for, µm, as it stands in an address; "" where none is."""
    if not text:
        return ""
    depth = desk.number_in("`depth`", text)
    if not 0 <= depth <= DEEPEST_UM:
        raise InputError("`depth`", f"{depth:g} µm is no pit", f"give 0 to {DEEPEST_UM:g} µm")
    return f"{depth:.2f}".rstrip("0").rstrip(".")


@router.post("/job/{ref}/film-map/panel")
def give_panel(ref: JobRef, desk: AtDesk) -> Response:
    """Remember the outline and the size of a panel."""

    def do() -> str:
        panel = _panel_named(desk)
        desk.bench.panels.give(ref, panel, desk.text("outline"), (desk.needed("width"), desk.needed("height")))
        return _back(ref, Asked(panel))

    return desk.sent(do, lambda: _page(ref, _of_form(desk), desk))


@router.post("/job/{ref}/film-map/build")
def build_here(ref: JobRef, desk: AtDesk) -> Response:
    """Record a build reading at the place that was tapped."""

    def do() -> str:
        panel, layer = _panel_named(desk), desk.text("layer")
        if not layer:
            raise InputError("`layer`", "isn't named", "say which")
        x, y = _place(desk, ref, panel)
        recorded = film(ref, panel, layer, [desk.needed("build_um")], places=[f"{x:g}/{y:g}"])
        desk.say(f"Recorded as #{recorded.entries[0].number}")
        desk.note(*recorded.warnings)
        return _back(ref, Asked(panel))

    return desk.sent(do, lambda: _page(ref, _of_form(desk), desk), ref=ref, bearing=("film",))


@router.post("/job/{ref}/film-map/defect")
def defect_here(ref: JobRef, desk: AtDesk) -> Response:
    """Record a defect at the place that was tapped."""

    def do() -> str:
        panel = _panel_named(desk)
        at = _place(desk, ref, panel)
        depth = desk.number("depth_um")
        recorded = log(LogRequest(desk.text("kind"), panel, count=desk.whole("count"), depth_um=depth, at=at), job=ref)
        desk.say(f"Logged as #{recorded.entries[0].number}")
        desk.note(*recorded.warnings)
        return _back(ref, Asked(panel))

    return desk.sent(do, lambda: _page(ref, _of_form(desk), desk))


def _panel_named(desk: Desk) -> str:
    panel = desk.text("panel")[:80]
    if not panel:
        raise InputError("the panel", "isn't named", "say which")
    return panel


def _place(desk: Desk, ref: str, panel: str) -> tuple[float, float]:
    """Return the place that was tapped or typed, mm across and down; one beside the panel is none."""
    drawn, place = desk.bench.panels.drawn(ref, panel), (desk.needed("x"), desk.needed("y"))
    for name, value, size in zip("xy", place, drawn.size, strict=True):
        most = size if drawn.given else MOST_MM  # until it is measured it is as large as it may be
        if not 0 <= value <= most:
            raise InputError(f"`{name}`", f"{value:g} mm isn't on the panel", f"it goes from 0 to {most:g} mm")
    return place


def _back(ref: str, asked: Asked) -> str:
    return f"/job/{ref}/film-map?{urlencode({'panel': asked.panel})}"


def _of_form(desk: Desk) -> Asked:
    x, y = (text if _WHOLE_MM.fullmatch(text) else "" for text in (desk.text("x"), desk.text("y")))
    return Asked(desk.text("panel")[:80], x, y)


def _page(ref: str, asked: Asked, desk: Desk) -> Response:
    shown = desk.shown(ref)
    layers = [view.entry for view in shown.entries if view.kind == "film-layer" and view.stands]
    panels = list(dict.fromkeys(layer.panel for layer in layers))  # type: ignore[attr-defined]
    panel = asked.panel or (panels[-1] if panels else "")
    drawn = desk.bench.panels.drawn(ref, panel)
    fine: FilmMapped | None = None
    zones: FilmMapped | None = None
    why_not = ""
    if any(panel.casefold() == one.casefold() for one in panels):
        try:
            fine, zones = _mapped(ref, replace(asked, panel=panel), drawn, desk)
        except InputError as error:
            why_not = str(error)
    names = [layer.layer for layer in layers if layer.panel == panel]  # type: ignore[attr-defined]
    context: dict[str, Any] = {
        "kinds": [(item.kind.name, item.kind.name) for item in list_kinds().kinds],
        "why_not": why_not,
        "layers": list(dict.fromkeys(names)),
        "outlines": [(name, name) for name in OUTLINES],
        "stretch": max(1.0, FLATTEST * drawn.size[0] / drawn.size[1]),
        "tapped": _tapped(drawn.size, zones),
        "cautions_found": desk.cautions(ref, REWORK),
    }
    return desk.page(
        "film_map.html",
        shown=shown,
        asked=asked,
        panel=panel,
        panels=panels,
        drawn=drawn,
        fine=fine,
        zones=zones,
        **context,
    )


def _mapped(ref: str, asked: Asked, drawn: PanelDrawn, desk: Desk) -> tuple[FilmMapped, FilmMapped]:
    """Return the map as it is drawn, which no tap changes, and the zones with the place that was tapped."""
    depth = float(asked.depth) if asked.depth else None
    width, height = drawn.size
    rows = max(4, min(2 * FINE, round(FINE * height / width)))
    fine = MapRequest(asked.panel, drawn.size, FINE, rows, depth_um=depth)
    zones = MapRequest(asked.panel, drawn.size, ACROSS, _down(drawn.size), at=asked.at, depth_um=depth)

    def found(request: MapRequest) -> FilmMapped:
        mapped: FilmMapped = desk.bench.remembered(("film map", ref, request), lambda: map_film(request, job=ref))
        return mapped

    return found(fine), found(zones)


def _down(size: tuple[float, float]) -> int:
    """Return how many zones lie below each other: on a phone each is as high as a gloved finger needs."""
    return max(2, min(12, int(6.8 * max(FLATTEST, size[1] / size[0]))))


def _tapped(size: tuple[float, float], zones: FilmMapped | None) -> list[Zone]:
    """Return the zones of an outline: those of the map, or the same without numbers where nothing was read yet."""
    across, down = ACROSS, _down(size)
    side = (size[0] / across, size[1] / down)
    if zones is not None:
        return [Zone(cell.at, side, cell) for cell in zones.cells]
    return [Zone(((i + 0.5) * side[0], (j + 0.5) * side[1]), side, None) for j in range(down) for i in range(across)]
