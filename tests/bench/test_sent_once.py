"""What is sent is recorded once: pressed twice, and after the way back, where nothing of it stands in the form."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Page, expect

from finishmatch.ledger import open_ledger
from finishmatch.steps.job.open import open_job
from tests.bench.screens import page_of

PRESSED_TWICE = """() => {
  const button = document.querySelector(".bar button.tape");
  button.form.requestSubmit(button);
  button.form.requestSubmit(button);
}"""


@pytest.fixture
def phone(chromium_: Browser, home: Path) -> Iterator[tuple[Page, str]]:
    """A phone, and a job."""
    open_job("Roof")
    with page_of(chromium_, "phone") as found:
        yield found


def kinds() -> list[str]:
    """What stands in J1."""
    with open_ledger() as ledger:
        return [view.kind for view in ledger.entries(ledger.find_job("J1"))]


@pytest.mark.slow
def test_pressed_twice_it_is_recorded_once_and_the_way_back_has_an_empty_form(phone: tuple[Page, str]) -> None:
    page, base = phone
    page.goto(f"{base}/job/J1/note")
    page.locator("#text").fill("dry by noon")
    page.evaluate(PRESSED_TWICE)
    expect(page.locator("#note")).to_contain_text("dry by noon")
    page.go_back()
    expect(page.locator("#text")).to_have_value("")
    page.goto(f"{base}/job/J1/defect")
    page.locator("#kind").select_option("pinholing")
    page.locator("#panel").fill("roof")
    page.locator("#exposures").fill("air line=2")
    page.evaluate(PRESSED_TWICE)
    expect(page.locator("main")).to_contain_text("Logged as #")
    page.go_back()
    expect(page.locator("#exposures")).to_have_value("")
    expect(page.locator("#kind")).to_have_value("cratering")
    assert kinds() == ["note", "defect"]
