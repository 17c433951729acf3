"""The weigh-out: one part at a time, how much is still to go, and each part recorded as it is poured."""

from __future__ import annotations

import re
from typing import Annotated, Any

from fastapi import APIRouter, Query
from fastapi.responses import JSONResponse, Response
from pydantic import BaseModel, ConfigDict, Field, ValidationError

from finishmatch.bench.desk import AtDesk, Desk
from finishmatch.bench.labels import in_words
from finishmatch.bench.pages import grams, sentence
from finishmatch.bench.parameters import JobRef
from finishmatch.cautions import MIXING
from finishmatch.errors import InputError
from finishmatch.opened_once import opening_once
from finishmatch.steps.hazards import hazard_line
from finishmatch.steps.job.on_the_scale import OnTheScale, WeighRequest, on_the_scale, pour_part
from finishmatch.steps.job.plans_to_pour import whole_parts
from finishmatch.steps.job.poured_tin import PouredTin
from finishmatch.steps.job.show import JobShown
from finishmatch.steps.job.taken_back import WRONG, take_back
from finishmatch.steps.job.taken_on import can_be_taken_on, take_on
from finishmatch.understood import listening

router = APIRouter()

MOST_G = 1_000_000.0
LEDGER = "ledger.db"
ANSWERS: dict[int | str, dict[str, Any]] = {
    409: {"description": "The tin isn't as the device knew it."},
    503: {"description": "The record can't be written just now: the same is sent again when it can."},
}
_UNIT = re.compile(r"\s*g$", re.IGNORECASE)  # typed behind the grams, as our own script takes it
NO_KEY = "00000000"  # of a form without a script, which isn't sent again by itself

Plan = Annotated[int | None, Query(ge=1, le=10**9)]
Number = Annotated[int | None, Field(ge=1, le=10**9)]
Key = Annotated[str, Field(pattern=r"^[A-Za-z0-9-]{8,64}$")]


class PartPoured(BaseModel):
    """A part as a device says that it was poured."""

    model_config = ConfigDict(extra="forbid", allow_inf_nan=False)

    key: Key = Field(description="The device's own name for this pour, so that the same again isn't recorded twice.")
    plan: Annotated[int, Field(ge=1, le=10**9)] = Field(description="The recipe or correction that is poured.")
    tin: Number = Field(default=None, description="The batch as the device knows it; null before the first part.")
    after: Key | None = Field(
        default=None, description="The key of the pour before it, where its answer wasn't known yet."
    )
    tint: str = Field(min_length=1, max_length=200)
    grams: float = Field(description=f"0 to {MOST_G:,.0f}.")
    total: bool = Field(default=False, description="The weight is what the scale shows of all that is in the tin.")
    anyway: bool = Field(default=False, description="Take a weight that looks like a slip as it is.")


def _state(desk: Desk, ref: str, plan: int | None) -> OnTheScale:
    found: OnTheScale = desk.bench.remembered(("weigh", ref, plan), lambda: on_the_scale(ref, plan))
    return found


@router.get("/job/{ref}/weigh", include_in_schema=False)
def weigh(ref: JobRef, desk: AtDesk, plan: Plan = None) -> Response:
    """Show the part that is poured next, and how much of it is still to go."""
    shown = desk.shown(ref)
    try:
        now = _state(desk, ref, plan)
    except InputError as error:
        desk.wrong = desk.wrong or error
        now = _state(desk, ref, None)
    plan_line = next((line for line in shown.story.lines if line.number == now.plan), None)
    cautions = desk.cautions(ref, MIXING if now.poured is None else now.poured.cautions)
    harmful = [] if now.poured is None else [hazard_line(tint) for tint in now.poured.harmful]
    slip = desk.wrong is not None and "anyway" in desk.wrong.mend
    context: dict[str, Any] = {"shown": shown, "now": now, "plan_line": plan_line, "cautions_found": cautions}
    context["take_on"] = can_be_taken_on(now)
    of_whole = _of_whole(shown, now)
    context |= {"lines": _lines(now, of_whole), "of_whole": of_whole, "harmful": harmful}
    context["first"] = desk.bench.scale is not None and now.tin is None and desk.bench.is_first((ref, now.plan))
    return desk.page("weigh.html", slip=slip, scale=desk.bench.scale is not None, **context)


def _of_whole(shown: JobShown, now: OnTheScale) -> dict[str, str]:
    """Return of each part how much of the recipe's it is, where the recipe is poured in part before its first card."""
    plan = None if now.stands is None else now.stands.plan
    part = "" if plan is None else plan.part
    return {tint: f"{part} of the recipe's {grams(whole)} g" for tint, whole in whole_parts(plan, shown.entries)}


def _lines(now: OnTheScale, of_whole: dict[str, str]) -> list[dict[str, Any]]:
    """Return the parts for our own script, which goes on with the next while the bench doesn't answer."""
    if now.stands is None:
        return []
    return [
        {
            "tint": line.tint,
            "planned": line.planned_g,
            "poured": line.poured_g,
            "to_go": line.to_go_g,
            "slack": now.stands.slack_g(line),
            "part_of": of_whole.get(line.tint, ""),
            "how": sentence(now.stands.plan.by_letdown(line.tint)),
        }
        for line in now.lines
    ]


@router.post("/job/{ref}/weigh", include_in_schema=False)
def weigh_form(ref: JobRef, desk: AtDesk) -> Response:
    """Record the part that was poured, from the form; an empty field is the part as planned."""

    def do() -> str:
        desk.note(*_said(_record(desk, ref, _part_typed(desk))))
        return f"/job/{ref}/weigh"

    def again() -> Response:
        chosen = desk.text("plan")
        return weigh(ref, desk, int(chosen) if chosen.isdecimal() and not desk.text("tin") else None)

    return desk.sent(do, again)


def _part_typed(desk: Desk) -> PartPoured:
    """Return the part that a form says was poured."""
    typed = desk.text("grams")
    bare = _UNIT.sub("", typed)
    own = desk.number_in("`grams`", bare) if typed else None
    weight = _weight(desk.needed("as_planned") if own is None else own)
    try:
        return PartPoured(
            key=NO_KEY,
            plan=desk.whole("plan") or 0,
            tin=desk.whole("tin"),
            tint=desk.text("tint"),
            grams=weight,
            total=bool(desk.text("total")) and own is not None,
            anyway=bool(desk.text("anyway")),
        )
    except ValidationError as error:
        raise InputError("the form", "isn't as it was shown", "load the page again") from error


def _weight(weight: float) -> float:
    if not 0 <= weight <= MOST_G:
        raise InputError("`grams`", f"{weight:g} g can't be poured", f"give grams, 0 to {MOST_G:,.0f}")
    return weight


@router.post("/job/{ref}/weigh/undo", include_in_schema=False)
def undo(ref: JobRef, desk: AtDesk) -> Response:
    """Take the last part back: the tin is as it was before it."""

    def do() -> str:
        last = on_the_scale(ref, desk.whole("plan")).last
        if last is None or last.batch != desk.whole("tin"):
            raise InputError("the tin", "was changed meanwhile", "look at it again")
        said, *warnings = take_back(ref, last, desk.text("why") or WRONG)
        desk.say(said)
        desk.note(*warnings)
        return f"/job/{ref}/weigh"

    return desk.sent(do, lambda: weigh(ref, desk))


@router.post("/job/{ref}/weigh/take-on", include_in_schema=False)
def in_proportion(ref: JobRef, desk: AtDesk) -> Response:
    """Take on what every part takes more in proportion, where one was poured too much to be brought back."""

    def do() -> str:
        now = on_the_scale(ref, desk.whole("plan"))
        if now.tin is None or now.tin != desk.whole("tin"):
            raise InputError("the tin", "was changed meanwhile", "look at it again")
        desk.say(take_on(now))
        return f"/job/{ref}/weigh"

    return desk.sent(do, lambda: weigh(ref, desk))


@router.get("/api/job/{ref}/weigh")
def weigh_state(ref: JobRef, desk: AtDesk, plan: Plan = None) -> dict[str, Any]:
    """Return what is being poured, and how it stands."""
    desk.shown(ref)
    return _state(desk, ref, plan).as_dict()


@router.post("/api/job/{ref}/weigh", responses=ANSWERS)
def pour_one(ref: JobRef, desk: AtDesk, part: PartPoured) -> Response:
    """Record that a part was poured; the same again is recorded once."""
    desk.shown(ref)
    with desk.bench.recording, listening(), opening_once():
        known = desk.bench.sent.number(ref, part.key)
        if known is not None:
            return JSONResponse({"recorded": known, "mine": [known], "again": True, "said": [], **_after(desk, ref)})
        try:
            poured = _record(desk, ref, part)
        except InputError as error:
            moved, away = error.where == "the tin", error.where == str(desk.bench.served.home / LEDGER)
            document = {"error": in_words(str(error)), "slip": "anyway" in error.mend, "moved": moved}
            return JSONResponse(document, 409 if moved else 503 if away else 422)
        assert poured.recorded is not None
        number = poured.recorded.entries[0].number
        mine = [line.number for line in desk.shown(ref).story.lines if line.number >= number]
    said = list(_said(poured))
    return JSONResponse({"recorded": number, "mine": mine, "again": False, "said": said, **_after(desk, ref)})


def _after(desk: Desk, ref: str) -> dict[str, Any]:
    return {"now": _state(desk, ref, None).as_dict()}


def _record(desk: Desk, ref: str, part: PartPoured) -> PouredTin:
    """Record a part, and remember under which key it was sent."""
    tin = part.tin
    if part.after is not None:
        tin = desk.bench.sent.number(ref, part.after)
        if tin is None:
            raise InputError("the tin", "isn't as it was thought to be: the part before wasn't recorded", "look at it")
    weight = _weight(part.grams)
    request = WeighRequest(anyway=part.anyway, total=part.total)
    now = _state(desk, ref, part.plan)
    poured = pour_part(ref, (part.tint, weight), plan=part.plan, tin=tin, request=request, known=now)
    assert poured.recorded is not None
    if part.key != NO_KEY:
        desk.bench.sent.keep(ref, part.key, poured.recorded.entries[0].number)
    return poured


def _said(poured: PouredTin) -> tuple[str, ...]:
    """Return what is to be said of a part that was poured: whether it was too much, and warnings."""
    stands, lines = poured.stands, [in_words(line) for line in poured.warnings]
    if stands is None or not stands.overshot or stands.against is None:
        return tuple(lines)
    if stands.against.within:
        within = f"Poured too much, but the colour stays inside {stands.against.tolerance:g}: go on."
        return (within, *lines)
    if stands.reachable:
        return ("Poured too much: the way back stands here, part by part.", *lines)
    return tuple(lines)
