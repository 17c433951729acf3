"""One job: the screen that follows the work; what is done folds away, what is next is in reach of a thumb."""

from __future__ import annotations

from threading import Lock

from fastapi import APIRouter
from fastapi.responses import Response
from starlette.exceptions import HTTPException

from finishmatch.bench.desk import AtDesk, Desk
from finishmatch.bench.parameters import JobRef
from finishmatch.bench.stages import stages_of, steps_open
from finishmatch.steps.job.current_job import use_job
from finishmatch.steps.job.next_step import JobOpen, next_step
from finishmatch.steps.job.note import note
from finishmatch.steps.job.plans_to_pour import correction_to_pour

router = APIRouter(include_in_schema=False)
_DRAWING = Lock()  # one document at a time: setting one takes a core for seconds


def job_open(desk: Desk, ref: str) -> JobOpen:
    """Return what is open in a job."""
    found: JobOpen = desk.bench.remembered(("open", ref), lambda: next_step(ref).jobs[0])
    return found


@router.get("/job/{ref}")
def job(ref: JobRef, desk: AtDesk) -> Response:
    """Show a job as it stands."""
    return desk.kept_page(lambda: _job_page(ref, desk))


def _job_page(ref: str, desk: Desk) -> Response:
    shown, opened = desk.shown(ref), job_open(desk, ref)
    steps = steps_open(opened)
    to_add = correction_to_pour(shown.entries)
    stages = stages_of(shown, steps)
    return desk.page("job.html", shown=shown, opened=opened, steps=steps, stages=stages, to_add=to_add)


@router.get("/job/{ref}/dossier.pdf")
def dossier(ref: JobRef, desk: AtDesk) -> Response:
    """Return the document that goes with the car, as it stands now."""
    job, drawn = desk.shown(ref).story.job, desk.bench.served.dossier
    if drawn is None:
        raise HTTPException(404)
    with _DRAWING:
        content = drawn(job.ref)
    headers = {"content-disposition": f'inline; filename="{job.ref}-dossier.pdf"', "cache-control": "no-store"}
    return Response(content, media_type="application/pdf", headers=headers)


@router.post("/job/{ref}/use")
def put_in_use(ref: JobRef, desk: AtDesk) -> Response:
    """Put a job in use, so that the terminal works in it too."""

    def do() -> str:
        use_job(ref)
        desk.say(f"{ref} is in use now, at the terminal too")
        return f"/job/{ref}"

    return desk.sent(do, lambda: job(ref, desk))


@router.get("/job/{ref}/note")
def note_page(ref: JobRef, desk: AtDesk) -> Response:
    """Show the form for a note."""
    return desk.page("note.html", shown=desk.shown(ref))


@router.post("/job/{ref}/note")
def write_note(ref: JobRef, desk: AtDesk) -> Response:
    """Record a note."""

    def do() -> str:
        recorded = note(ref, desk.text("text"))
        desk.say(f"Recorded as #{recorded.entries[0].number}")
        return f"/job/{ref}#note"

    return desk.sent(do, lambda: note_page(ref, desk))
