"""Names as phones, painters and paint makers give them, long and without a blank, make no screen too wide."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser as Chromium
from playwright.sync_api import Page, expect

from finishmatch.ledger import BatchEntry, RecipeEntry, TargetEntry, open_ledger
from finishmatch.steps.defect.log import LogRequest, log
from finishmatch.steps.job.film import film
from finishmatch.steps.job.note import note
from finishmatch.steps.job.open import open_job
from finishmatch.steps.job.spray import SprayRequest, spray
from tests.bench.screens import STICKS_OUT, context_of, served
from tests.helpers.photo_frames import standard_and_card

PHOTO = "PXL_20260113_143522123.PORTRAIT-01.COVER.jpg"
TITLE = "Karosseriebauanstaltsvorderkotflügelinnenseite"
TINTS = (("Quinacridonemagenta-transparentoxide/2K-HS-concentrate", 120.0), ("white", 280.0))
PANEL, LAYER = "Vorderkotflügelinnenseitenverkleidung", "primer zweikomponentenepoxidharzgrundierung"
DEVICE = "Werkstattmischraumwaagentablet_am_Fenster_hinten_links"
SCREENS = (
    "",
    "/recipe",
    "/weigh",
    "/card",
    "/film",
    "/film-map",
    "/defect",
    "/defect/6",
    "/evidence",
    "/swatches",
    "/record",
    "/entry/1",
    "/photo",
)


@pytest.fixture
def phone(chromium_: Chromium, home: Path) -> Iterator[tuple[Page, str]]:
    """A phone on a job in which everything has a long name."""
    open_job(TITLE, vehicle=TITLE, colour=TITLE)
    with open_ledger() as ledger:
        job = ledger.find_job("J1")
        lab = [45.0, -4.0, -17.0]
        recipe = RecipeEntry("a bank", "0" * 64, 400.0, TINTS, {"D65": 0.1}, None, None, None, 1, lab)
        target = TargetEntry(TITLE, lab, "D65", 10, tolerance=0.8)
        _, number, *_ = ledger.record_all(job, [target, recipe])
        ledger.record(job, BatchEntry(TINTS[:1], recipe=number))
    film("J1", PANEL, LAYER, [62, 58, 60])
    film("J1", PANEL, "colour" + LAYER.removeprefix("primer"), [98, 104, 101])
    log(LogRequest("cratering", PANEL, place=TITLE, count=4, depth_um=12), job="J1")
    spray("J1", "45.9,-4.1,-17.2", SprayRequest(ground=LAYER, anyway=True))
    note("J1", TITLE)
    with served() as (base, bench):
        bench.devices.paired(DEVICE)
        context = context_of(chromium_, "phone")
        yield context.new_page(), base
        context.close()


LINES_OF = """(text) => {
  const walker = document.createTreeWalker(document.getElementById("main").parentElement, NodeFilter.SHOW_TEXT);
  const found = [];
  for (let node = walker.nextNode(); node; node = walker.nextNode()) {
    if (node.data.trim() !== text || !node.parentElement.checkVisibility()) continue;
    const range = document.createRange();
    range.selectNodeContents(node);
    found.push(new Set([...range.getClientRects()].map((one) => Math.round(one.top))).size);
  }
  return found;
}"""


@pytest.mark.slow
def test_a_word_that_has_room_is_not_broken(phone: tuple[Page, str]) -> None:
    page, base = phone
    film("J1", "roof", "primer", [62, 58, 60])
    page.goto(f"{base}/job/J1/film")
    assert page.evaluate(LINES_OF, "primer") == [1]
    page.goto(f"{base}/job/J1")
    assert page.evaluate(LINES_OF, "Next") == [1]
    assert set(page.evaluate(LINES_OF, "not yet")) == {1}


@pytest.mark.slow
def test_no_screen_is_too_wide_by_a_name(phone: tuple[Page, str], tmp_path: Path) -> None:
    page, base = phone
    wide = {}

    def look(path: str) -> None:
        answer = page.goto(f"{base}{path}")
        assert answer is not None
        assert answer.status == 200, path
        page.locator("details").evaluate_all("(all) => all.forEach((one) => { one.open = true; })")
        wide[path] = page.evaluate(STICKS_OUT)

    for path in ("/jobs", "/devices", *(f"/job/J1{screen}" for screen in SCREENS)):
        look(path)
    page.locator("#choose").set_input_files(standard_and_card(tmp_path / PHOTO))
    expect(page.get_by_role("heading", name=PHOTO)).to_be_visible()
    look(page.url.removeprefix(base))
    for i, name in enumerate((LAYER[:40], DEVICE[:40])):
        page.locator(f"#name_{i}").fill(name)
    page.locator("#marks").get_by_role("button", name="Read these").click()
    expect(page.locator("tbody").get_by_text(LAYER[:40])).to_be_visible()
    look(page.url.removeprefix(base))
    look("/job/J1/photo")
    assert {path: by for path, by in wide.items() if by > 0} == {}
