"""Evidence from a photograph, read by one under a lamp too, as the command reads it."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from finishmatch.ledger import open_ledger
from finishmatch.steps.photo.read_photo import PhotoRequest, read_photo
from tests.bench.conftest import Browser, Opened
from tests.helpers.photo_frames import standard_and_card


@pytest.fixture
def shop(opened: Opened) -> Browser:
    browser = opened()
    assert browser.post("/jobs/new", {"title": "Roof"}).status_code == 200
    return browser


def _readings() -> dict[str, Any]:
    with open_ledger() as ledger:
        return {view.entry.name: view.entry for view in ledger.entries(ledger.find_job("J1"), kind="reading")}  # type: ignore[attr-defined]


def _shown(shop: Browser, photo: Path) -> str:
    return str(shop.post("/job/J1/photo", files={"photograph": (photo.name, photo.read_bytes())}).url.path)


def test_a_photograph_under_a_lamp_makes_the_colours_surer_as_the_command_does(shop: Browser, tmp_path: Path) -> None:
    day, lamp = (standard_and_card(tmp_path / f"{light}.jpg", i, light) for i, light in enumerate(("D65", "A")))
    first = _shown(shop, day)
    assert "A photograph of the same under a lamp" in shop.text(first)
    second = _shown(shop, lamp)
    field = f"under_{second.rpartition('/')[2]}"
    page = shop.text(first)
    assert '<option value="A">shows the same under a tungsten or halogen lamp</option>' in page
    wrong = shop.post(f"{first}/evidence", {field: "candle"})
    assert wrong.status_code == 422
    assert not _readings()
    answer = shop.post(f"{first}/evidence", {field: "A"})
    assert answer.status_code == 200
    assert "Recorded as #1, #2, read under a tungsten or halogen lamp too" in answer.text
    told = read_photo(day, PhotoRequest(under=(f"A={lamp}",)))
    alone = read_photo(day)
    for one, before in zip(told.regions, alone.regions, strict=True):
        kept = _readings()[one.name]
        assert kept.u95 == pytest.approx(one.u95, abs=1e-6)
        assert kept.lab == pytest.approx(one.lab, abs=1e-6)
        assert kept.u95 < before.u95


def test_what_is_marked_in_the_one_is_looked_for_where_it_is_marked_in_the_other(shop: Browser, tmp_path: Path) -> None:
    day, lamp = (standard_and_card(tmp_path / f"{light}.jpg", i, light) for i, light in enumerate(("D65", "A")))
    first, second = _shown(shop, day), _shown(shop, lamp)
    marked = {"name_0": "tin", "x_0": "90", "y_0": "45", "w_0": "200", "h_0": "80"}
    assert shop.post(first, marked).status_code == 200
    field = f"under_{second.rpartition('/')[2]}"
    answer = shop.post(f"{first}/evidence", {field: "A"})
    assert "shows none of these samples (found there: sample 1, sample 2): mark them in it" in answer.text
    alone = _readings()["tin"].u95
    assert shop.post(second, {**marked, "light": "A"}).status_code == 200
    assert "none of these samples" not in shop.post(f"{first}/evidence", {field: "A"}).text
    assert _readings()["tin"].u95 < alone


def test_recorded_again_with_a_lamp_it_is_one_reading_and_the_page_says_so(shop: Browser, tmp_path: Path) -> None:
    day, lamp = (standard_and_card(tmp_path / f"{light}.jpg", i, light) for i, light in enumerate(("D65", "A")))
    first, second = _shown(shop, day), _shown(shop, lamp)
    assert "Recorded as #1, #2" in shop.post(f"{first}/evidence").text
    answer = shop.post(f"{first}/evidence", {f"under_{second.rpartition('/')[2]}": "A"})
    assert "Recorded as #3, #4, read under a tungsten or halogen lamp too" in answer.text
    assert "reading #3 (sample 1) takes the place of #1, read in the same photograph before" in answer.text.replace(
        "Reading #3", "reading #3"
    )
    with open_ledger() as ledger:
        views = ledger.entries(ledger.find_job("J1"), kind="reading")
    assert [view.number for view in views if view.stands] == [3, 4]
    assert shop.text("/job/J1/evidence").count("within ΔE00") == 2  # as many wait to be weighed
