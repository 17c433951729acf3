"""Photographs of a bank's panels: taken or chosen, what lies in each window, their colours read into the bank."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Annotated, Any

from fastapi import APIRouter, Query
from fastapi.responses import Response

from finishmatch.bench.desk import AtDesk, Desk
from finishmatch.bench.marks import MOST_REGIONS, Row, rows_sent, typed_mark
from finishmatch.bench.parameters import BankRef
from finishmatch.bench.photographs import SUFFIXES, Photograph
from finishmatch.bench.screens.banks import bank_of
from finishmatch.bench.screens.photo import (
    Offset,
    PhotoKey,
    PhotoToCome,
    announced,
    how_far_of,
    owner_of,
    part_taken,
    photograph_of,
    picture_of,
    take_whole,
)
from finishmatch.bench.screens.photo_read import LAMPS, chosen_of, read_of, register_chart
from finishmatch.errors import InputError
from finishmatch.steps.bank_made.as_it_stands import BankInHand
from finishmatch.steps.photo.bank_photo import BankPhoto, PanelsRequest, photograph_bank
from finishmatch.steps.photo.photo_read import PhotoRead
from finishmatch.steps.photo.photo_shown import named_by_file

router = APIRouter()

AsWeighed = Annotated[str, Query(pattern="^(weighed)?$")]
CARD = "this is the shop's card, and no sheet of numbered windows"
_WINDOW = "window "
_OF_PANEL = re.compile(r"^(window \d+) \(.*?\)")


@dataclass(frozen=True)
class Sample:
    """A sample of the photograph: what it is called there, its colour and how sure that is, where it lies."""

    name: str
    lab: tuple[float, float, float]
    u95: float
    place: str

    @property
    def as_shown(self) -> str:
        """What tells it from every other, and from itself where it was marked otherwise."""
        return f"{self.name} {self.place}"

    @property
    def window(self) -> str:
        """The number of its window; "" where it lies in none."""
        return self.name.removeprefix(_WINDOW) if self.name.startswith(_WINDOW) else ""


@router.get("/bank/{ref}/photo", include_in_schema=False)
def photo(ref: BankRef, desk: AtDesk) -> Response:
    """Show where a photograph of panels is taken or chosen, and those that are at hand."""
    bank = bank_of(desk, ref)
    kept = desk.bench.photographs.all_of(owner_of(desk), ref)
    return desk.page("bank_photo.html", bank=bank, kept=kept, suffixes=SUFFIXES)


@router.post("/bank/{ref}/photo", include_in_schema=False)
def sent_whole(ref: BankRef, desk: AtDesk) -> Response:
    """Take a photograph that a plain form sends in one piece."""
    bank_of(desk, ref)
    return desk.sent(lambda: f"/bank/{ref}/photo/{take_whole(desk, ref).key}", lambda: photo(ref, desk))


@router.post("/api/bank/{ref}/photo")
def announce(ref: BankRef, said: PhotoToCome, desk: AtDesk) -> dict[str, Any]:
    """Make room for a photograph of panels that is sent in parts."""
    bank_of(desk, ref)
    return announced(desk, ref, said)


@router.get("/api/bank/{ref}/photo/{key}")
def how_far(ref: BankRef, key: PhotoKey, desk: AtDesk) -> dict[str, Any]:
    """Return how much of a photograph has come, so that the rest can be sent."""
    return how_far_of(photograph_of(desk, ref, key, whole=False))


@router.put("/api/bank/{ref}/photo/{key}")
async def part(ref: BankRef, key: PhotoKey, desk: AtDesk, offset: Offset = 0) -> dict[str, Any]:
    """Take one part of a photograph; one that came before, or comes too early, changes nothing."""
    return await part_taken(desk, photograph_of(desk, ref, key, whole=False), offset)


@router.post("/api/bank/{ref}/photo/{key}/finish")
def finish(ref: BankRef, key: PhotoKey, desk: AtDesk) -> dict[str, Any]:
    """See that a photograph has come whole and is one, and say where it is read."""
    kept = photograph_of(desk, ref, key, whole=False)
    desk.bench.photographs.finish(kept)
    return {"to": f"/bank/{ref}/photo/{kept.key}"}


@router.get("/bank/{ref}/photo/{key}/picture", include_in_schema=False)
def picture(ref: BankRef, key: PhotoKey, desk: AtDesk) -> Response:
    """Return the picture of our own that is shown of a photograph."""
    return picture_of(photograph_of(desk, ref, key))


@router.post("/bank/{ref}/photo/{key}/drop", include_in_schema=False)
def drop(ref: BankRef, key: PhotoKey, desk: AtDesk) -> Response:
    """Take a photograph away from the bench; what was read of it stays."""
    kept = photograph_of(desk, ref, key)

    def do() -> str:
        desk.bench.photographs.drop(kept)
        return f"/bank/{ref}/photo"

    return desk.sent(do, lambda: _page(ref, kept, desk))


@router.get("/bank/{ref}/photo/{key}", include_in_schema=False)
def read_page(ref: BankRef, key: PhotoKey, desk: AtDesk, order: AsWeighed = "") -> Response:
    """Show what lies in the windows of a photograph, and ask which panel each is."""
    return _page(ref, photograph_of(desk, ref, key), desk, in_order=bool(order))


@router.post("/bank/{ref}/photo/{key}", include_in_schema=False)
def read_anew(ref: BankRef, key: PhotoKey, desk: AtDesk) -> Response:
    """Read a photograph by the samples that were marked on it."""
    kept = photograph_of(desk, ref, key)

    def do() -> str:
        regions = () if desk.text("find") else tuple(typed_mark(row) for row in rows_sent(desk))
        with kept.lock:
            before = kept.regions, kept.read
            kept.regions, kept.read = regions, None
            try:
                read_of(kept)
            except InputError:
                kept.regions, kept.read = before
                raise
        return f"/bank/{ref}/photo/{key}"

    return desk.sent(do, lambda: _page(ref, kept, desk))


@router.post("/bank/{ref}/photo/{key}/chart", include_in_schema=False)
def say_which_chart(ref: BankRef, key: PhotoKey, desk: AtDesk) -> Response:
    """Register which chart the shop has, and read this photograph by it, and every other from now on."""
    kept = photograph_of(desk, ref, key)

    def do() -> str:
        register_chart(kept, desk)
        return f"/bank/{ref}/photo/{key}"

    return desk.sent(do, lambda: _page(ref, kept, desk))


@router.post("/bank/{ref}/photo/{key}/read", include_in_schema=False)
def read_into(ref: BankRef, key: PhotoKey, desk: AtDesk) -> Response:
    """Read the colours of the panels that were named into the bank."""
    kept = photograph_of(desk, ref, key)

    def do() -> str:
        found = _into_bank(bank_of(desk, ref), kept, desk, ref)
        if found.why:
            raise InputError("", "this photograph can't serve", found.why)
        read = ", ".join(f"{one.panel} {_lab(one.lab)}" for one in found.panels)
        desk.say(f"Read: {read}")
        told = set(read_of(kept).warnings)
        desk.note(*(said for said in found.warnings if _plain(said) not in told))
        return f"/bank/{ref}#panels"

    return desk.sent(do, lambda: _page(ref, kept, desk))


def _plain(said: str) -> str:
    """Return a warning without the picture and the panel it names, as the photograph's own page has it."""
    return _OF_PANEL.sub(r"\1", said.partition(": ")[2])


def _lab(lab: Sequence[float]) -> str:
    return "(" + ", ".join(f"{value:.1f}" for value in lab) + ")"


def _into_bank(bank: BankInHand, kept: Photograph, desk: Desk, ref: str) -> BankPhoto:
    """Return what was read into the bank of the panels that were named, by this photograph and others under lamps."""
    named = _named(bank, kept, desk)
    lamps = [(one, light) for one, light in chosen_of(ref, desk, "under", LAMPS) if one is not kept]
    windows = [f"{sample.window}={panel}" for sample, panel in named if sample.window]
    regions = []
    if not all(sample.window for sample, _ in named):
        if _of_card(kept):
            raise InputError("", CARD, "photograph the sheet they are drawn down on, or mark each panel in the picture")
        windows, regions = [], [f"{kept.path}:{panel}={sample.place}" for sample, panel in named]
        called = {sample.name: panel for sample, panel in named}
        for lamp, _ in lamps:
            regions += [f"{lamp.path}:{called[one.name]}={one.place}" for one in _samples(lamp) if one.name in called]
    under = tuple(f"{light}={lamp.path}" for lamp, light in lamps)
    request = PanelsRequest(region=regions, panel=windows, under=under)
    try:
        return photograph_bank(bank.folder, [kept.path], request)
    except InputError as error:
        for one in (kept, *(lamp for lamp, _ in lamps)):
            error = named_by_file(error, one.path)
        raise error from None


def _named(bank: BankInHand, kept: Photograph, desk: Desk) -> list[tuple[Sample, str]]:
    """Return the samples of which it was said which panel they are."""
    if _read_anew(_samples(kept), desk):
        raise InputError("", "this photograph was read anew since the page was opened", "choose again which each is")
    named = [(sample, desk.text(f"panel_{i}")) for i, sample in enumerate(_samples(kept))]
    found = [(sample, panel) for sample, panel in named if panel]
    if not found:
        raise InputError("which panel each is", "isn't said", "choose it for one at least")
    panels = [panel for _, panel in found]
    gone = next((panel for panel in panels if bank.panel(panel) is None), None)
    if gone is not None:
        raise InputError("which panel each is", f"{gone[:60]!r} isn't in the bank any more", "choose again")
    twice = next((panel for panel in panels if panels.count(panel) > 1), None)
    if twice is not None:
        raise InputError("which panel each is", f"{twice!r} is chosen twice", "a panel lies in one place")
    return found


def _of_card(kept: Photograph) -> bool:
    """Return whether the samples are those of the shop's card: its windows have no numbers, by which they are read.

    Read by their places alone they are otherwise than the page has them: the card's light isn't taken out then.
    """
    found = read_of(kept).as_dict()["photographs"][0]["outlines"]["card"]
    return found is not None and not kept.regions and not all(one.window for one in _samples(kept))


def _read_anew(samples: Sequence[Sample], desk: Desk) -> bool:
    """Return whether what was chosen is of other samples: marked, or read by another chart, since the page was opened.

    A form without the samples it was of, as a script of the shop's own may send, is taken as it is.
    """
    shown = [desk.text(f"sample_{i}") for i in range(MOST_REGIONS)]
    return any(shown) and [one for one in shown if one] != [one.as_shown for one in samples][:MOST_REGIONS]


def _samples(kept: Photograph) -> list[Sample]:
    """Return the samples that were read in a photograph, those in windows in the order of their numbers."""
    read = read_of(kept)
    places = {one["name"]: one["upright"] for one in read.as_dict()["photographs"][0]["outlines"]["samples"]}
    found = []
    for region in read.regions:
        lab = (float(region.lab[0]), float(region.lab[1]), float(region.lab[2]))
        found.append(Sample(region.name, lab, float(region.u95), ",".join(str(int(x)) for x in places[region.name])))
    return sorted(found, key=lambda one: int(one.window) if one.window.isdigit() else 0)


def _page(ref: str, kept: Photograph, desk: Desk, in_order: bool = False) -> Response:
    bank = bank_of(desk, ref)
    read: PhotoRead | None = None
    try:
        read = read_of(kept)
    except InputError as error:
        desk.wrong = desk.wrong or error
    outlines: dict[str, Any] = {"size": list(kept.pixels), "chart": None, "card": None, "patches": [], "samples": []}
    samples: list[Sample] = []
    if read is not None:
        outlines = read.as_dict()["photographs"][0]["outlines"]
        samples = _samples(kept)
    rows = rows_sent(desk) or [Row(one["name"], *map(str, one["upright"])) for one in outlines["samples"]]
    waiting, told = [panel.name for panel in bank.unread], [panel.name for panel in bank.panels if panel.read]
    panels = [("", "none of these"), *((name, name) for name in waiting)]
    panels += [(name, f"{name} (read before)") for name in told]
    by_order = dict(enumerate(waiting)) if in_order else {}
    context: dict[str, Any] = {"read": read, "outlines": outlines, "samples": samples, "panels": panels}
    context |= {"rows": [*rows, Row()][:MOST_REGIONS], "most": MOST_REGIONS, "by_order": by_order, "waiting": waiting}
    context["card"] = CARD if read is not None and _of_card(kept) else ""
    context["anew"] = _read_anew(samples, desk)  # what was chosen is of other samples
    others = [one for one in desk.bench.photographs.all_of(owner_of(desk), ref) if one is not kept]
    return desk.page("bank_photo_read.html", bank=bank, kept=kept, others=others, lamps=LAMPS, **context)
