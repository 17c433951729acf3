"""A correction on the page when a part of its tin was set aside: the card, the scale and the terminal say the same."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from finishmatch.ledger import BatchEntry, CorrectionEntry, SprayOutEntry, VerdictEntry, open_ledger
from finishmatch.steps.job.next_step import next_step
from finishmatch.steps.job.on_the_scale import on_the_scale, pour_part
from finishmatch.steps.job.pour import pour
from finishmatch.steps.job.poured_tin import PourRequest
from finishmatch.steps.job.strike import strike
from tests.bench.conftest import Browser
from tests.helpers.kept_ledger import put_ledger

TIN = (("white", 400.0), ("blue", 100.0))
LAB = [45.0, -4.0, -17.0]
CARD = 2  # its number in the record


@pytest.fixture
def corrected(home: Path) -> int:
    """The number of a correction, not poured yet, of a tin of 500 g that was sprayed and found outside."""
    put_ledger(home, ["job new Roof"])
    with open_ledger(home) as ledger:
        job = ledger.find_job("J1")
        batch = ledger.record(job, BatchEntry(TIN))
        card = ledger.record(job, SprayOutEntry(batch, LAB))
        ledger.record(
            job, VerdictEntry("target", "card", 0.8, 1.0, {"D65": 0.8}, None, ["lighter"], 0.5, "outside", card)
        )
        parts = (("white", 20.0), ("blue", 10.0), ("black", 0.4))
        letdowns = (("black", 0.0, 1.0, 10.0, 4.0),)
        correction = CorrectionEntry(batch, parts, 0.061, True, {"D65": 0.2}, {}, fills_to=530.4, letdowns=letdowns)
        return ledger.record(job, correction)


def _page(browser: Browser, path: str) -> str:
    return " ".join(re.sub(r"<[^>]+>", " ", browser.text(path)).split())


def test_what_to_add_is_for_the_part_that_is_left(browser: Browser, corrected: int) -> None:
    assert "Add white 20.0 g, blue 10.0 g, black 0.4 g" in _page(browser, "/job/J1/card")
    said = pour("J1", None, PourRequest(set_aside="half")).understood
    assert said == (f"of correction #{corrected} this part takes white 10 g, blue 5 g, black 0.2 g",)
    page = _page(browser, "/job/J1/card")
    assert "Add white 10.0 g, blue 5.0 g, black 0.2 g" in page
    assert "of which half is left" in page
    assert "fills it up to 265.2 g" in page
    assert f"Black: correction #{corrected} has it poured by a letdown of the whole tin; for the part" in page
    assert "into a cup" not in page
    scale = _page(browser, "/job/J1/weigh")
    assert (
        f"Of correction #{corrected} this part takes white 10 g, blue 5 g, black 0.2 g. Still to pour: 15.2 g" in scale
    )


def test_it_is_poured_part_by_part_into_the_part_that_is_left(browser: Browser, corrected: int) -> None:
    aside = pour("J1", None, PourRequest(set_aside="half")).recorded
    assert aside is not None
    for tint, grams, in_tin in (("white", 10.0, 260.0), ("blue", 5.0, 265.0), ("black", 0.2, 265.2)):
        now = on_the_scale("J1")
        assert now.plan == corrected
        assert now.next is not None
        assert (now.next.tint, now.next.to_go_g) == (tint, pytest.approx(grams))
        poured = pour_part("J1", (tint, grams), plan=corrected, tin=now.tin)
        assert sum(g for _, g in poured.parts) == pytest.approx(in_tin)
        assert poured.recorded is not None
        assert poured.recorded.entries[0].entry.continues == aside.entries[0].number  # type: ignore[attr-defined]
    assert on_the_scale("J1").next is None
    page = _page(browser, "/job/J1/card")
    assert f"Poured into batch #{poured.recorded.entries[0].number}: see how it stands" in page
    assert "Pour it" not in page


def test_what_is_set_aside_of_the_corrected_tin_changes_nothing_of_its_correction(
    browser: Browser, corrected: int
) -> None:
    poured = pour("J1", None, PourRequest(like=corrected)).recorded
    assert poured is not None
    assert f"Poured into batch #{poured.entries[0].number}" in _page(browser, "/job/J1/card")
    pour("J1", None, PourRequest(set_aside="30%"))
    page = _page(browser, "/job/J1/card")
    assert "Add white 20.0 g, blue 10.0 g, black 0.4 g" in page
    assert f"It was poured, as batch #{poured.entries[0].number}, and the tin is another since" in page
    assert "Pour it" not in page


def test_a_part_of_a_part_set_aside_and_one_that_is_struck_count(corrected: int) -> None:
    pour("J1", None, PourRequest(set_aside="half"))
    last = pour("J1", None, PourRequest(set_aside="20%")).recorded
    assert last is not None
    assert [line.planned_g for line in on_the_scale("J1").lines] == pytest.approx([8.0, 4.0, 0.16])
    assert on_the_scale("J1").grams == pytest.approx(200)
    strike("J1", last.entries[0].number, "it went back into the tin")
    assert [line.planned_g for line in on_the_scale("J1").lines] == pytest.approx([10.0, 5.0, 0.2])
    assert on_the_scale("J1").grams == pytest.approx(250)


def test_a_tin_that_was_entered_anew_is_the_one_that_is_corrected(home: Path, corrected: int) -> None:
    with open_ledger(home) as ledger:
        anew = ledger.record(
            ledger.find_job("J1"), BatchEntry((*TIN[:1], ("blue", 101.0))), supersedes=1, reason="read wrong"
        )
    now = on_the_scale("J1")
    assert (now.before, now.grams) == (anew, pytest.approx(501))


def test_its_weights_are_the_same_numbers_everywhere(browser: Browser, corrected: int) -> None:
    said = pour("J1", None, PourRequest(set_aside="187.5 g")).understood  # 62.5 % is left
    assert said == (f"of correction #{corrected} this part takes white 12.5 g, blue 6.25 g, black 0.25 g",)
    pour("J1", None, PourRequest(set_aside="1 g"))
    (said,) = pour("J1", None, PourRequest(set_aside="1 g")).understood
    of_it = re.findall(r"\d+\.\d+(?= g)", said)
    assert all(len(number.partition(".")[2]) <= 2 for number in of_it)
    for path in ("card", "weigh"):
        assert all(number in _page(browser, f"/job/J1/{path}") for number in of_it), path
    assert "card outside" in " ".join(job.card for job in next_step("J1").jobs)  # its colour is what it was


def test_what_is_added_to_a_tin_that_needed_nothing_is_no_correction(home: Path, corrected: int) -> None:
    with open_ledger(home) as ledger:
        ledger.record(ledger.find_job("J1"), CorrectionEntry(1, (), 0.0, True, {"D65": 0.2}, {}))
    pour("J1", (("blue", 1.0),), PourRequest(to="last"))
    assert on_the_scale("J1").plan == corrected


def test_a_verdict_on_a_card_before_the_last_says_which(browser: Browser, home: Path, corrected: int) -> None:
    assert "was entered after it" not in _page(browser, "/job/J1/card")
    with open_ledger(home) as ledger:
        later = ledger.record(ledger.find_job("J1"), SprayOutEntry(1, [46.0, -4.0, -15.0]))
    page = _page(browser, "/job/J1/card")
    assert f"That is card #{CARD}: #{later} was entered after it." in page
    assert f"Judge card #{later} again" in page


def test_a_card_is_only_judged_again_while_it_is_of_what_is_in_the_tin(browser: Browser, corrected: int) -> None:
    again = f"Judge card #{CARD} again"
    pour("J1", None, PourRequest(set_aside="half"))
    assert again in _page(browser, "/job/J1/card")  # what is left is of the same colour
    pour("J1", (("blue", 1.0),), PourRequest(to="last"))
    assert again not in _page(browser, "/job/J1/card")


def test_what_stands_aside_is_told_on_the_page_of_the_job(browser: Browser, corrected: int) -> None:
    assert "stand aside" not in browser.text("/job/J1")
    pour("J1", None, PourRequest(set_aside="half", aside_for="the <boot> lid"))
    assert "250.0 g stand aside: 50 % of batch #" in browser.text("/job/J1")
    assert "as it was; meant for the &lt;boot&gt; lid" in browser.text("/job/J1")
