"""Samples that were typed are kept while they are only looked at, and gone once they are recorded."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser as Chromium
from playwright.sync_api import Page, expect

from finishmatch.steps.job.open import open_job
from tests.bench.screens import page_of

pytestmark = pytest.mark.slow


@pytest.fixture
def page(chromium_: Chromium, home: Path) -> Iterator[Page]:
    """A desk with a keyboard, at the evidence of a job."""
    open_job("Roof")
    with page_of(chromium_, "wide") as (found, base):
        found.goto(f"{base}/job/J1/evidence")
        yield found


def _type(page: Page, rows: int) -> None:
    for i in range(rows):
        page.locator(f"#name{i}").fill(f"piece {i}")
        for axis, value in zip("Lab", (f"45.{i}", "-4", "-17"), strict=True):
            page.locator(f"#{axis}{i}").fill(value)


def test_weighing_them_loses_nothing_and_recording_them_empties_the_form(page: Page) -> None:
    at = page.url
    _type(page, 2)
    page.get_by_role("button", name="Weigh the evidence").click()
    expect(page.get_by_role("heading", name="What the evidence says")).to_be_visible()
    page.get_by_label("What the target is called").fill("blue")
    page.get_by_role("button", name="Weigh again").click()
    expect(page).to_have_url(re.compile("name=blue"))
    expect(page.get_by_label("What the target is called")).to_have_value("blue")
    page.goto(at)
    expect(page.locator("#name1")).to_have_value("piece 1")
    expect(page.locator("#L1")).to_have_value("45.1")
    page.get_by_role("button", name="Weigh the evidence").click()
    page.get_by_role("button", name="Record this target").click()
    expect(page.get_by_text("and the target")).to_be_visible()
    page.goto(at)
    expect(page.locator("#name0")).to_have_value("")


def test_back_is_the_form_as_it_was_typed(page: Page) -> None:
    _type(page, 1)
    page.get_by_role("button", name="Weigh the evidence").click()
    expect(page.get_by_role("heading", name="What the evidence says")).to_be_visible()
    page.go_back()
    expect(page.locator("#name0")).to_have_value("piece 0")


def test_as_many_rows_are_open_as_were_typed(page: Page) -> None:
    at = page.url
    page.get_by_role("link", name="More samples").click()
    _type(page, 5)
    page.get_by_role("button", name="Weigh the evidence").click()
    expect(page.get_by_role("heading", name="What the evidence says")).to_be_visible()
    page.goto(at)
    expect(page.locator("#name4")).to_have_value("piece 4")
