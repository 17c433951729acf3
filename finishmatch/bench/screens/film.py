"""The film of a panel: build readings, layer by layer, from the metal up."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from fastapi import APIRouter
from fastapi.responses import Response

from finishmatch.bench.desk import AtDesk, Desk
from finishmatch.bench.parameters import JobRef
from finishmatch.errors import InputError
from finishmatch.steps.job.film import builds_typed, film

router = APIRouter(include_in_schema=False)

MOST_READINGS, SAID_READINGS = 200, 12


@router.get("/job/{ref}/film")
def film_page(ref: JobRef, desk: AtDesk) -> Response:
    """Show the layers that were read, and the form for another."""
    shown = desk.shown(ref)
    layers = [view for view in shown.entries if view.kind == "film-layer" and view.stands]
    panels = list(dict.fromkeys(view.entry.panel for view in layers))  # type: ignore[attr-defined]
    return desk.page("film.html", shown=shown, layers=layers, panels=panels)


@router.post("/job/{ref}/film")
def read_layer(ref: JobRef, desk: AtDesk) -> Response:
    """Record the readings of a layer."""

    def do() -> str:
        panel, layer = desk.text("panel"), desk.text("layer")
        if not panel or not layer:
            raise InputError("the panel" if not panel else "the layer", "isn't named", "say which")
        recorded = film(ref, panel, layer, _builds(desk), position=desk.whole("position"))
        read: Any = recorded.entries[0].entry
        desk.say(f"Recorded as #{recorded.entries[0].number}: {read.layer}, {_in_words(read.builds_um)}")
        desk.note(*recorded.warnings)
        return f"/job/{ref}/film"

    return desk.sent(do, lambda: film_page(ref, desk), ref=ref, bearing=("film",))


def _builds(desk: Desk) -> list[float]:
    """Return the readings typed: with blanks or semicolons between them; of a comma that may be either it is asked."""
    text = desk.text("builds")
    if not text:
        raise InputError("`builds`", "are missing", "type them in µm, as 62 58 60")
    found = builds_typed("`builds`", text, by_commas=False)
    if len(found) > MOST_READINGS:
        raise InputError("`builds`", f"are {len(found)}", f"enter {MOST_READINGS} at most at a time")
    return found


def _in_words(builds_um: Sequence[float]) -> str:
    """Return readings as they were taken: who mistyped one sees it, and how many there are."""
    told = ", ".join(f"{build:g}" for build in builds_um[:SAID_READINGS])
    more = len(builds_um) - SAID_READINGS
    return f"{told} µm" if more <= 0 else f"{told} µm and {more} more"
