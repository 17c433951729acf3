"""Grams are understood at the scale as in a form without a script: the same number, or the same text is refused."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser as Chromium
from playwright.sync_api import Page, expect

from finishmatch.readings.plain_number import meant_number
from finishmatch.steps.job.on_the_scale import on_the_scale
from tests.bench.conftest import Opened
from tests.bench.screens import page_of
from tests.helpers.kept_ledger import put_ledger

pytest_plugins = ["tests.helpers.door_fixtures"]
MIXED = "mix target.csv --bank bank --grams 500 --max-tints 3 --recipes 1 --job J1"
WRITTEN = """12.5|12,5|.5|0,5|,5|5.|+3|-3|−3|–3|− 3|1,250|1.250|-1,250|0,250|01,250|1250|1,2500|12,34,567|1,234,567
1.234.567|1,234.5|1.234,5|1 234|1 234,5|1'234.5|1’234|1 234|1 234|1e3|1E-2|0x10|0b1|Infinity|-Infinity|nan|NaN|1_000
12 5|1..5|1,5,5|--3|−-3|+-3|٣|１２|12.5.1|12:5|e3|.|,|-|+|1.|1e|1e999|9999999|1,000,000.5|1000,000|a lot|²|12½"""
SAYS = {
    "1,250": "1250 or 1.250?",
    "0x10": "That is no number",
    "Infinity": "That is no number",
    "9999999": "More than 1,000,000 g",
    "1e999": "More than 1,000,000 g",
    "1e3": "Poured 1000.0 g",
    "1 234,5 g": "Poured 1234.5 g",
}


@pytest.fixture
def phone(chromium_: Chromium, bench: Path, home: Path) -> Iterator[tuple[Page, str]]:
    """A phone on a job with a recipe."""
    put_ledger(home, ["job new Roof", MIXED])
    with page_of(chromium_, "phone") as found:
        yield found


def _meant(text: str) -> float | None:
    try:
        return meant_number(text)[0]
    except ValueError:
        return None


@pytest.mark.slow
def test_both_sides_understand_the_same(phone: tuple[Page, str]) -> None:
    page, base = phone
    page.goto(f"{base}/job/J1/weigh")
    texts = [text for line in WRITTEN.splitlines() for text in line.split("|") if text]
    script = """async (texts) => {
      const { understood } = await import(new URL("grams.js", document.querySelector("script[src*='weigh.js']").src));
      return texts.map(understood).map((value) => (Number.isNaN(value) ? null : String(value)));
    }"""
    found = page.evaluate(script, texts)
    here = [None if value is None else float(value.replace("Infinity", "inf")) for value in found]
    assert dict(zip(texts, here, strict=True)) == {text: _meant(text) for text in texts}


@pytest.mark.slow
def test_the_button_says_what_is_understood_or_why_nothing_is(phone: tuple[Page, str]) -> None:
    page, base = phone
    page.goto(f"{base}/job/J1/weigh")
    for text, says in SAYS.items():
        page.locator("#grams").fill(text)
        page.get_by_role("button", name="close the keypad").click()
        button = page.locator("#poured")
        expect(button).to_have_text(says)
        if not says.startswith("Poured"):
            expect(button).to_be_disabled()
        expect(page.locator("#grams")).to_have_value(text)
    assert on_the_scale("J1").added == ()


def test_what_is_too_much_is_told_with_the_limit(opened: Opened, bench: Path, home: Path) -> None:
    put_ledger(home, ["job new Roof", MIXED])
    browser = opened()
    plan, part = on_the_scale("J1").plan, on_the_scale("J1").lines[0].tint
    sent = {"key": "0123456789", "plan": plan, "tint": part, "grams": 9999999}
    answer = browser.client.post("/api/job/J1/weigh", json=sent, headers={"x-bench-token": browser.token})
    assert answer.status_code == 422
    assert "give grams, 0 to 1,000,000" in answer.json()["error"]
    form = {"plan": str(plan), "tint": part, "as_planned": "1", "grams": "9999999"}
    assert "give grams, 0 to 1,000,000" in browser.post("/job/J1/weigh", form).text.replace("Give", "give")
    browser.post("/job/J1/weigh", {**form, "grams": "12,5 g"})
    assert on_the_scale("J1").added == ((part, 12.5),)
