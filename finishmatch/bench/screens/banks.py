"""The banks of tints: those there are, a new one, what stands in one and what comes next, its tins."""

from __future__ import annotations

from dataclasses import asdict
from typing import Annotated, Any

from fastapi import APIRouter, Query
from fastapi.responses import Response
from starlette.exceptions import HTTPException

from finishmatch.bench.desk import AtDesk, Desk
from finishmatch.bench.parameters import BankRef
from finishmatch.errors import InputError
from finishmatch.steps.bank_made.as_it_stands import BankInHand, banks_in_hand
from finishmatch.steps.bank_made.begin import BY_PHONE, begin_bank
from finishmatch.steps.bank_made.tins import Tin, put_tin, take_tin_out, tin_as_written
from finishmatch.steps.known_banks import state_of_bank, state_of_banks
from finishmatch.steps.show_bank import FitOfBank, show_bank

router = APIRouter(include_in_schema=False)

ROLES = (
    ("tint", "a tint"),
    ("white", "the white that lets others down"),
    ("black", "the black"),
    ("clear", "a clear or binder"),
)
READ_BY = (
    (BY_PHONE, "a phone, or an instrument without the gloss at 45°"),
    ("di8", "a sphere instrument, with the gloss"),
    ("de8", "a sphere instrument, without the gloss"),
)
MOST_WINDOWS = 12  # of the sheet
TinNamed = Annotated[str, Query(max_length=200)]


def all_banks(desk: Desk) -> tuple[BankInHand, ...]:
    """Return the banks there are, as their files stand."""
    named = desk.bench.served.banks
    found: tuple[BankInHand, ...] = desk.bench.remembered(
        ("banks", state_of_banks(named)), lambda: banks_in_hand(named)
    )
    return found


def bank_of(desk: Desk, ref: str) -> BankInHand:
    """Return a bank as it stands; one there isn't is no page."""
    for bank in all_banks(desk):
        if bank.ref == ref:
            return bank
    raise HTTPException(404, "There is no such bank.")


@router.get("/banks")
def banks(desk: AtDesk) -> Response:
    """Show the banks there are."""
    return desk.page("banks.html", banks=all_banks(desk))


@router.get("/banks/new")
def new_bank(desk: AtDesk) -> Response:
    """Show the form for a new bank."""
    return desk.page("new_bank.html", read_by=READ_BY)


@router.post("/banks/new")
def begin(desk: AtDesk) -> Response:
    """Begin a bank."""

    def do() -> str:
        bank = begin_bank(desk.text("bank_name"), desk.text("geometry") or BY_PHONE, desk.bench.served.banks)
        desk.say(f"Begun: {bank.name}")
        return f"/bank/{bank.ref}/tin"

    return desk.sent(do, lambda: new_bank(desk))


@router.get("/bank/{ref}")
def bank_page(ref: BankRef, desk: AtDesk) -> Response:
    """Show a bank: its tins, its panels, and what comes next."""
    return desk.page("bank.html", bank=bank_of(desk, ref), windows=[(i, i) for i in range(1, MOST_WINDOWS + 1)])


@router.get("/bank/{ref}/tin")
def tin_page(ref: BankRef, desk: AtDesk, name: TinNamed = "") -> Response:
    """Show the form of a tin: a new one, or one that is in the bank."""
    bank = bank_of(desk, ref)
    tin = bank.tint(desk.text("was") or name)
    if name and tin is None:
        raise HTTPException(404, "There is no such tin in this bank.")
    held = [] if tin is None else [panel.name for panel in bank.panels if tin.name in dict(panel.parts)]
    roles = [role for role in ROLES if role[0] == "tint" or _free(bank, role[0], tin)]
    usual = "white" if tin is None and not bank.white else "tint"
    stands = dict.fromkeys(asdict(Tin("")), "")
    if tin is not None and bank.may_change:
        try:
            stands |= tin_as_written(bank, tin.name)
        except InputError as error:
            desk.wrong = desk.wrong or error
    # what was changed meanwhile is asked about until that was said, whatever else is wrong before
    told = desk.form is None or desk.wrong is None or not desk.wrong.where
    stood = stands if told else {name: desk.text(f"stood_{name}") for name in stands}
    context: dict[str, Any] = {"stands": stands, "stood": stood, "roles": roles, "usual_role": usual, "held": held}
    return desk.page("bank_tin.html", bank=bank, tin=tin, **context)


@router.post("/bank/{ref}/tin")
def put(ref: BankRef, desk: AtDesk) -> Response:
    """Put a tin into the bank, or in the place of the one that was changed."""
    bank = bank_of(desk, ref)

    def do() -> str:
        tin = Tin(
            tint=desk.text("tint"),
            role=desk.text("role") or "tint",
            colour_index=desk.text("colour_index"),
            density_kg_l=desk.number("density_kg_l"),
            solids_percent=desk.number("solids_percent"),
            price_per_kg=desk.number("price_per_kg"),
            stock_g=desk.number("stock_g"),
            hazard=desk.text("hazard"),
            lot=desk.text("lot"),
            panels_lot=desk.text("panels_lot"),
        )
        stood = {name: desk.text(f"stood_{name}") for name in asdict(tin)} if desk.text("stood_role") else None
        put_tin(bank, tin, desk.text("was"), stood)
        desk.say(f"In the bank: {' '.join(tin.tint.split())}")
        return f"/bank/{ref}/tin" if desk.text("more") else f"/bank/{ref}#tins"

    return desk.sent(do, lambda: tin_page(ref, desk))


@router.post("/bank/{ref}/tin/out")
def take_out(ref: BankRef, desk: AtDesk) -> Response:
    """Take a tin out of the bank."""
    bank = bank_of(desk, ref)

    def do() -> str:
        name = desk.text("was")
        take_tin_out(bank, name)
        desk.say(f"Taken out: {name}")
        return f"/bank/{ref}#tins"

    return desk.sent(do, lambda: tin_page(ref, desk))


@router.get("/bank/{ref}/told")
def told(ref: BankRef, desk: AtDesk) -> Response:
    """Show what the panels tell of the tints, where they contradict each other, and which would tell more."""
    bank = bank_of(desk, ref)
    found, problem = None, None
    try:
        if bank.wrong is None and not any(panel.read for panel in bank.panels):
            mend = "photograph its panels" if bank.panels else "weigh its panels, then photograph them"
            raise InputError("", "no panel of this bank is read yet", mend)
        found = desk.bench.remembered(("told", ref, state_of_bank(bank.folder)), lambda: show_bank(bank.folder))
    except InputError as error:
        problem = error
    fit = None if found is None else FitOfBank(found.fitted)
    return desk.page("bank_told.html", bank=bank, found=found, fit=fit, problem=problem)


def _free(bank: BankInHand, role: str, tin: object) -> bool:
    """Return whether a tin may be given a role: of white and black there is one at most."""
    return role == "clear" or all(one.role != role or one is tin for one in bank.tints)
