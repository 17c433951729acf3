"""A photograph: taken or chosen, sent in parts, and the list of those that are at hand."""

from __future__ import annotations

from typing import Annotated, Any

from fastapi import APIRouter, Path, Query
from fastapi.responses import FileResponse, Response
from pydantic import BaseModel, Field
from starlette.concurrency import run_in_threadpool
from starlette.datastructures import UploadFile
from starlette.exceptions import HTTPException

from finishmatch.bench.desk import AtDesk, Desk
from finishmatch.bench.parameters import JobRef
from finishmatch.bench.photographs import LARGEST_PART, SUFFIXES, Photograph
from finishmatch.errors import InputError

router = APIRouter()

PhotoKey = Annotated[str, Path(pattern=r"^[A-Za-z0-9_-]{32}$", description="The key of a photograph.")]
CardSize = Annotated[str, Query(pattern="^(A5|letter)$", description="The paper that the card is printed on.")]
Offset = Annotated[int, Query(ge=0, le=10**9, description="Where the part belongs, in bytes from the start.")]
PART_AT_ONCE = 500_000  # bytes that the script sends in one part
GONE = "this photograph isn't kept any more: take it again"


class PhotoToCome(BaseModel):
    """What is said of a photograph before it is sent."""

    name: str = Field(max_length=300)
    size: int = Field(ge=0, le=10**12)


def owner_of(desk: Desk) -> str:
    """Return the device that asks, by the digest of its secret."""
    return "" if desk.session is None else desk.session.device.digest


def photograph_of(desk: Desk, ref: str, key: str, *, whole: bool = True) -> Photograph:
    """Return a photograph of the device that asks; that of another is no page."""
    kept = desk.bench.photographs.of(owner_of(desk), ref, key)
    if kept is None or (whole and not kept.whole):
        raise HTTPException(404, GONE)
    return kept


def take_whole(desk: Desk, of: str) -> Photograph:
    """Take a photograph that a plain form sends in one piece; it belongs to a job, or to a bank."""
    sent = None if desk.form is None else desk.form.get("photograph")
    if not isinstance(sent, UploadFile) or not sent.filename:
        raise InputError("the photograph", "none was chosen", "take or choose one")
    kept = desk.bench.photographs.begin(owner_of(desk), of, sent.filename, sent.size or 0)
    while part := sent.file.read(LARGEST_PART):
        desk.bench.photographs.add(kept, kept.came, part)
    desk.bench.photographs.finish(kept)
    return kept


def announced(desk: Desk, of: str, said: PhotoToCome) -> dict[str, Any]:
    """Make room for a photograph of a job, or of a bank, that is sent in parts."""
    return how_far_of(desk.bench.photographs.begin(owner_of(desk), of, said.name, said.size))


async def part_taken(desk: Desk, kept: Photograph, offset: int) -> dict[str, Any]:
    """Take one part of a photograph; one that came before, or comes too early, changes nothing."""
    body = bytearray()
    async for some in desk.request.stream():
        body += some
        if len(body) > LARGEST_PART:
            raise HTTPException(413, f"a part has up to {LARGEST_PART} bytes")
    await run_in_threadpool(desk.bench.photographs.add, kept, offset, bytes(body))
    return how_far_of(kept)


def picture_of(kept: Photograph) -> Response:
    """Return the picture of our own that is shown of a photograph."""
    return FileResponse(kept.shown, media_type="image/jpeg", headers={"cache-control": "private, max-age=7200"})


def how_far_of(kept: Photograph) -> dict[str, Any]:
    """Return how much of a photograph has come."""
    return {"key": kept.key, "came": kept.came, "part": PART_AT_ONCE}


@router.get("/job/{ref}/photo", include_in_schema=False)
def photo(ref: JobRef, desk: AtDesk) -> Response:
    """Show where a photograph is taken or chosen, and those that are at hand."""
    shown = desk.shown(ref)
    kept = desk.bench.photographs.all_of(owner_of(desk), ref)
    return desk.page("photo.html", shown=shown, kept=kept, suffixes=SUFFIXES)


@router.get("/card.pdf", include_in_schema=False)
def card_to_print(desk: AtDesk, size: CardSize = "A5") -> Response:
    """Return the shop's card, to print."""
    return drawn_sheet(desk, size, 0)


def drawn_sheet(desk: Desk, size: str, windows: int) -> Response:
    """Return a sheet of numbered windows as a PDF, or with none the shop's card."""
    drawn = desk.bench.served.sheet
    if drawn is None:
        raise HTTPException(404)
    name = f"{windows}-windows-{size}" if windows else f"card-{size}"
    headers = {"content-disposition": f'inline; filename="{name}.pdf"', "cache-control": "no-store"}
    return Response(drawn(size, windows), media_type="application/pdf", headers=headers)


@router.post("/job/{ref}/photo", include_in_schema=False)
def sent_whole(ref: JobRef, desk: AtDesk) -> Response:
    """Take a photograph that a plain form sends in one piece."""
    shown = desk.shown(ref)

    def do() -> str:
        return f"/job/{shown.story.job.ref}/photo/{take_whole(desk, ref).key}"

    return desk.sent(do, lambda: photo(ref, desk))


@router.post("/api/job/{ref}/photo")
def announce(ref: JobRef, said: PhotoToCome, desk: AtDesk) -> dict[str, Any]:
    """Make room for a photograph that is sent in parts."""
    desk.shown(ref)
    return announced(desk, ref, said)


@router.get("/api/job/{ref}/photo/{key}")
def how_far(ref: JobRef, key: PhotoKey, desk: AtDesk) -> dict[str, Any]:
    """Return how much of a photograph has come, so that the rest can be sent."""
    return how_far_of(photograph_of(desk, ref, key, whole=False))


@router.put("/api/job/{ref}/photo/{key}")
async def part(ref: JobRef, key: PhotoKey, desk: AtDesk, offset: Offset = 0) -> dict[str, Any]:
    """Take one part of a photograph; one that came before, or comes too early, changes nothing."""
    return await part_taken(desk, photograph_of(desk, ref, key, whole=False), offset)


@router.post("/api/job/{ref}/photo/{key}/finish")
def finish(ref: JobRef, key: PhotoKey, desk: AtDesk) -> dict[str, Any]:
    """See that a photograph has come whole and is one, and say where it is read."""
    kept = photograph_of(desk, ref, key, whole=False)
    desk.bench.photographs.finish(kept)
    return {"to": f"/job/{ref}/photo/{kept.key}"}


@router.get("/job/{ref}/photo/{key}/picture", include_in_schema=False)
def picture(ref: JobRef, key: PhotoKey, desk: AtDesk) -> Response:
    """Return the picture of our own that is shown of a photograph."""
    return picture_of(photograph_of(desk, ref, key))
