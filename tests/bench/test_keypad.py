"""The keys for gloves type what their field asks for, say its unit, and fit on a phone that lies on its side."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser as Chromium
from playwright.sync_api import Locator, Page, expect

from finishmatch.ledger import FilmLayerEntry, open_ledger
from finishmatch.steps.job.open import open_job
from tests.bench.screens import PATIENCE_MS, page_of

pytestmark = pytest.mark.slow
LOWEST = {"width": 568, "height": 280}  # the least that a browser leaves of a small phone on its side


@pytest.fixture
def phone(chromium_: Chromium, home: Path) -> Iterator[tuple[Page, str]]:
    """A phone on a job."""
    open_job("Roof")
    with page_of(chromium_, "phone") as found:
        yield found


def _pad(page: Page) -> Locator:
    return page.get_by_role("region", name="Keypad")


def test_readings_with_blanks_between_them_are_typed_by_its_keys(phone: tuple[Page, str]) -> None:
    page, base = phone
    page.goto(f"{base}/job/J1/film")
    page.get_by_label("Panel").fill("roof")
    page.locator("#layer").fill("primer")
    page.locator("#builds").click()
    for key in ("6", "2", ".", "5", "space", "5", "8"):
        _pad(page).get_by_role("button", name=key, exact=True).click()
    expect(_pad(page).locator("output")).to_have_text("62.5 58 µm")
    expect(_pad(page).get_by_role("button", name="minus")).to_have_count(0)
    _pad(page).get_by_role("button", name="done").click()
    page.get_by_role("button", name="Record the readings").click()
    expect(page.locator(".said")).to_contain_text("primer, 62.5, 58 µm")
    with open_ledger() as ledger:
        (view,) = ledger.entries(ledger.find_job("J1"))
    assert isinstance(view.entry, FilmLayerEntry)
    assert view.entry.builds_um == (62.5, 58.0)


def test_the_usual_keyboard_has_blank_and_minus_and_is_of_its_field_alone(phone: tuple[Page, str]) -> None:
    page, base = phone
    page.goto(f"{base}/job/J1/film")
    page.locator("#builds").click()
    _pad(page).get_by_role("button", name="abc").click()
    expect(page.locator("#builds")).to_be_focused()
    expect(page.locator("#builds")).to_have_attribute("inputmode", "text")
    expect(_pad(page)).to_be_hidden()
    page.locator("#position").click()
    expect(_pad(page)).to_be_visible()
    expect(page.locator("#builds")).to_have_attribute("inputmode", "none")


def test_it_goes_with_the_page_that_it_typed_into(phone: tuple[Page, str]) -> None:
    page, base = phone
    page.goto(f"{base}/job/J1/card")
    page.get_by_label("L", exact=True).click()
    _pad(page).get_by_role("button", name="4", exact=True).click()
    page.get_by_role("button", name="Record and judge").evaluate("(one) => one.click()")
    expect(page.get_by_role("alert").first).to_contain_text("isn't whole")
    expect(_pad(page)).to_be_hidden()


UNITS = {
    "card": {"coats": "", "build_um": "µm", "tolerance": "ΔE00"},
    "defect": {"count": "", "size_mm": "mm", "depth_um": "µm"},
    "recipe": {"grams": "g", "max_tints": "", "tolerance": "ΔE00"},
    "film": {"builds": "µm", "position": ""},
}


@pytest.mark.parametrize("screen", UNITS)
def test_the_unit_is_that_of_the_field(screen: str, phone: tuple[Page, str]) -> None:
    page, base = phone
    page.goto(f"{base}/job/J1/{screen}")
    told = {}
    for name in UNITS[screen]:
        page.locator(f"#{name}").focus()
        _pad(page).get_by_role("button", name="4", exact=True).click()
        told[name] = _pad(page).locator("output").inner_text()
    assert told == {name: f"4 {unit}".strip() for name, unit in UNITS[screen].items()}


def test_what_is_said_of_a_key_has_what_stands_on_it(phone: tuple[Page, str]) -> None:
    page, base = phone
    page.goto(f"{base}/job/J1/card")
    page.get_by_label("L", exact=True).click()
    keys = (
        _pad(page)
        .get_by_role("button")
        .evaluate_all("(all) => all.map((one) => [one.textContent, one.getAttribute('aria-label') || one.textContent])")
    )
    assert {"7", "abc", "done", "next"} <= {stands for stands, _ in keys}
    assert [(stands, said) for stands, said in keys if stands not in said and stands.isascii()] == []


@pytest.mark.parametrize("size", [{"width": 844, "height": 340}, LOWEST], ids=["usual", "lowest"])
def test_on_its_side_a_phone_shows_the_field_its_value_and_every_key(
    size: dict[str, int], phone: tuple[Page, str]
) -> None:
    page, base = phone
    page.set_viewport_size(size)  # type: ignore[arg-type]
    page.goto(f"{base}/job/J1/film")
    page.locator("#builds").click()
    for part in (_pad(page).locator("output"), *_pad(page).get_by_role("button").all()):
        expect(part).to_be_in_viewport(ratio=0.99, timeout=PATIENCE_MS)
    above = _pad(page).bounding_box()
    field = page.locator("#builds").bounding_box()
    assert above is not None
    assert field is not None
    if size is not LOWEST:
        assert field["y"] + field["height"] <= above["y"]
    small = [box for one in _pad(page).get_by_role("button").all() if (box := one.bounding_box()) and box["width"] < 48]
    assert small == []
