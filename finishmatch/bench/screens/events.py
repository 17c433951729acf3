"""What is recorded meanwhile, sent to every device that has the job open."""

from __future__ import annotations

import asyncio
import json
from collections.abc import AsyncIterator
from typing import Any

from fastapi import APIRouter
from fastapi.responses import StreamingResponse
from starlette.concurrency import run_in_threadpool

from finishmatch.bench.bench import Bench
from finishmatch.bench.desk import AtDesk
from finishmatch.bench.parameters import After, JobRef
from finishmatch.errors import InputError
from finishmatch.steps.job.show import JobShown, show_job

router = APIRouter()

LOOK_EVERY_S = 0.5
SAY_SOMETHING_EVERY_S = 10.0
MOST_AT_ONCE = 30


@router.get("/api/job/{ref}/entries")
def entries_after(ref: JobRef, desk: AtDesk, after: After = 0) -> dict[str, Any]:
    """Return the entries of a job that were made after one, in words."""
    return news(desk.shown(ref), after)


@router.get("/job/{ref}/events", include_in_schema=False)
async def events(ref: JobRef, desk: AtDesk, after: After = 0) -> StreamingResponse:
    """Send each new entry of a job as it is recorded, until the device goes away."""
    await run_in_threadpool(desk.shown, ref)
    headers = {"cache-control": "no-store", "x-accel-buffering": "no"}
    return StreamingResponse(_news(desk.bench, desk, ref, after), media_type="text/event-stream", headers=headers)


async def _news(bench: Bench, desk: AtDesk, ref: str, last: int) -> AsyncIterator[str]:
    """Yield what is new, and now and then a sign of life; a device that was forgotten is told nothing more."""
    state: object = None
    quiet = SAY_SOMETHING_EVERY_S
    while not bench.closing and not await desk.request.is_disconnected() and _still_paired(bench, desk):
        now = bench.watch.state()
        if now != state:
            state = now
            found = await run_in_threadpool(_found, bench, ref, last)
            if found["entries"]:
                last, quiet = found["last"], 0.0
                yield f"event: entries\ndata: {json.dumps(found)}\n\n"
        if quiet >= SAY_SOMETHING_EVERY_S:
            quiet = 0.0
            yield "event: here\ndata: {}\n\n"
        await asyncio.sleep(LOOK_EVERY_S)
        quiet += LOOK_EVERY_S


def _still_paired(bench: Bench, desk: AtDesk) -> bool:
    device = None if desk.session is None else desk.session.device
    return device is not None and (
        device.number == 0 or device.number in {one.number for one in bench.devices.listed()}
    )


def _found(bench: Bench, ref: str, last: int) -> dict[str, Any]:
    try:
        return news(bench.remembered(("job", ref), lambda: show_job(ref, history=True)), last)
    except InputError:  # the ledger is busy: it is looked at again in a moment
        return {"last": last, "entries": []}


def news(shown: JobShown, after: int) -> dict[str, Any]:
    """Return the entries of a job that were made after one, and the number of the last."""
    new = [line for line in shown.story.lines if line.number > after]
    new.sort(key=lambda line: line.number)
    return {
        "last": max((line.number for line in shown.story.lines), default=0),
        "entries": [
            {"number": line.number, "kind": line.kind, "text": line.text[:300]} for line in new[-MOST_AT_ONCE:]
        ],
    }
