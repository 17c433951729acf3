"""A card and its standard named the wrong way round on the page: asked about before an amount is shown."""

from __future__ import annotations

from pathlib import Path

import pytest

from finishmatch.cli import run
from tests.bench.conftest import Browser, Opened
from tests.bench.test_marked_in_each import _marked
from tests.cli.test_exchanged import FIRST, PARTS, SECOND, TARGET, both, sprayed

NAMED = {"standard": "standard", "trial": "spray-out"}


@pytest.fixture
def shop(opened: Opened, swatches: Path) -> Browser:
    browser = opened(banks=(swatches / "bank",))
    assert browser.post("/jobs/new", {"title": "Roof"}).status_code == 200
    bank = ["--bank", str(swatches / "bank"), "--job", "J1", "--max-tints", "2", "--recipes", "1"]
    assert run(["mix", str(TARGET), *bank, "--grams", "500"]) in (0, 1)
    assert run(["job", "pour", "J1", *(f"{name}={grams}" for name, grams in PARTS.items())]) == 0
    return browser


def test_the_two_are_asked_about_and_taken_so_it_is_said_above_what_to_add(shop: Browser, tmp_path: Path) -> None:
    photo = both(tmp_path / "two.jpg", sprayed(white=420)).read_bytes()
    to = shop.post("/job/J1/photo", files={"photograph": ("two.jpg", photo)}).url.path
    places = [tuple(map(int, place.split(","))) for place in (SECOND, FIRST)]
    assert shop.post(to, _marked(dict(zip(NAMED.values(), places, strict=True)))).status_code == 200
    asked = shop.post(f"{to}/judge", NAMED)
    assert asked.status_code == 422
    assert "card and standard look exchanged" in asked.text
    assert 'id="verdict"' not in shop.text("/job/J1/card")
    taken = shop.post(f"{to}/judge", {**NAMED, "anyway": "yes"})
    assert taken.url.path == "/job/J1/card", taken.text
    verdict = taken.text.index("Look first.")
    assert verdict < taken.text.index("</span> Outside") < taken.text.index("against Saltmarsh Blue: ΔE00")
    assert taken.text.count("look exchanged") == 1
    assert "Look first." in shop.text("/job/J1/card")  # as long as the amounts stand there
    right = shop.post(f"{to}/judge", {"standard": "spray-out", "trial": "standard"})
    assert "Look first." not in right.text
