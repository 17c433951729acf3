"""At the weigh-out whoever goes by keys keeps the focus, and whoever doesn't see it is told of the next part."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest
from playwright.sync_api import Browser as Chromium
from playwright.sync_api import Page, expect

from finishmatch.ledger import RecipeEntry, open_ledger
from finishmatch.steps.job.on_the_scale import on_the_scale
from tests.bench.conftest import Opened
from tests.bench.screens import context_of, page_of, served
from tests.helpers.kept_ledger import put_ledger

pytest_plugins = ["tests.helpers.door_fixtures"]
MIXED = "mix target.csv --bank bank --grams 500 --max-tints 3 --recipes 1 --job J1"


@pytest.fixture
def desk(chromium_: Chromium, bench: Path, home: Path) -> Iterator[tuple[Page, str]]:
    """A browser with a keyboard on a job with a recipe."""
    put_ledger(home, ["job new Roof", MIXED])
    with page_of(chromium_, "wide") as found:
        yield found


@pytest.mark.slow
def test_the_focus_stays_at_the_button_and_the_next_part_is_told(desk: tuple[Page, str]) -> None:
    page, base = desk
    lines = on_the_scale("J1").lines
    page.goto(f"{base}/job/J1/weigh")
    page.locator("#poured").focus()
    page.keyboard.press("Enter")
    told = page.locator("#told[role=status]")
    expect(told).to_have_text(f"{lines[1].tint}, {lines[1].planned_g:.1f} grams still to go")
    expect(page.locator("#waiting")).to_be_hidden()
    expect(page.locator("#tint")).to_have_text(lines[1].tint)
    expect(page.locator("#poured")).to_be_focused()
    for line in lines[1:]:
        expect(page.locator("#tint")).to_have_text(line.tint)
        expect(page.locator("#poured")).to_be_enabled()
        page.keyboard.press("Enter")
    expect(page.locator("#enter-card")).to_be_visible()
    expect(page.locator("#main")).to_be_focused()
    expect(told).to_have_text("Every part is poured")


def test_of_a_recipe_poured_in_part_it_says_of_what_the_amount_is_a_part(opened: Opened, home: Path) -> None:
    put_ledger(home, ["job new Roof"])
    parts = (("white", 442.4), ("blue", 32.4))
    with open_ledger(home) as ledger:
        entry = RecipeEntry("a bank", "0" * 64, 474.8, parts, {"D65": 0.1}, None, None, None, 1, [45.0, -4.0, -17.0])
        ledger.record(ledger.find_job("J1"), replace(entry, first_share=0.5))
    page = opened().text("/job/J1/weigh").replace("&#39;", "'")
    assert '<p class="small" id="of-it">221.2 g: half of the recipe\'s 442.4 g; in the tin 0.0 g</p>' in page
    assert "Spray a card of this part of it first" in page


@pytest.mark.slow
def test_a_script_says_the_same(chromium_: Chromium, home: Path) -> None:
    put_ledger(home, ["job new Roof"])
    parts = (("white", 442.4), ("blue", 32.4))
    with open_ledger(home) as ledger:
        entry = RecipeEntry("a bank", "0" * 64, 474.8, parts, {"D65": 0.1}, None, None, None, 1, [45.0, -4.0, -17.0])
        ledger.record(ledger.find_job("J1"), replace(entry, first_share=0.5))
    with served() as (base, _):
        context = context_of(chromium_, "phone")
        page = context.new_page()
        page.goto(f"{base}/job/J1/weigh")
        page.locator("#poured").click()
        expect(page.locator("#of-it")).to_have_text("16.2 g: half of the recipe's 32.4 g; in the tin 221.2 g")
        context.close()
