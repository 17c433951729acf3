"""The jobs: what is open in each, and its next step; and a new job."""

from __future__ import annotations

from typing import Annotated, Any

from fastapi import APIRouter, Query
from fastapi.responses import Response

from finishmatch.bench.desk import AtDesk, Desk
from finishmatch.bench.stages import steps_open
from finishmatch.steps.job.current_job import use_job
from finishmatch.steps.job.list import JobList, list_jobs
from finishmatch.steps.job.next_step import NextSteps, next_step
from finishmatch.steps.job.open import open_job

router = APIRouter(include_in_schema=False)


def _all(desk: Desk) -> tuple[NextSteps, JobList]:
    found: tuple[NextSteps, JobList] = desk.bench.remembered("jobs", lambda: (next_step(), list_jobs()))
    return found


@router.get("/")
def first_page(desk: AtDesk) -> Response:
    """Lead to the job in use, or to the only one there is; else to all of them."""
    opened, listed = _all(desk)
    used = next((one.job for one in opened.jobs if one.in_use), None)
    if used is None and len(listed.jobs) == 1:
        used = listed.jobs[0].job
    return desk.gone_to("/jobs" if used is None else f"/job/{used.ref}")


@router.get("/jobs")
def jobs(desk: AtDesk) -> Response:
    """Show what is open, and below it the jobs in which nothing is."""
    return desk.kept_page(lambda: _jobs_page(desk))


def _jobs_page(desk: Desk) -> Response:
    opened, listed = _all(desk)
    shown: list[dict[str, Any]] = [{"one": one, "steps": steps_open(one)} for one in opened.jobs if one.open]
    refs = {item["one"].job.ref for item in shown}
    rest = [item for item in reversed(listed.jobs) if item.job.ref not in refs]
    return desk.page("jobs.html", shown=shown, rest=rest)


@router.get("/jobs/new")
def new_job(desk: AtDesk, another: Annotated[bool, Query()] = False) -> Response:
    """Show the form for a new job; where a job has its title already, that one too."""
    said = "" if desk.wrong is None or "`another`" not in desk.wrong.mend else desk.wrong.what.partition(" ")[0]
    same = next((item.job for item in _all(desk)[1].jobs if item.job.ref == said), None)
    return desk.page("new_job.html", another=another or same is not None, same=same)


@router.post("/jobs/new")
def open_new(desk: AtDesk) -> Response:
    """Open a job, and put it in use."""

    def do() -> str:
        opened = open_job(
            desk.text("title"),
            vehicle=desk.text("vehicle"),
            colour=desk.text("colour"),
            note=desk.text("note"),
            another=bool(desk.text("another")),
        )
        use_job(opened.job.ref)
        desk.say(f"Opened {opened.job.ref}: {opened.job.title}")
        return f"/job/{opened.job.ref}"

    return desk.sent(do, lambda: new_job(desk, another=bool(desk.text("another"))))
