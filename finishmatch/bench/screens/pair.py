"""Where a device is paired, by the code of the moment."""

from __future__ import annotations

from fastapi import APIRouter
from fastapi.responses import Response

from finishmatch.bench.desk import AtDesk
from finishmatch.bench.guard import cookie
from finishmatch.bench.sessions import KEPT_FOR
from finishmatch.errors import InputError

router = APIRouter(include_in_schema=False)


@router.get("/pair")
def pair_page(desk: AtDesk) -> Response:
    """Show the form that asks for the code."""
    return desk.gone_to("/") if desk.session is not None else desk.page("pair.html")


@router.post("/pair")
def pair(desk: AtDesk) -> Response:
    """Let a device in whose code is right."""
    bench = desk.bench
    address = desk.request.client.host if desk.request.client else ""
    try:
        if not bench.served.lan:
            raise InputError("pairing", "isn't asked for: this page is served to this machine alone")
        if not bench.pairing.try_code(desk.text("code"), address):
            bench.tell(f"a wrong code was typed at {address}")
            raise InputError("the code", "isn't right, or isn't good any more", "the terminal shows the one of now")
        secret = bench.devices.paired(desk.text("name") or _named(desk.request.headers.get("user-agent", "")))
    except InputError as error:
        desk.wrong = error
        return desk.page("pair.html")
    bench.tell(f"paired: {bench.devices.listed()[-1].name}; the code for another device: {bench.pairing.code()}")
    answer = desk.gone_to("/")
    answer.headers.append("set-cookie", cookie(secret, KEPT_FOR.days))
    return answer


def _named(agent: str) -> str:
    """Return what a device is called that gave no name."""
    for sign, name in (("iPad", "tablet"), ("Tablet", "tablet"), ("Mobi", "phone"), ("Android", "tablet")):
        if sign in agent:
            return name
    return "computer"
