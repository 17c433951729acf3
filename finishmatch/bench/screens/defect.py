"""A defect: logged as it was seen, its rework decided, and how that came out."""

from __future__ import annotations

from typing import Any

from fastapi import APIRouter
from fastapi.responses import Response
from starlette.exceptions import HTTPException

from finishmatch.bench.desk import AtDesk, Desk
from finishmatch.bench.labels import in_words
from finishmatch.bench.parameters import EntryNumber, JobRef
from finishmatch.cautions import REWORK
from finishmatch.errors import InputError
from finishmatch.steps.defect.advise import Advised, AdviseRequest, advise
from finishmatch.steps.defect.kinds import list_checks, list_kinds
from finishmatch.steps.defect.log import LogRequest, log
from finishmatch.steps.job.outcome import outcome
from finishmatch.steps.job.show import JobShown
from finishmatch.steps.record import InPlaceOf

router = APIRouter(include_in_schema=False)

RESULTS = (
    ("", "not known yet"),
    ("right", "it came out right"),
    ("failed", "it failed"),
    ("broke through", "it broke through"),
)


def _view(desk: Desk, ref: str, number: int, kind: str) -> Any:
    """Return an entry of a kind that stands; else there is no such page."""
    for view in desk.shown(ref).entries:
        if view.number == number and view.kind == kind and view.stands:
            return view
    raise HTTPException(404, f"#{number} is no {kind} of {ref} that stands")


def _layers(shown: JobShown) -> list[Any]:
    return [view.entry for view in shown.entries if view.kind == "film-layer" and view.stands]


def _reached(shown: JobShown, panel: str = "") -> list[tuple[str, str]]:
    """Return the layers that may lie bare, of one panel or of all, for a list to choose from."""
    there = [layer.layer for layer in _layers(shown) if not panel or layer.panel.casefold() == panel.casefold()]
    return [("", "not said"), *((name, name) for name in dict.fromkeys((*there, "metal")))]


@router.get("/job/{ref}/defect")
def defect_page(ref: JobRef, desk: AtDesk) -> Response:
    """Show the form that logs a defect."""
    kinds = [(item.kind.name, item.kind.name) for item in list_kinds().kinds]
    signs = [sign.name for sign in list_checks().signs]
    shown = desk.shown(ref)
    panels = list(dict.fromkeys(layer.panel for layer in _layers(shown)))
    cautions = desk.cautions(ref, REWORK)
    context: dict[str, Any] = {"kinds": kinds, "signs": signs, "panels": panels, "reached": _reached(shown)}
    return desk.page("defect.html", shown=shown, cautions_found=cautions, **context)


@router.post("/job/{ref}/defect")
def log_defect(ref: JobRef, desk: AtDesk) -> Response:
    """Record a defect as it was seen."""

    def do() -> str:
        request = LogRequest(
            kind=desk.text("kind"),
            panel=desk.text("panel"),
            place=desk.text("place"),
            count=desk.whole("count"),
            size_mm=desk.number("size_mm"),
            depth_um=desk.number("depth_um"),
            reached=desk.text("reached") or None,
            exposures=[line.strip() for line in desk.text("exposures").splitlines() if line.strip()],
            signs=desk.texts("signs"),
        )
        recorded = log(request, job=ref)
        number = recorded.entries[0].number
        desk.say(f"Logged as #{number}")
        desk.note(*(in_words(text) for text in recorded.warnings))
        return f"/job/{ref}/defect/{number}"

    return desk.sent(do, lambda: defect_page(ref, desk))


@router.get("/job/{ref}/defect/{number}")
def advice(ref: JobRef, number: EntryNumber, desk: AtDesk) -> Response:
    """Show what the defect is, the ways to mend it with their risk, and the form that decides."""
    view = _view(desk, ref, number, "defect")
    found: Advised | None = None
    lacks_depth = False
    try:
        found = desk.bench.remembered(("advice", ref, number), lambda: advise(AdviseRequest(defect=number), job=ref))
    except InputError as error:
        desk.wrong, lacks_depth = desk.wrong or error, error.where == "depth"
    shown, cautions = desk.shown(ref), desk.cautions(ref, REWORK)
    reached = _reached(shown, view.entry.panel) if lacks_depth else None
    context = {"shown": shown, "view": view, "advised": found, "reached": reached, "cautions_found": cautions}
    return desk.page("advice.html", status=200 if desk.form is None else 422, **context)


@router.post("/job/{ref}/defect/{number}/depth")
def say_depth(ref: JobRef, number: EntryNumber, desk: AtDesk) -> Response:
    """Record a defect anew with how deep it goes, in place of the one that nothing was said of."""
    _view(desk, ref, number, "defect")

    def do() -> str:
        depth, reached = desk.number("depth_um"), desk.text("reached") or None
        if depth is None and reached is None:
            raise InputError("`depth_um`", "isn't said", "give it, or the layer that lies bare")
        request = LogRequest(None, None, depth_um=depth, reached=reached)
        recorded = log(request, job=ref, in_place_of=InPlaceOf(number, "how deep it goes was said"))
        desk.say(f"Logged as #{recorded.entries[0].number}, in place of #{number}")
        desk.note(*(in_words(text) for text in recorded.warnings))
        return f"/job/{ref}/defect/{recorded.entries[0].number}"

    return desk.sent(do, lambda: advice(ref, number, desk), ref=ref, bearing=("defect", "film"))


@router.post("/job/{ref}/defect/{number}")
def decide(ref: JobRef, number: EntryNumber, desk: AtDesk) -> Response:
    """Record which way was chosen, and why."""
    _view(desk, ref, number, "defect")

    def do() -> str:
        choose = desk.text("choose")
        if not choose:
            raise InputError("the way", "isn't chosen", "choose one")
        found = advise(AdviseRequest(defect=number, choose=choose, why=desk.text("why")), job=ref)
        desk.say(f"Decided: {found.chosen}, as #{found.decision}")
        if found.against:
            desk.note(f"it is advised against: {found.against}")
        return f"/job/{ref}"

    return desk.sent(do, lambda: advice(ref, number, desk), ref=ref, bearing=("defect", "decision", "film"))


@router.get("/job/{ref}/decision/{number}")
def decision(ref: JobRef, number: EntryNumber, desk: AtDesk) -> Response:
    """Show a decision, and the form for how it came out."""
    view = _view(desk, ref, number, "decision")
    line = next(line for line in desk.shown(ref).story.lines if line.number == number)
    return desk.page("decision.html", shown=desk.shown(ref), view=view, line=line, results=RESULTS)


@router.post("/job/{ref}/decision/{number}")
def came_out(ref: JobRef, number: EntryNumber, desk: AtDesk) -> Response:
    """Record how a decision came out."""
    _view(desk, ref, number, "decision")

    def do() -> str:
        result = desk.text("result")
        if result not in dict(RESULTS):
            raise InputError("how it came out", "isn't in the list", "choose one that is")
        recorded = outcome(ref, desk.text("text"), decision=number, result=result or None)
        desk.say(f"Recorded as #{recorded.entries[0].number}")
        return f"/job/{ref}"

    return desk.sent(do, lambda: decision(ref, number, desk), ref=ref, bearing=("decision",))
