"""Which sample of a photograph is the standard is told by its name alone, never by its place; else it is asked."""

from __future__ import annotations

import re

import pytest

from finishmatch.bench.told_by_name import told_by_name
from finishmatch.ledger import open_ledger
from tests.bench.conftest import Browser
from tests.bench.test_photo import PHOTO, sent
from tests.bench.test_tin import MARKS

CARD = dict(zip(("standard", "card"), MARKS.values(), strict=True))


@pytest.mark.parametrize(
    ("names", "told"),
    [
        (["sample 1", "sample 2"], ("", "")),
        (["tin", "door"], ("", "")),
        (["card 1", "card 2"], ("", "")),
        (["sample 1"], ("", "sample 1")),
        (["standard", "spray-out"], ("standard", "spray-out")),
        (["spray-out", "standard"], ("standard", "spray-out")),
        (["door", "Card 1"], ("door", "Card 1")),
        (["door", "standard"], ("standard", "door")),
        (["card 1", "card 2", "standard"], ("standard", "")),
        (["panel", "letdown"], ("panel", "letdown")),
    ],
)
def test_it_is_told_by_name(names: list[str], told: tuple[str, str]) -> None:
    assert told_by_name(names) == told


def _chosen(page: str, field: str) -> list[str]:
    """What a list of the page has chosen when it is opened, and whether something has to be."""
    (select,) = re.findall(rf'<select id="{field}"([^>]*)>(.*?)</select>', page, re.DOTALL)
    options = re.findall(r'<option value="([^"]*)"( selected)?>', select[1])
    needed = ["required"] if " required" in select[0] else []
    return [*(value for value, selected in options if selected or value == ""), *needed]


def test_two_that_were_found_are_asked_for_and_nothing_is_judged_until_it_is_said(browser: Browser) -> None:
    browser.post("/jobs/new", {"title": "Roof"})
    to = sent(browser, "both.jpg", PHOTO.read_bytes())
    page = browser.text(to)
    assert _chosen(page, "standard") == _chosen(page, "trial") == ["", "required"]
    for field, said in (("standard", {"trial": "sample 2"}), ("trial", {"standard": "sample 1"})):
        refused = browser.post(f"{to}/judge", {"standard": "", "trial": "", **said})
        assert refused.status_code == 422
        assert f'id="{field}-wrong">Isn&#39;t said; choose which of the samples it is.' in refused.text
    refused = browser.post(f"{to}/card", {"standard": "", "trial": ""})
    assert 'id="trial-wrong">Isn&#39;t said' in refused.text
    with open_ledger() as ledger:
        assert ledger.entries(ledger.find_job("J1")) == []


def test_two_that_were_named_are_chosen_wherever_they_lie(browser: Browser) -> None:
    browser.post("/jobs/new", {"title": "Roof"})
    to = sent(browser, "both.jpg", PHOTO.read_bytes())
    for names in (("standard", "card 1"), ("card 1", "standard")):
        named = {f"name_{i}": name for i, name in enumerate(names)}
        placed = {f"{part}_{i}": v for i, box in enumerate(CARD.values()) for part, v in zip("xywh", box, strict=True)}
        page = browser.post(to, {**named, **placed}).text
        assert _chosen(page, "standard")[1] == "standard"
        assert _chosen(page, "trial")[1] == "card 1"


def test_where_it_is_taken_it_is_said_where_each_lies(browser: Browser) -> None:
    browser.post("/jobs/new", {"title": "Roof"})
    said = browser.text("/job/J1/photo")
    assert "on the shop&#39;s card each has a window" in said or "on the shop's card each has a window" in said
    assert "the same way round in every photograph" in said
