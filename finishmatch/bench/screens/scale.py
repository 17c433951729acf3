"""The number of the bench scale, as it follows the pan."""

from __future__ import annotations

import asyncio
import json
from collections.abc import AsyncIterator
from typing import Any

from fastapi import APIRouter
from fastapi.responses import StreamingResponse

from finishmatch.bench.bench import Bench
from finishmatch.bench.desk import AtDesk

router = APIRouter()

FOLLOW_EVERY_S = 0.15
SAY_SOMETHING_EVERY_S = 5.0


def pan_document(bench: Bench) -> dict[str, Any]:
    """Return what is on the pan, as a script is told."""
    if bench.scale is None:
        return {"scale": False, "grams": None, "settled": False}
    pan = bench.scale.pan
    grams = None if pan.grams is None else round(pan.grams, 4)
    return {"scale": True, "grams": grams, "settled": pan.settled}


@router.get("/api/scale")
def pan(desk: AtDesk) -> dict[str, Any]:
    """Return what is on the pan now."""
    return pan_document(desk.bench)


@router.get("/scale/events", include_in_schema=False)
async def pan_events(desk: AtDesk) -> StreamingResponse:
    """Send what is on the pan whenever it changes."""
    return StreamingResponse(_followed(desk), media_type="text/event-stream", headers={"x-accel-buffering": "no"})


async def _followed(desk: AtDesk) -> AsyncIterator[str]:
    before: dict[str, Any] = {}
    quiet = 0.0
    while not desk.bench.closing and not await desk.request.is_disconnected():
        now = pan_document(desk.bench)
        if now != before or quiet >= SAY_SOMETHING_EVERY_S:
            before, quiet = now, 0.0
            yield f"event: pan\ndata: {json.dumps(now)}\n\n"
        await asyncio.sleep(FOLLOW_EVERY_S)
        quiet += FOLLOW_EVERY_S
