"""A card that was sprayed: recorded, held against the target, and answered with what to add to the tin."""

from __future__ import annotations

from typing import Any

from fastapi import APIRouter
from fastapi.responses import Response

from finishmatch.bench.desk import AtDesk, Desk
from finishmatch.bench.kept import READINGS
from finishmatch.bench.parameters import JobRef
from finishmatch.cautions import SPRAYING
from finishmatch.colour.told_within import known_in_words, told_by_doubt, told_within
from finishmatch.errors import InputError
from finishmatch.steps.compare import CompareRequest, compare
from finishmatch.steps.corrected import CorrectRequest
from finishmatch.steps.from_job import is_of_batch
from finishmatch.steps.job.spray import SprayRequest, spray
from finishmatch.steps.judge import judge_card
from finishmatch.steps.pours_of_job import JobPours
from finishmatch.steps.record import target_in
from finishmatch.steps.seen import ONE_LIGHT, seen_document
from finishmatch.steps.seen_kept import known_within_by_light, pigments_not_compared, told_from
from finishmatch.steps.spray_out_strengths import reading_kept

router = APIRouter(include_in_schema=False)

SURFACES = ("as sprayed", "cut and polished")
ACTIONS = ("judge", "again", "record")


@router.get("/job/{ref}/card")
def card(ref: JobRef, desk: AtDesk) -> Response:
    """Show the verdict on the last card, and the form for the next."""
    shown = desk.shown(ref)
    standing = [view for view in shown.entries if view.stands]

    def last(kind: str) -> Any:
        return next((view for view in reversed(standing) if view.kind == kind), None)

    verdict, correction, sprayed, batch = (last(kind) for kind in ("verdict", "correction", "spray-out", "batch"))
    if correction is not None and (verdict is None or correction.number < verdict.number):
        correction = None
    of: Any = next((view.entry for view in standing if verdict and view.number == verdict.entry.spray_out), None)
    known = {} if of is None else known_within_by_light(of.seen)
    by_doubt = bool(known) and told_by_doubt(verdict.entry.tolerance, told_from(of.seen))
    judged = desk.bench.judged.get(ref)
    if judged is not None and (verdict is None or verdict.number not in judged.recorded):
        judged = None
    slip = desk.wrong is not None and "anyway" in desk.wrong.mend
    context = {"verdict": verdict, "correction": correction, "sprayed": sprayed, "batch": batch, "judged": judged}
    context["again"] = sprayed is not None and (batch is None or is_of_batch(sprayed, batch, shown.entries))
    context |= {"plan": None, "poured": None, "last": False, "newer": None}
    context |= {"known_within": known and known_in_words(known), "by_doubt": by_doubt}
    context["alone"] = _by_photographs_alone(of)
    context["one_light"] = ONE_LIGHT if of is not None and pigments_not_compared(of.seen) else ""
    if correction is not None:
        pours = JobPours(shown.entries)
        poured = pours.corrected_tin(correction.number).poured
        context |= {"plan": pours.plan(correction.number), "poured": poured, "last": poured == pours.last_batch}
        since = (view.number for view in standing if view.kind == "recipe" and view.number > correction.number)
        context["newer"] = next(since, None)
    cautions = desk.cautions(ref, SPRAYING)
    surfaces = [(one, one) for one in SURFACES]
    return desk.page("card.html", shown=shown, surfaces=surfaces, slip=slip, cautions_found=cautions, **context)


def _by_photographs_alone(card: Any) -> list[str]:
    """Return what photographs by themselves say of a card that is told by what their camera sees of the bank, too."""
    seen = None if card is None else seen_document(reading_kept(card))
    return [
        f"{one['light']} {alone['de00']:.2f} ±{told_within(alone['u95']):g}"
        for one in (seen or {"differences": []})["differences"]
        if (alone := one["photographs_alone"]) is not None
    ]


@router.post("/job/{ref}/card")
def enter(ref: JobRef, desk: AtDesk) -> Response:
    """Record a card and judge it; or judge the last one again; or only record it."""

    def do() -> str:
        action = desk.text("do") or "judge"
        if action not in ACTIONS:
            raise InputError("the form", "isn't as it was shown", "load the page again")
        if action == "record":
            _only_recorded(desk, ref)
        else:
            judged = judge_card(None if action == "again" else _reading(desk), request_of(desk), job=ref)
            desk.bench.judged[ref] = judged
            desk.note(*judged.corrected.noted)
        return f"/job/{ref}/card#verdict"

    return desk.sent(do, lambda: card(ref, desk), ref=ref, bearing=("target", "batch", "spray-out"))


def _reading(desk: Desk) -> str:
    """Return the reading of a card as it is given to a step: a file that was sent, or L,a,b."""
    path = desk.upload("file", READINGS)
    if path is not None:
        name = desk.text("reading")
        return f"{path}@{name}" if name else str(path)
    lab = [desk.text(axis) for axis in ("L", "a", "b")]
    if not all(lab):
        raise InputError("the card", "wasn't read" if not any(lab) else "isn't whole", "give L, a and b, or a file")
    numbers = [desk.needed(axis) for axis in ("L", "a", "b")]
    return ",".join(f"{value:.9g}" for value in numbers)


def request_of(desk: Desk) -> CorrectRequest:
    """Return how a card was sprayed and is judged, as typed in a form."""
    return CorrectRequest(
        tolerance=desk.number("tolerance"),
        ground=desk.text("ground"),
        coats=desk.whole("coats"),
        build_um=desk.number("build_um"),
        surface=_surface(desk),
        anyway=bool(desk.text("anyway")),
    )


def spraying_of(desk: Desk) -> SprayRequest:
    """Return how a card was sprayed that is only recorded, as typed in a form."""
    return SprayRequest(
        ground=desk.text("ground"),
        coats=desk.whole("coats"),
        build_um=desk.number("build_um"),
        surface=_surface(desk),
        anyway=bool(desk.text("anyway")),
    )


def _surface(desk: Desk) -> str:
    surface = desk.text("surface") or SURFACES[0]
    if surface not in SURFACES:
        raise InputError("the surface", "isn't in the list", "choose one that is")
    return surface


def _only_recorded(desk: Desk, ref: str) -> None:
    """Record a card; where the job has a target it is held against that."""
    reading = _reading(desk)
    sprayed = spray(ref, reading, spraying_of(desk))
    desk.say(f"Recorded as #{sprayed.recorded.entries[0].number}")
    desk.note(*sprayed.recorded.warnings)
    if sprayed.learnt.why_not is not None:
        desk.note(f"no strength of the tins was estimated: {sprayed.learnt.why_not}")
    target = target_in(ref)
    if target is not None:
        compare(target, reading, CompareRequest(tolerance=desk.number("tolerance")), job=ref)
