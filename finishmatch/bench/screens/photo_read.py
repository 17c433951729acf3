"""A photograph as it was read: chart and samples drawn on it, their colours and differences; what is kept of it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from fastapi import APIRouter
from fastapi.responses import Response

from finishmatch.bench.desk import AtDesk, Desk
from finishmatch.bench.marks import MOST_REGIONS, Row, rows_sent, typed_mark
from finishmatch.bench.parameters import JobRef
from finishmatch.bench.photographs import Photograph
from finishmatch.bench.screens.card import SURFACES, request_of, spraying_of
from finishmatch.bench.screens.photo import PhotoKey, owner_of, photograph_of
from finishmatch.bench.told_by_name import told_by_name
from finishmatch.colour import LIGHTS
from finishmatch.errors import InputError
from finishmatch.steps.compare import CompareRequest, compare
from finishmatch.steps.job.spray import spray
from finishmatch.steps.job.tin import TinRequest, try_tin
from finishmatch.steps.judge import judge_card
from finishmatch.steps.photo.photo_read import PhotoRead
from finishmatch.steps.photo.photo_shown import named_by_file
from finishmatch.steps.photo.read_photo import PhotoRequest, read_photo
from finishmatch.steps.photo.seen_in_photos import SeenRequest, read_seen
from finishmatch.steps.photo.shop_card import CardRequest, shop_card
from finishmatch.steps.seen import SeenCard
from finishmatch.steps.tins_to_try import let_down_of, letdown_panels_of, or_weaker

router = APIRouter(include_in_schema=False)

# what another photograph at hand may show; the value is the CIE light that its lamp is nearest to
SAME = "same"
LIT = (
    ("", "isn't of these two"),
    (SAME, "shows the same two, in the same light"),
    ("A", "shows the same two under a tungsten or halogen lamp"),
    ("LED-B3", "shows the same two under a white LED lamp"),
    ("F11", "shows the same two under a fluorescent tube"),
)
# under which lamp another photograph at hand shows the same samples
LAMPS = (("", "doesn't show these"), *((light, said.replace("the same two", "the same")) for light, said in LIT[2:4]))
NEW_ROWS = 1


@dataclass(frozen=True)
class Pair:
    """Two samples of the photograph: trial less standard, how sure that is, and in words."""

    standard: str
    trial: str
    de00: float
    u95: float
    words: tuple[str, ...]
    delta: tuple[float, float, float]


@router.get("/job/{ref}/photo/{key}")
def photo_read(ref: JobRef, key: PhotoKey, desk: AtDesk) -> Response:
    """Show a photograph as it is read."""
    return _page(ref, photograph_of(desk, ref, key), desk)


@router.post("/job/{ref}/photo/{key}")
def read_anew(ref: JobRef, key: PhotoKey, desk: AtDesk) -> Response:
    """Read a photograph by the samples that were marked on it."""
    kept = photograph_of(desk, ref, key)

    def do() -> str:
        regions = () if desk.text("find") else tuple(typed_mark(row) for row in rows_sent(desk))
        light = desk.text("light") or kept.light
        with kept.lock:
            kept.read = _read(kept, regions, light)
            kept.regions, kept.light = regions, light
        return f"/job/{ref}/photo/{key}"

    return desk.sent(do, lambda: _page(ref, kept, desk))


@router.post("/job/{ref}/photo/{key}/chart")
def say_which_chart(ref: JobRef, key: PhotoKey, desk: AtDesk) -> Response:
    """Register which chart the shop has, and read this photograph by it, and every other from now on."""
    kept = photograph_of(desk, ref, key)

    def do() -> str:
        register_chart(kept, desk)
        return f"/job/{ref}/photo/{key}"

    return desk.sent(do, lambda: _page(ref, kept, desk))


@router.post("/job/{ref}/photo/{key}/evidence")
def keep_as_evidence(ref: JobRef, key: PhotoKey, desk: AtDesk) -> Response:
    """Record the colours of the samples as readings of the job."""
    kept = photograph_of(desk, ref, key)

    def do() -> str:
        read = _read(kept, kept.regions, kept.light, job=ref, lamps=chosen_of(ref, desk, "under", LAMPS))
        if read.why:
            raise InputError("", "this photograph can't serve", read.why)
        lamps = " and ".join(dict(LAMPS)[one.light].partition("under ")[2] for one in read.lamps_used)
        with_lamps = f", read under {lamps} too" if lamps else ""
        desk.say("Recorded as " + ", ".join(f"#{number}" for number in read.recorded) + with_lamps)
        desk.note(*(said for said in read.warnings if said not in read_of(kept).warnings))
        return f"/job/{ref}"

    return desk.sent(do, lambda: _page(ref, kept, desk))


@router.post("/job/{ref}/photo/{key}/card")
def keep_as_card(ref: JobRef, key: PhotoKey, desk: AtDesk) -> Response:
    """Record a sample as the spray-out of what is in the tin."""
    kept = photograph_of(desk, ref, key)

    def do() -> str:
        sprayed = spray(ref, read_of(kept).reading(_chosen(desk, "trial")), spraying_of(desk))
        desk.say(f"Recorded as #{sprayed.recorded.entries[0].number}")
        desk.note(*sprayed.recorded.warnings)
        return f"/job/{ref}"

    return desk.sent(do, lambda: _page(ref, kept, desk), ref=ref, bearing=("batch", "spray-out"))


@router.post("/job/{ref}/photo/{key}/judge")
def judge_seen(ref: JobRef, key: PhotoKey, desk: AtDesk) -> Response:
    """Judge a card by how it differs from the standard beside it in the photograph, and in others at hand."""
    kept = photograph_of(desk, ref, key)

    def do() -> str:
        judged = judge_card(
            _seen(ref, kept, desk, ("standard", "trial"), chosen_of(ref, desk, "lit", LIT)), request_of(desk), job=ref
        )
        desk.bench.judged[ref] = judged
        desk.note(*judged.corrected.noted)
        return f"/job/{ref}/card#verdict"

    return desk.sent(do, lambda: _page(ref, kept, desk), ref=ref, bearing=("batch", "spray-out", "target"))


@router.post("/job/{ref}/photo/{key}/tin")
def try_seen(ref: JobRef, key: PhotoKey, desk: AtDesk) -> Response:
    """Try a new tin by how its letdown differs from the panel beside it in the photograph."""
    kept = photograph_of(desk, ref, key)

    def do() -> str:
        also = [(photograph_of(desk, ref, one), SAME) for one in desk.texts("also")]
        panel, less = desk.text("panel"), desk.number("tint_grams")
        with or_weaker(ref, panel):
            seen = _seen(ref, kept, desk, ("beside", "letdown"), also)
        weighed = None if less is None else {let_down_of(ref, panel): less}
        tried = try_tin(ref, panel, seen, TinRequest(weighed=weighed, anyway=bool(desk.text("anyway"))))
        desk.say(*tried.words)
        desk.note(*tried.recorded.warnings)
        return f"/job/{ref}"

    return desk.sent(do, lambda: _page(ref, kept, desk), ref=ref, bearing=("strength",))


@router.post("/job/{ref}/photo/{key}/drop")
def drop(ref: JobRef, key: PhotoKey, desk: AtDesk) -> Response:
    """Take a photograph away from the bench; what was recorded of it stays."""
    kept = photograph_of(desk, ref, key)

    def do() -> str:
        desk.bench.photographs.drop(kept)
        return f"/job/{ref}/photo"

    return desk.sent(do, lambda: _page(ref, kept, desk))


def register_chart(kept: Photograph, desk: Desk) -> None:
    """Register the chart that was said to be the shop's, by which every photograph is read from now on."""
    made = desk.text("made")
    if made not in dict(read_of(kept).chart.others_made):
        raise InputError("the chart", "isn't one of those in the list", "choose one that is")
    shop_card(CardRequest(chart=made))
    desk.bench.photographs.forget_what_was_read()
    desk.say(f"From now on photographs are read by a chart {read_of(kept).chart.as_made}")


def _chosen(desk: Desk, field: str) -> str:
    """Return which sample was chosen; that none was is said at its field."""
    name = desk.text(field)
    if not name:
        raise InputError(f"`{field}`", "isn't said", "choose which of the samples it is")
    return name


def _serves(kept: Photograph) -> bool:
    """Return whether a photograph may show the same two; one that wasn't read yet may."""
    return kept.read is None or not kept.read.why


def read_of(kept: Photograph) -> PhotoRead:
    """Return what is read of a photograph by the samples marked on it, read once."""
    with kept.lock:
        if kept.read is None:
            kept.read = _read(kept, kept.regions, kept.light)
        return kept.read


def chosen_of(ref: str, desk: Desk, field: str, listed: Sequence[tuple[str, str]]) -> list[tuple[Photograph, str]]:
    """Return the other photographs that show the same, each with the light that was chosen for it from a list."""
    at_hand = desk.bench.photographs.all_of(owner_of(desk), ref)
    found = [(one, desk.text(f"{field}_{one.key}")) for one in at_hand]
    for _, light in found:
        if light not in dict(listed):
            raise InputError("what another photograph shows", "isn't in the list", "choose one that is")
    return [(one, light) for one, light in found if light]


def _seen(
    ref: str, kept: Photograph, desk: Desk, fields: tuple[str, str], others: Sequence[tuple[Photograph, str]]
) -> SeenCard:
    """Return how a card differs from its standard, by photographs in which both are called alike.

    `fields` of the form say what standard and card are called; `others` are further photographs, each with its light.
    """
    read, called = read_of(kept), (_chosen(desk, fields[0]), _chosen(desk, fields[1]))
    there = {region.name for region in read.regions}
    if not set(called) <= there or len(set(called)) < 2:
        mend = "choose two that were read in this photograph"
        raise InputError(
            " and ".join(repr(one[:40]) for one in called), "aren't two samples that can be compared", mend
        )
    for one in (one for one, _ in others if one is not kept):
        if not set(called) <= {region.name for region in read_of(one).regions}:
            what = f"shows no {called[0][:40]!r} and {called[1][:40]!r}"
            raise InputError(one.name, what, "open it and mark the two in it, called so")
    mine = {one.path: one for one in (kept, *(other for other, _ in others))}
    marked = [
        f"{path}:{region}"
        for path, one in mine.items()
        for region in one.regions
        if region.partition("=")[0].strip() in called
    ]
    request = SeenRequest(
        seen=[kept.path, *(one.path for one, light in others if light in (SAME, kept.light) and one is not kept)],
        seen_under=[f"{light}={one.path}" for one, light in others if light not in (SAME, kept.light)],
        region=tuple(marked),
        light=kept.light,
        observer=read.observer,
        called=called,
    )
    try:
        return read_seen(request)
    except InputError as error:
        said = next((one for one in mine.values() if error.where == one.path.name), kept)
        raise named_by_file(error, said.path) from None


def _read(
    kept: Photograph,
    regions: tuple[str, ...],
    light: str,
    job: str | None = None,
    lamps: Sequence[tuple[Photograph, str]] = (),
) -> PhotoRead:
    """Return what is read of a photograph, and of others that show the same, each with the light of its lamp."""
    others = [(one, its) for one, its in lamps if one is not kept]
    marked = [*((kept, region) for region in regions), *((one, region) for one, _ in others for region in one.regions)]
    under = tuple(f"{its}={one.path}" for one, its in others)
    request = PhotoRequest(region=tuple(f"{one.path}:{its}" for one, its in marked), light=light, under=under)
    try:
        return read_photo(kept.path, request, job=job)
    except InputError as error:
        for one in (kept, *(one for one, _ in others)):
            error = named_by_file(error, one.path)
        raise error from None


def _page(ref: str, kept: Photograph, desk: Desk) -> Response:
    read: PhotoRead | None = None
    try:
        read = read_of(kept)
    except InputError as error:
        desk.wrong = desk.wrong or error
    outlines: dict[str, Any] = {"size": list(kept.pixels), "chart": None, "card": None, "patches": [], "samples": []}
    if read is not None:
        outlines = read.as_dict()["photographs"][0]["outlines"]
    sent = rows_sent(desk)
    found = [Row(one["name"], *map(str, one["upright"])) for one in outlines["samples"]]
    rows = [*(sent or found), *[Row()] * NEW_ROWS][:MOST_REGIONS]
    names = [] if read is None else [region.name for region in read.regions]
    pairs = [] if read is None else [_pair(read, one.standard, one.trial) for one in _in_order(read)]
    return desk.page(
        "photo_read.html",
        shown=desk.shown(ref),
        kept=kept,
        read=read,
        outlines=outlines,
        rows=rows,
        names=[(name, name) for name in names],
        told=told_by_name(names),
        pairs=pairs,
        all_lights=[(light, light) for light in LIGHTS],
        most=MOST_REGIONS,
        surfaces=[(one, one) for one in SURFACES],
        lit=LIT,
        lamps=LAMPS,
        panels=[(one, one) for one in desk.bench.remembered(("panels", ref), lambda: letdown_panels_of(ref))],
        others=[one for one in desk.bench.photographs.all_of(owner_of(desk), ref) if one is not kept and _serves(one)],
    )


def _in_order(read: PhotoRead) -> list[Any]:
    """Return the differences, those from a sample called standard first."""
    return sorted(read.differences, key=lambda one: "standard" not in (one.standard, one.trial))


def _pair(read: PhotoRead, standard: str, trial: str) -> Pair:
    """Return two samples of a photograph, whichever way round they were held against each other."""
    if "standard" in (standard, trial) and trial == "standard":
        standard, trial = trial, standard
    for one in read.differences:
        if {one.standard, one.trial} == {standard, trial} and standard != trial:
            first, second = read.reading(standard), read.reading(trial)
            verdict = compare(first, second, CompareRequest(lights=(read.light,), observer=read.observer)).verdict
            delta = verdict.delta
            return Pair(
                standard, trial, one.de00, one.u95, verdict.words, (float(delta.L), float(delta.a), float(delta.b))
            )
    mend = "choose two that were read in this photograph"
    raise InputError(f"{standard[:40]!r} and {trial[:40]!r}", "aren't two samples that can be compared", mend)
