"""A bank is made on a phone, from its name to a recipe: by fingers, in a real browser, looked at on every screen."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Page, expect

from finishmatch.cli.photo.card import sheet_for_page
from finishmatch.steps.bank_made.as_it_stands import banks_in_hand
from finishmatch.steps.mix import MixRequest, mix
from tests.bench.screens import Looked, page_of, press, type_in
from tests.conftest import ROOT

pytestmark = pytest.mark.slow

TINS = (("white", "white", "PW6"), ("blue", "tint", "PB15:1"), ("red oxide", "tint", "PR101"))
PANELS = {
    "white masstone": {"white": "100"},
    "blue 20/80": {"white": "80.02", "blue": "20"},
    "blue 5/95": {"white": "95", "blue": "5.01"},
    "red oxide 5/95": {"white": "95", "red oxide": "5"},
}
WINDOWS = {
    "Window 1": "white masstone",
    "Window 3": "blue 20/80",
    "Window 4": "blue 5/95",
    "Window 8": "red oxide 5/95",
}


def _press(page: Page, name: str) -> None:
    page.locator("main").get_by_role("button", name=name).or_(
        page.locator("main").get_by_role("link", name=name)
    ).click()


def _enter_tins(look: Looked) -> None:
    page = look.page
    look.keep("b2-tin")
    for name, role, pigment in TINS:
        page.locator("#tint").fill(name)
        page.locator("#role").select_option(role)
        page.locator("#colour_index").fill(pigment)
        if name == TINS[-1][0]:
            page.get_by_label("Another tin comes after it").uncheck()
        press(look, "Put it in")
        expect(page.get_by_text(f"In the bank: {name}").first).to_be_visible()
    look.keep("b3-tins-in")


def _weigh(look: Looked) -> None:
    page = look.page
    press(look, "Which panels to draw")
    expect(page.get_by_role("link", name="Weigh blue 10/90")).to_be_visible()
    look.keep("b4-plan")
    _press(page, "Weigh blue 10/90")
    type_in(look, "#grams_0", "90")
    type_in(look, "#grams_1", "100")
    expect(page.get_by_role("heading", name="blue 10/90")).to_be_visible()
    look.keep("b5-weigh")
    press(look, "Weighed")
    expect(page.get_by_text("blue is 53 % of what was weighed, and 10 % was planned").first).to_be_visible()
    look.complained.clear()  # the browser says that it was refused
    look.keep("b6-weighed-far-from-planned")
    for name, parts in PANELS.items():
        page.goto(re.sub(r"(/bank/B[0-9a-f]{10}).*", r"\1/panel", page.url))
        for i, (tint, grams) in enumerate(parts.items()):
            page.locator(f"#tint_{i}").select_option(tint)
            type_in(look, f"#grams_{i}", grams)
        page.locator("#panel_name").fill(name)
        press(look, "Weighed")
        expect(page.get_by_text(f"Weighed: {name}")).to_be_visible()
    look.keep("b7-not-read-yet")


def _photograph(look: Looked) -> None:
    page = look.page
    press(look, "Photograph them")
    expect(page.get_by_role("heading", name="Photograph the panels")).to_be_visible()
    look.keep("b8-photograph")
    page.locator("#choose").set_input_files(str(ROOT / "swatches/panels.jpg"))
    expect(page.get_by_role("heading", name="Which panel is it?")).to_be_visible()
    look.keep("b9-which-panel")
    for window, panel in WINDOWS.items():
        page.get_by_label(window).select_option(panel)
    press(look, "Read them into the bank")
    expect(page.get_by_text("Read: white masstone (95.")).to_be_visible()
    look.keep("b10-read")


def test_a_bank_is_made_and_mixed_from_on_a_phone(chromium_: Browser, home: Path) -> None:
    with page_of(chromium_, "phone", sheet=sheet_for_page) as (page, base):
        look = Looked(page, base, "phone")
        look.open("/jobs")
        page.locator("header").get_by_role("link", name="Banks").click()
        expect(page.get_by_role("heading", name="Banks of tints")).to_be_visible()
        look.keep("b0-banks")
        press(look, "New bank")
        page.locator("#bank_name").fill("Shed tins")
        expect(page.get_by_role("heading", name="New bank")).to_be_visible()
        look.keep("b1-new-bank")
        press(look, "Begin the bank")
        expect(page.get_by_text("Begun: Shed tins")).to_be_visible()
        _enter_tins(look)
        _weigh(look)
        _photograph(look)
        press(look, "What the panels tell")
        expect(page.get_by_role("heading", name="Furthest off")).to_be_visible()
        look.keep("b11-told")
        page.goto(f"{base}/jobs/new")
        page.locator("#title").fill("Roof")
        press(look, "Open the job")
        expect(page.get_by_text("Opened J1")).to_be_visible()
        page.goto(f"{base}/job/J1/recipe")
        page.get_by_label("Bank of tints").select_option(label="Shed tins (3 tints)")
        for axis, value in (("L", "60"), ("a", "5"), ("b", "-20")):
            type_in(look, f"#{axis}", value)
        type_in(look, "#grams", "200")
        _press(page, "Work out recipes")
        expect(page.get_by_role("heading", name="Found last")).to_be_visible()
        look.keep("b12-recipe")
        shown = page.locator("article").first.inner_text()
    own = next(bank for bank in banks_in_hand() if bank.own)
    assert [panel.name for panel in own.panels] == list(PANELS)
    best = mix("60,5,-20", own.folder, 200.0, MixRequest(recipes=5)).recipes[0]
    for tint, grams in best.parts:
        assert f"{grams:.1f} g" in shown, (tint, shown)
