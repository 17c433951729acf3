"""The film map: the chance of breaking through on an outline of the panel; readings and defects entered at a place."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated, Any
from urllib.parse import quote

from fastapi import APIRouter, Query
from fastapi.responses import Response

from finishmatch.bench.desk import AtDesk, Desk
from finishmatch.bench.parameters import JobRef
from finishmatch.cautions import REWORK
from finishmatch.errors import InputError
from finishmatch.steps.defect.kinds import list_kinds
from finishmatch.steps.defect.log import LogRequest, log
from finishmatch.steps.defect.map import FilmMapped, MapRequest, map_film
from finishmatch.steps.job.film import film

router = APIRouter(include_in_schema=False)

PanelName = Annotated[str, Query(max_length=80)]
Millimetres = Annotated[str, Query(pattern=r"^([0-9]{1,5}(\.[0-9]{1,2})?)?$")]
USUAL_SIZE = ("1200", "800")
FINE = 24  # cells across of what is drawn; zones that are tapped are coarser
ZONES = (5, 4)

# of our own: drawn in a square of 100, stretched to the panel
OUTLINES = {
    "flat": ("flat panel", "M2,0H98Q100,0 100,2V98Q100,100 98,100H2Q0,100 0,98V2Q0,0 2,0Z"),
    "door": ("door", "M22,0H92Q99,0 99,8L100,92Q100,100 92,100H6Q0,100 0,92V44Q2,38 8,30Z"),
    "wing": ("wing", "M0,46Q8,12 40,4Q76,-4 100,14V100H86Q82,60 58,58Q34,60 30,100H0Z"),
    "bonnet": ("bonnet", "M14,0Q50,-4 86,0Q94,40 100,94Q50,104 0,94Q6,40 14,0Z"),
}
_WORDS = {"door": "door", "wing": "wing", "fender": "wing", "bonnet": "bonnet", "hood": "bonnet"}


@dataclass(frozen=True)
class Asked:
    """What the address of the map asks for."""

    panel: str
    width: str
    height: str
    x: str
    y: str
    depth: str

    @property
    def size(self) -> tuple[float, float]:
        """The panel's width and height, mm."""
        return float(self.width or USUAL_SIZE[0]), float(self.height or USUAL_SIZE[1])

    @property
    def at(self) -> tuple[float, float] | None:
        """The place that was tapped."""
        return (float(self.x), float(self.y)) if self.x and self.y else None


@router.get("/job/{ref}/film-map")
def film_map(
    ref: JobRef,
    desk: AtDesk,
    panel: PanelName = "",
    width: Millimetres = "",
    height: Millimetres = "",
    x: Millimetres = "",
    y: Millimetres = "",
    depth: Millimetres = "",
) -> Response:
    """Show the film over a panel on its outline."""
    return _page(ref, Asked(panel, width, height, x, y, depth), desk)


@router.post("/job/{ref}/film-map/build")
def build_here(ref: JobRef, desk: AtDesk) -> Response:
    """Record a build reading at the place that was tapped."""

    def do() -> str:
        place = _place(desk)
        recorded = film(ref, desk.text("panel"), desk.text("layer"), [desk.needed("build_um")], places=[place])
        desk.say(f"Recorded as #{recorded.entries[0].number}", *recorded.warnings)
        return _back(ref, desk)

    return desk.sent(do, lambda: _page(ref, _of_form(desk), desk), ref=ref, bearing=("film",))


@router.post("/job/{ref}/film-map/defect")
def defect_here(ref: JobRef, desk: AtDesk) -> Response:
    """Record a defect at the place that was tapped."""

    def do() -> str:
        _place(desk)
        at = (desk.needed("x"), desk.needed("y"))
        request = LogRequest(
            desk.text("kind"),
            desk.text("panel"),
            count=desk.whole("count"),
            depth_um=desk.number("depth_um"),
            at=at,
        )
        recorded = log(request, job=ref)
        desk.say(f"Logged as #{recorded.entries[0].number}", *recorded.warnings)
        return _back(ref, desk)

    return desk.sent(do, lambda: _page(ref, _of_form(desk), desk))


def _place(desk: Desk) -> str:
    if not desk.text("panel"):
        raise InputError("the panel", "isn't named", "say which")
    return f"{desk.needed('x'):g}/{desk.needed('y'):g}"


def _back(ref: str, desk: Desk) -> str:
    width, height = _of_form(desk).size
    return f"/job/{ref}/film-map?width={width:g}&height={height:g}&panel={quote(desk.text('panel')[:80], safe='')}"


def _of_form(desk: Desk) -> Asked:
    width, height = (desk.text(name) if desk.text(name).isdecimal() else "" for name in ("width", "height"))
    x, y = (desk.text(name) if desk.text(name).isdecimal() else "" for name in ("x", "y"))
    return Asked(desk.text("panel")[:80], width[:5], height[:5], x[:5], y[:5], "")


def _page(ref: str, asked: Asked, desk: Desk) -> Response:
    shown = desk.shown(ref)
    layers = [view.entry for view in shown.entries if view.kind == "film-layer" and view.stands]
    panels = list(dict.fromkeys(layer.panel for layer in layers))  # type: ignore[attr-defined]
    panel = asked.panel or (panels[-1] if panels else "")
    fine: FilmMapped | None = None
    zones: FilmMapped | None = None
    why_not = ""
    if panel in panels:
        try:
            fine, zones = desk.bench.remembered(("film map", ref, panel, asked), lambda: _mapped(ref, panel, asked))
        except InputError as error:
            why_not = str(error)
    names = [layer.layer for layer in layers if layer.panel == panel]  # type: ignore[attr-defined]
    outline = next((form for word, form in _WORDS.items() if word in panel.casefold()), "flat")
    context: dict[str, Any] = {
        "kinds": [(item.kind.name, item.kind.name) for item in list_kinds().kinds],
        "why_not": why_not,
        "layers": list(dict.fromkeys(names)),
        "outline": OUTLINES[outline],
        "cautions_found": desk.cautions(ref, REWORK),
    }
    return desk.page(
        "film_map.html", shown=shown, asked=asked, panel=panel, panels=panels, fine=fine, zones=zones, **context
    )


def _mapped(ref: str, panel: str, asked: Asked) -> tuple[FilmMapped, FilmMapped]:
    depth = float(asked.depth) if asked.depth else None
    width, height = asked.size
    rows = max(4, min(FINE, round(FINE * height / width)))
    zones = MapRequest(panel, asked.size, *ZONES, at=asked.at, depth_um=depth)
    fine = MapRequest(panel, asked.size, FINE, rows, depth_um=depth)
    return map_film(fine, job=ref), map_film(zones, job=ref)
