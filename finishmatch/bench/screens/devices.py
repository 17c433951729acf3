"""The paired devices: listed, forgotten, and the code by which another is let in."""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, Path
from fastapi.responses import Response
from markupsafe import Markup

from finishmatch.bench.desk import AtDesk
from finishmatch.bench.pairing import code_in_svg, pairing_link

router = APIRouter(include_in_schema=False)

DeviceNumber = Annotated[int, Path(ge=1, le=10**6)]


@router.get("/devices")
def devices(desk: AtDesk) -> Response:
    """Show the devices, and the code for another one."""
    served = desk.bench.served
    code = desk.bench.pairing.code() if served.lan else ""
    squares = Markup(code_in_svg(pairing_link(served.address, code))) if served.lan else ""
    return desk.page("devices.html", devices=desk.bench.devices.listed(), code=code, squares=squares)


@router.post("/devices/{number}/forget")
def forget(number: DeviceNumber, desk: AtDesk) -> Response:
    """Forget a device."""

    def do() -> str:
        gone = desk.bench.devices.forget(number)
        desk.say(f"{gone.name} (device {gone.number}) is forgotten: it has to be paired again")
        return "/devices"

    return desk.sent(do, lambda: devices(desk))
