"""What a form found is on the screen when it has answered, and a recipe says by itself whether it will do."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser as Chromium
from playwright.sync_api import Page, expect

from finishmatch.ledger import RecipeEntry, open_ledger
from finishmatch.steps.job.pour import pour
from finishmatch.steps.job.poured_tin import PourRequest
from tests.bench.conftest import Browser, Opened
from tests.bench.screens import page_of
from tests.helpers.kept_ledger import put_ledger

pytest_plugins = ["tests.helpers.door_fixtures"]
MIXED = ["job new Roof", "mix target.csv --bank bank --grams 500 --max-tints 3 --recipes 3 --job J1"]


def in_the_tin(home: Path) -> None:
    """A job with recipes, the first of which is poured."""
    put_ledger(home, MIXED)
    with open_ledger() as ledger:
        first = ledger.entries(ledger.find_job("J1"), kind="recipe")[0]
    assert isinstance(first.entry, RecipeEntry)
    pour("J1", first.entry.parts, PourRequest(recipe=first.number))


@pytest.fixture
def phone(chromium_: Chromium, bench: Path, home: Path) -> Iterator[tuple[Page, str]]:
    """A phone on a job with recipes, the first of which is poured."""
    in_the_tin(home)
    with page_of(chromium_, "phone", banks=(bench / "bank",)) as found:
        yield found


@pytest.mark.slow
def test_after_recipes_were_worked_out_their_words_and_the_first_are_on_the_screen(phone: tuple[Page, str]) -> None:
    page, base = phone
    page.goto(f"{base}/job/J1/recipe")
    page.get_by_text("Work out others").click()
    page.locator("#grams").fill("300")
    page.locator("#max_tints").fill("2")
    page.locator("#tolerance").fill("0.01")
    page.evaluate("() => document.activeElement.blur()")
    page.get_by_role("button", name="Work out recipes").click()
    expect(page.locator(".said")).to_contain_text("found")
    expect(page.locator(".said")).to_be_in_viewport()
    expect(page.get_by_text("That is outside the tolerance of 0.01")).to_be_in_viewport()
    page.reload()
    expect(page.get_by_text("Work out others")).to_be_visible()
    assert page.evaluate("() => history.state") is None


@pytest.mark.slow
def test_after_a_card_was_judged_its_verdict_is_on_the_screen_and_what_goes_with_it_below(
    phone: tuple[Page, str],
) -> None:
    page, base = phone
    page.goto(f"{base}/job/J1/card")
    for i in (1, 2):
        if i == 2:
            page.get_by_text("Another card").click()
        for axis, value in zip("Lab", ("45.9", "-4.1", f"-17.{i}"), strict=True):
            page.get_by_label(axis, exact=True).fill(value)
        page.evaluate("() => document.activeElement.blur()")
        page.get_by_role("button", name="Record and judge").click()
        expect(page.locator("#verdict-head")).to_be_in_viewport()
    with open_ledger() as ledger:
        assert len(ledger.entries(ledger.find_job("J1"), kind="spray-out")) == 2


def test_each_recipe_says_whether_it_is_inside_what_was_asked(opened: Opened, bench: Path) -> None:
    shop = opened(banks=(bench / "bank",))
    shop.post("/jobs/new", {"title": "Roof"})
    lab = {"L": "45.2", "a": "-4.1", "b": "-17.8"}
    page = shop.post("/job/J1/recipe", {**lab, "bank": "0", "grams": "300", "max_tints": "2"}).text
    assert _marks(page) == _told_by_the_record(1.0)
    page = shop.post("/job/J1/recipe", {"bank": "0", "grams": "300", "max_tints": "2", "tolerance": "0.01"}).text
    assert _marks(page) == _told_by_the_record(0.01)
    assert {mark[0] for mark in _marks(page)} == {"Outside"}
    again = opened(banks=(bench / "bank",))  # a bench that was started anew knows the target's own alone
    assert _marks(again.text("/job/J1/recipe")) == _told_by_the_record(1.0)


def _marks(page: str) -> list[tuple[str, str]]:
    return re.findall(r"</span> (Inside|Outside) the tolerance of ([0-9.]+), as predicted</p>", page)


def _told_by_the_record(tolerance: float) -> list[tuple[str, str]]:
    with open_ledger() as ledger:
        views = ledger.entries(ledger.find_job("J1"), kind="recipe", current_only=True)
    recipes = [view.entry for view in views if isinstance(view.entry, RecipeEntry)]
    last = recipes[max(i for i, one in enumerate(recipes) if one.rank == 1) :]
    worst = [max(one.lights.values()) for one in last]
    return [("Inside" if one <= tolerance else "Outside", f"{tolerance:g}") for one in worst]


def test_what_goes_with_a_verdict_stands_below_it_and_what_is_wrong_above(
    opened: Opened, bench: Path, home: Path
) -> None:
    in_the_tin(home)
    shop: Browser = opened(banks=(bench / "bank",))
    page = shop.post("/job/J1/card", {"do": "judge", "L": "45.9", "a": "-4.1", "b": "-17.2"}).text
    assert page.index('id="verdict"') < page.index('class="caution"')
    wrong = shop.post("/job/J1/card", {"do": "judge", "L": "many", "a": "-4.1", "b": "-17.2"}).text
    assert wrong.index('class="wrong"') < wrong.index('id="verdict"')
