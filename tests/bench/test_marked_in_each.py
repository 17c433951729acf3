"""Of several photographs of a card each is read where the samples were marked in it, not where they were in another."""

from __future__ import annotations

import io
from pathlib import Path
from typing import Any

import pytest
from PIL import Image

from finishmatch.cli import run
from finishmatch.ledger import open_ledger
from finishmatch.steps.photo.seen_in_photos import SeenRequest, read_seen
from tests.bench.conftest import Browser, Opened
from tests.conftest import ROOT

PHOTO = ROOT / "swatches" / "photo.jpg"
WHOLE = {"standard": (96, 92, 174, 131), "spray-out": (984, 60, 181, 131)}
CUT = (30, 20)


@pytest.fixture
def shop(opened: Opened, swatches: Path) -> Browser:
    browser = opened(banks=(swatches / "bank",))
    assert browser.post("/jobs/new", {"title": "Roof"}).status_code == 200
    lab = {"L": "45.2", "a": "-4.1", "b": "-17.8"}
    assert browser.post("/job/J1/recipe", {**lab, "bank": "0", "grams": "500", "max_tints": "3"}).status_code == 200
    assert run(["job", "pour", "J1", str(swatches / "batch1.csv")]) == 0
    return browser


def _marked(places: dict[str, tuple[int, ...]]) -> dict[str, str]:
    fields = {}
    for i, (name, place) in enumerate(places.items()):
        fields |= {f"name_{i}": name} | {f"{part}_{i}": str(px) for part, px in zip("xywh", place, strict=True)}
    return fields


def test_each_photograph_is_read_where_its_own_samples_were_marked(shop: Browser, tmp_path: Path) -> None:
    there = {name: (x - CUT[0], y - CUT[1], w, h) for name, (x, y, w, h) in WHOLE.items()}
    whole, out = Image.open(PHOTO), io.BytesIO()
    whole.crop((*CUT, *whole.size)).save(out, "PNG", icc_profile=whole.info["icc_profile"])
    (tmp_path / "cut.png").write_bytes(out.getvalue())

    def shown(name: str, data: bytes) -> Any:
        return shop.post("/job/J1/photo", files={"photograph": (name, data)}).url.path

    first, second = shown("whole.jpg", PHOTO.read_bytes()), shown("cut.png", out.getvalue())
    assert shop.post(first, _marked(WHOLE)).status_code == 200
    judged = {"standard": "standard", "trial": "spray-out", f"lit_{second.rpartition('/')[2]}": "same", "anyway": "yes"}
    unmarked = shop.post(f"{first}/judge", judged)
    assert unmarked.status_code == 422
    assert "cut.png" in unmarked.text
    assert "pen it and mark the two in it, called so" in unmarked.text
    assert shop.post(second, _marked(there)).status_code == 200
    answer = shop.post(f"{first}/judge", judged)
    assert answer.url.path == "/job/J1/card", answer.text
    with open_ledger() as ledger:
        (card,) = (one.entry for one in ledger.entries(ledger.find_job("J1"), kind="spray-out"))
    regions = [f"{name}={','.join(map(str, place))}" for name, place in WHOLE.items()]
    regions += [f"cut.png:{name}={','.join(map(str, place))}" for name, place in there.items()]
    told = read_seen(SeenRequest(seen=[PHOTO, tmp_path / "cut.png"], region=regions))
    (seen,) = card.seen  # type: ignore[attr-defined]
    assert seen["marks"] == told.seen[0].marks  # a mark says where in its picture the card lies
    assert seen["difference"][1:] == pytest.approx(told.seen[0].delta[1:], abs=0.05)
