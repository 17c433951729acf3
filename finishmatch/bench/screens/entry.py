"""The record of a job, entry by entry, history included; and an entry that is struck."""

from __future__ import annotations

from fastapi import APIRouter
from fastapi.responses import Response
from starlette.exceptions import HTTPException

from finishmatch.bench.desk import AtDesk
from finishmatch.bench.parameters import EntryNumber, JobRef, PageNumber
from finishmatch.steps.job.strike import strike

router = APIRouter(include_in_schema=False)

LINES_OF_A_PAGE = 60


@router.get("/job/{ref}/record")
def record(ref: JobRef, desk: AtDesk, page: PageNumber = 1) -> Response:
    """Show the record, the newest first, a page of it at a time."""
    shown = desk.shown(ref)
    lines = sorted(shown.story.lines, key=lambda line: -line.number)
    pages = max(1, -(-len(lines) // LINES_OF_A_PAGE))
    page = min(page, pages)
    part = lines[(page - 1) * LINES_OF_A_PAGE : page * LINES_OF_A_PAGE]
    return desk.page("record.html", shown=shown, lines=part, page=page, pages=pages)


@router.get("/job/{ref}/entry/{number}")
def entry(ref: JobRef, number: EntryNumber, desk: AtDesk) -> Response:
    """Show one entry with what came in its place, and the form that strikes it."""
    shown = desk.shown(ref)
    line = next((line for line in shown.story.lines if line.number == number), None)
    if line is None:
        raise HTTPException(404, f"there is no entry #{number} in {ref}")
    view = next(view for view in shown.entries if view.number == number)
    same = [other for other in shown.entries if other.place == view.place and other.number != number]
    numbers = {other.number for other in same}
    line_of = [other for other in shown.story.lines if other.number in numbers]
    return desk.page("entry.html", shown=shown, line=line, line_of=line_of)


@router.post("/job/{ref}/entry/{number}/strike")
def strike_entry(ref: JobRef, number: EntryNumber, desk: AtDesk) -> Response:
    """Strike an entry, or what struck it."""

    def do() -> str:
        struck = strike(ref, number, desk.text("why"))
        counts = "counts again" if struck.restored else "is struck and counts no more"
        desk.say(f"#{struck.struck.number} {counts}")
        desk.note(*(f"#{view.number} rests on it and fell with it" for view in struck.fell))
        desk.note(*(f"#{view.number} stands again" for view in struck.stand_again), *struck.warnings)
        return f"/job/{ref}"

    return desk.sent(do, lambda: entry(ref, number, desk))
