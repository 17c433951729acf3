"""A correction is poured from its card though a recipe was worked out since: the link names it; it can be chosen."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from finishmatch.ledger import BatchEntry, CorrectionEntry, RecipeEntry, SprayOutEntry, VerdictEntry, open_ledger
from finishmatch.steps.job.on_the_scale import on_the_scale
from tests.bench.conftest import Browser
from tests.helpers.kept_ledger import put_ledger

TIN = (("white", 400.0), ("blue", 100.0))
TO_ADD = (("white", 20.0), ("blue", 10.0))
LAB = [45.0, -4.0, -17.0]


@pytest.fixture
def corrected(home: Path) -> int:
    """The number of a correction that isn't poured, after which others were worked out: two recipes."""
    put_ledger(home, ["job new Roof"])
    recipe = ("a bank", "0" * 64, 300.0, (("white", 200.0), ("violet", 100.0)), {"D65": 0.1}, None, None, None)
    with open_ledger(home) as ledger:
        job = ledger.find_job("J1")
        batch = ledger.record(job, BatchEntry(TIN))
        card = ledger.record(job, SprayOutEntry(batch, LAB))
        words = ["lighter"]
        ledger.record(job, VerdictEntry("target", "card", 0.8, 1.0, {"D65": 0.8}, None, words, 0.5, "outside", card))
        correction = ledger.record(job, CorrectionEntry(batch, TO_ADD, 0.06, True, {"D65": 0.2}, {}))
        ledger.record_all(job, [RecipeEntry(*recipe, rank, LAB) for rank in (1, 2)])
    return correction


def test_pour_it_opens_the_correction_under_whose_card_it_stands(browser: Browser, corrected: int) -> None:
    page = browser.text("/job/J1/card")
    ((link, _),) = re.findall(r'href="([^"]*)"(.*)>Pour it<', page)
    assert f"Recipe #{corrected + 1} was worked out since" in page
    scale = browser.text(link)
    assert f"part 1 of 2, correction #{corrected}" in scale
    assert 'id="tint">white<' in scale
    assert "in the tin 500.0 g" in scale
    (link,) = re.findall(r'href="([^"]*)">Pour what is to be added<', browser.text("/job/J1"))
    assert f"correction #{corrected}" in browser.text(link)


def test_it_can_be_chosen_at_the_scale(browser: Browser, corrected: int) -> None:
    page = browser.text("/job/J1/weigh")
    assert f"recipe #{corrected + 1}" in page
    assert f'href="/job/J1/weigh?plan={corrected}">Correction #{corrected}<' in page


def test_once_begun_it_goes_on_by_itself(browser: Browser, corrected: int) -> None:
    form = {"plan": str(corrected), "tin": "", "tint": "white", "as_planned": "20"}
    page = browser.post("/job/J1/weigh", form).text
    assert f"part 2 of 2, correction #{corrected}" in page
    assert on_the_scale("J1").grams == pytest.approx(520)
    assert "see how it stands" in browser.text("/job/J1/card")


def test_without_a_newer_recipe_nothing_is_said_of_one(browser: Browser, corrected: int) -> None:
    for number in (corrected + 1, corrected + 2):
        browser.post(f"/job/J1/entry/{number}/strike", {"why": "not wanted"})
    page = browser.text("/job/J1/card")
    assert "was worked out since" not in page
    assert f"/weigh?plan={corrected}" in page
