"""The panels of a bank: which to draw, what was weighed into each, the sheet they are drawn down on."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Annotated, Any

from fastapi import APIRouter, Query
from fastapi.responses import Response
from starlette.exceptions import HTTPException

from finishmatch.bench.desk import AtDesk, Desk
from finishmatch.bench.parameters import BankRef
from finishmatch.bench.screens.banks import MOST_WINDOWS, bank_of
from finishmatch.bench.screens.photo import drawn_sheet
from finishmatch.cautions import mixing_cautions
from finishmatch.errors import InputError
from finishmatch.readings.plain_number import plain_number
from finishmatch.steps.bank_made.as_it_stands import BankInHand
from finishmatch.steps.bank_made.panels import FINE_G, take_panel_out, weigh_panel
from finishmatch.steps.bank_plan import USUAL, BankPlan, plan_bank
from finishmatch.steps.cautions_shown import cautions_to_show
from finishmatch.steps.known_banks import state_of_bank

router = APIRouter(include_in_schema=False)

MOST_PLANNED, USUAL_G = 24, 100.0
MOST_PARTS, OWN_PARTS = 5, 3  # in a panel; offered for one of the painter's own
MOST_G = 5000.0
HowMany = Annotated[int, Query(ge=1, le=MOST_PLANNED)]
HowMuch = Annotated[float, Query(ge=1, le=MOST_G)]
AsTyped = Annotated[str, Query(max_length=40)]
PanelNamed = Annotated[str, Query(max_length=200)]
Size = Annotated[str, Query(pattern="^(A4|letter)$")]
Sheet = Annotated[int, Query(ge=1, le=MOST_WINDOWS)]


def _planned(desk: Desk, bank: BankInHand, panels: int) -> BankPlan:
    found: BankPlan = desk.bench.remembered(
        ("panels to draw", bank.ref, panels, state_of_bank(bank.folder)), lambda: plan_bank(bank.folder, panels)
    )
    return found


def _grams(parts: Sequence[tuple[str, float]], whole: float) -> dict[str, float]:
    """Return what is weighed of each part where so much is made in all."""
    times = whole / sum(grams for _, grams in parts)
    return {tint: round(grams * times, 2) for tint, grams in parts}


@router.get("/bank/{ref}/plan")
def plan(ref: BankRef, desk: AtDesk, panels: AsTyped = "", grams: AsTyped = "") -> Response:
    """Show which panels to draw in the time there is."""
    bank = bank_of(desk, ref)
    typed = {"panels": panels or USUAL, "grams": grams or f"{USUAL_G:g}"}
    how_many, how_much = USUAL, USUAL_G
    try:
        how_many = int(_typed_between(desk, "panels", panels, USUAL, MOST_PLANNED, whole=True))
        how_much = _typed_between(desk, "grams", grams, USUAL_G, MOST_G)
    except InputError as error:
        desk.wrong = error
    found: BankPlan | None = None
    problem: InputError | None = None
    try:
        if bank.wrong is None and not bank.to_mix:
            raise InputError("", "there is nothing to mix yet", "enter the white and the tints first, with «Back»")
        found = _planned(desk, bank, how_many)
    except InputError as error:
        problem = error
    weighed = {panel.name.casefold() for panel in bank.panels}
    shown = [] if found is None else [(one, _grams(one.parts, how_much)) for one in found.plan.panels]
    fine = any(min(parts.values()) < FINE_G for _, parts in shown)
    context: dict[str, Any] = {"found": found, "shown": shown, "weighed": weighed, "fine": fine, "problem": problem}
    return desk.page("bank_plan.html", bank=bank, panels=how_many, grams=how_much, plan_typed=typed, **context)


@router.get("/bank/{ref}/panel")
def panel_page(
    ref: BankRef, desk: AtDesk, planned: PanelNamed = "", panels: HowMany = USUAL, grams: HowMuch = USUAL_G
) -> Response:
    """Show the form for what was weighed into a panel: one that was planned, or one of the painter's own."""
    bank = bank_of(desk, ref)
    meant = _meant_when_opened(desk) or _meant(desk, bank, planned, panels, grams)
    hazards = [word for tint in bank.tints for word in tint.hazards]
    cautions = cautions_to_show(mixing_cautions(hazards))
    context: dict[str, Any] = {"planned": planned if meant else "", "meant": meant, "cautions_found": cautions}
    context["rows"] = [*meant.items(), *[("", 0.0)] * (1 if meant else OWN_PARTS)][:MOST_PARTS]
    return desk.page("bank_panel.html", bank=bank, panels=panels, grams=grams, **context)


@router.post("/bank/{ref}/panel")
def weigh(ref: BankRef, desk: AtDesk) -> Response:
    """Put a panel into the bank as it was weighed."""
    bank = bank_of(desk, ref)
    planned, panels, grams = desk.text("planned"), desk.whole("panels") or USUAL, desk.number("grams") or USUAL_G
    panels, grams = min(max(panels, 1), MOST_PLANNED), min(max(grams, 1.0), MOST_G)

    def do() -> str:
        parts = _typed_parts(desk)
        meant = _meant_when_opened(desk) or _meant(desk, bank, planned, panels, grams)
        anyway = bool(desk.text("anyway"))
        called = desk.text("panel_name")
        if anyway and called == planned:
            called = ""  # it holds something else than that name says
        if not called and not anyway:
            _check_not_sent_before(bank_of(desk, ref), parts)
        name = weigh_panel(bank, parts, called, planned=meant or None, anyway=anyway)
        desk.say(f"Weighed: {name}. Write that beside its window on the sheet")
        return f"/bank/{ref}/plan?panels={panels}&grams={grams:g}" if meant else f"/bank/{ref}#panels"

    return desk.sent(do, lambda: panel_page(ref, desk, planned, panels, grams))


@router.get("/bank/{ref}/weighed")
def weighed(ref: BankRef, desk: AtDesk, name: PanelNamed = "") -> Response:
    """Show a panel that was weighed, and what was read of it."""
    bank = bank_of(desk, ref)
    panel = bank.panel(desk.text("panel_name") or name)
    if panel is None:
        raise HTTPException(404, "There is no such panel in this bank.")
    return desk.page("bank_weighed.html", bank=bank, panel=panel)


@router.post("/bank/{ref}/weighed/out")
def take_out(ref: BankRef, desk: AtDesk) -> Response:
    """Take a panel out of the bank, with the colours that photographs gave of it."""
    bank = bank_of(desk, ref)

    def do() -> str:
        name = desk.text("panel_name")
        take_panel_out(bank, name)
        desk.say(f"Taken out: {name}")
        return f"/bank/{ref}#panels"

    return desk.sent(do, lambda: weighed(ref, desk))


@router.get("/bank/{ref}/sheet.pdf")
def sheet(ref: BankRef, desk: AtDesk, windows: Sheet = USUAL, size: Size = "A4") -> Response:
    """Return the sheet of numbered windows, to print."""
    bank_of(desk, ref)
    return drawn_sheet(desk, size, windows)


def _meant(desk: Desk, bank: BankInHand, planned: str, panels: int, grams: float) -> dict[str, float]:
    """Return what is to be weighed into a panel of the plan; nothing where it isn't in the plan."""
    if not planned:
        return {}
    try:
        found = next((one for one in _planned(desk, bank, panels).plan.panels if one.name == planned), None)
    except InputError:
        return {}
    return {} if found is None else _grams(found.parts, grams)


def _check_not_sent_before(bank: BankInHand, parts: Sequence[tuple[str, float]]) -> None:
    """Ask about weights that are those of a panel to the last digit: the form is sent again where no answer came."""
    same = next((one.name for one in bank.panels if dict(one.parts) == {t: g for t, g in parts if g > 0}), None)
    if same is not None:
        mend = "if this is another one, give it a name of its own"
        raise InputError("`panel_name`", f"{same!r} was weighed so to the last digit, and is in the bank", mend)


def _meant_when_opened(desk: Desk) -> dict[str, float]:
    """Return what was to be weighed when the form was opened: the plan may be another one by now."""
    found = {}
    for i in range(MOST_PARTS):
        tint, typed = desk.text(f"meant_tint_{i}"), desk.text(f"meant_grams_{i}")
        if tint and (grams := _plain_grams(typed)) > 0:
            found[tint] = grams
    return found


def _typed_between(desk: Desk, name: str, typed: str, usual: float, most: float, *, whole: bool = False) -> float:
    """Return a number that was typed, or the usual one where none was; one beyond its bounds is said at its field."""
    if not typed.strip():
        return usual
    value = desk.number_in(f"`{name}`", typed)
    if not 1 <= value <= most:
        raise InputError(f"`{name}`", f"{value:g} is too {'small' if value < 1 else 'large'}", f"type 1 to {most:g}")
    if whole and value != int(value):
        raise InputError(f"`{name}`", f"{value:g} is not a whole number", "leave out the decimals")
    return value


def _typed_parts(desk: Desk) -> list[tuple[str, float]]:
    """Return the parts that were typed: each a tint and its grams."""
    parts = []
    for i in range(MOST_PARTS):
        tint, typed = desk.text(f"tint_{i}"), desk.text(f"grams_{i}")
        if not tint and not typed:
            continue
        if not tint:
            raise InputError("`tint`", f"{typed[:20]} g are of no tint", "choose which it is")
        if not typed:
            raise InputError("`grams`", f"those of {tint[:40]} are missing", "type what the scale showed")
        value = desk.number_in("`grams`", typed)
        if value < 0:
            raise InputError("`grams`", f"{value:g} is too small", "type what the scale showed")
        parts.append((tint, value))
    return parts


def _plain_grams(text: str) -> float:
    """Return grams as the page itself wrote them into its form; 0 where they are none."""
    try:
        return plain_number(text)
    except ValueError:
        return 0.0
