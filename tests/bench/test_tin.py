"""A new tin on the bench page: which to try is said with the recipe, and a photograph beside its panel tries it."""

from __future__ import annotations

import html
import re
from pathlib import Path

import pytest

from finishmatch.steps.job.show import show_job
from tests.bench.conftest import Browser, Opened
from tests.bench.test_photo import PHOTO, sent
from tests.helpers.door_files import small_bank
from tests.helpers.photo_frames import vivid_letdown

MARKS = {"standard": ("117", "75", "90", "60"), "letdown": ("230", "75", "90", "60")}


@pytest.fixture
def shop(opened: Opened, swatches: Path, tmp_path: Path) -> Browser:
    """The page with one job, and a small bank to mix from."""
    bank = small_bank(swatches / "bank", tmp_path / "bank", ("white", "black", "soft black", "blue", "violet"))
    browser = opened(banks=(bank,))
    browser.post("/jobs/new", {"title": "Roof"})
    return browser


def test_a_recipe_says_which_tins_to_try_and_a_photograph_tries_one(shop: Browser) -> None:
    lab = {"L": "45", "a": "-4", "b": "-17"}
    mixed = shop.post("/job/J1/recipe", {**lab, "bank": "0", "grams": "500", "max_tints": "3"}).text
    assert "tells how strong it is before anything is poured (blue as the panel blue 20/80" in mixed
    assert "Try a new tin by a letdown" in shop.text("/job/J1")
    to = sent(shop, "both.jpg", PHOTO.read_bytes())
    marked = {
        f"{part}_{i}": v for i, (name, box) in enumerate(MARKS.items()) for part, v in zip("xywh", box, strict=True)
    }
    page = shop.post(to, {**marked, **{f"name_{i}": name for i, name in enumerate(MARKS)}}).text
    assert "Try a new tin" in page
    assert '<option value="blue 20/80">' in page
    assert "masstone" not in page
    assert re.findall(r'<option value="(\w+)" selected>', page.partition('id="tin"')[2]) == ["standard", "letdown"]
    two = {"beside": "standard", "letdown": "letdown", "panel": "blue 20/80", "tint_grams": "7.5"}
    letters = shop.post(f"{to}/tin", {**two, "tint_grams": "much"})
    assert letters.status_code == 422
    assert "of the tint, weighed in" in letters.text.lower()
    refused = shop.post(f"{to}/tin", {**two, "panel": "blue masstone"})
    assert refused.status_code == 422
    tried = shop.post(f"{to}/tin", {**two, "anyway": "yes"})
    assert "blue: tinting strength" in tried.text
    (kept,) = [view for view in show_job("J1").entries if view.kind == "strength"]
    letdown = kept.entry.letdown  # type: ignore[attr-defined]
    assert letdown["panel"] == "blue 20/80"
    assert {part["tint"]: part["grams"] for part in letdown["parts"]} == {"blue": 7.5, "white": 80.0}
    assert show_job("J1").story.current[-1].files == ("both.jpg",)
    again = shop.post("/job/J1/recipe", {**lab, "bank": "0", "grams": "500", "max_tints": "3"}).text
    assert "blue as the panel" not in again


def test_a_letdown_that_the_file_cant_hold_is_told_to_be_drawn_weaker(shop: Browser, tmp_path: Path) -> None:
    lab = {"L": "45", "a": "-4", "b": "-17"}
    shop.post("/job/J1/recipe", {**lab, "bank": "0", "grams": "500", "max_tints": "3"})
    page = shop.text(sent(shop, "both.jpg", vivid_letdown(tmp_path / "both.jpg").read_bytes()))
    assert "This photograph can't serve" in html.unescape(page)
    assert "draw it as a panel of the bank that holds less of the tint, or weigh less of the tint into it" in page


def test_without_a_bank_no_tin_can_be_tried(shop: Browser) -> None:
    to = sent(shop, "both.jpg", PHOTO.read_bytes())
    assert "Try a new tin" not in shop.text(to)
