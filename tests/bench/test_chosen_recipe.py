"""A recipe that was chosen stays the one that is weighed out, whatever is typed wrong or recorded by others."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser as Chromium
from playwright.sync_api import Page, expect

from finishmatch.ledger import open_ledger
from finishmatch.steps.job.note import note
from tests.bench.conftest import Opened
from tests.bench.screens import page_of
from tests.helpers.kept_ledger import put_ledger

pytest_plugins = ["tests.helpers.door_fixtures"]
MIXED = "mix target.csv --bank bank --grams {} --max-tints 3 --recipes 2 --job J1"


@pytest.fixture
def phone(chromium_: Chromium, bench: Path, home: Path) -> Iterator[tuple[Page, str]]:
    """A phone on a job with two lists of recipes."""
    put_ledger(home, ["job new Roof", MIXED.format(500), MIXED.format(300)])
    with page_of(chromium_, "phone") as found:
        yield found


def first_recipe() -> int:
    """The number of the first recipe of the older list."""
    with open_ledger() as ledger:
        return ledger.entries(ledger.find_job("J1"), kind="recipe")[0].number


def type_grams(page: Page, text: str) -> None:
    page.locator("#grams").fill(text)
    close = page.get_by_role("button", name="close the keypad")
    if close.is_visible():
        close.click()


@pytest.mark.slow
def test_it_stays_though_a_weight_is_refused_and_another_writes_a_note(phone: tuple[Page, str]) -> None:
    page, base = phone
    chosen = first_recipe()
    page.goto(f"{base}/job/J1/weigh?plan={chosen}")
    type_grams(page, "0")
    page.locator("#poured").click()
    expect(page.get_by_role("alert")).to_contain_text("nothing was poured")
    assert _is(page, chosen)
    note("J1", "by the terminal")
    page.wait_for_timeout(3500)
    assert _is(page, chosen)
    type_grams(page, "")
    page.locator("#poured").click()
    expect(page.locator(".part-of")).to_contain_text(f"part 2 of 3, recipe #{chosen}")


@pytest.mark.slow
def test_a_weight_is_taken_as_it_is_written_and_less_than_nothing_is_none(phone: tuple[Page, str]) -> None:
    page, base = phone
    page.goto(f"{base}/job/J1/weigh")
    for text, said in (("12,5 g", "Poured 12.5 g"), ("-5", "Less than nothing"), ("a lot", "That is no number")):
        type_grams(page, text)
        expect(page.locator("#poured")).to_have_text(said)
    expect(page.locator("#poured")).to_be_disabled()


def test_without_a_script_too(opened: Opened, bench: Path, home: Path) -> None:
    put_ledger(home, ["job new Roof", MIXED.format(500), MIXED.format(300)])
    browser = opened()
    first = first_recipe()
    form = {"plan": str(first), "tint": "white", "as_planned": "1", "grams": "-4"}
    answer = browser.post("/job/J1/weigh", form)
    assert answer.status_code == 422
    assert f"recipe #{first}<" in answer.text


def _is(page: Page, number: int) -> bool:
    return f"recipe #{number}" in page.locator(".part-of").inner_text()
