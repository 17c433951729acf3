"""What photographs told of a job's samples is weighed without being typed, and keeps how it was read."""

from __future__ import annotations

import re
from collections.abc import Callable
from html import unescape
from pathlib import Path

import pytest

from finishmatch.ledger import ReadingEntry, TargetEntry, open_ledger
from finishmatch.steps.readings_waiting import readings_waiting
from tests.bench.conftest import Browser
from tests.conftest import Ran

Cli = Callable[..., Ran]
PLACES = ("--region", "tin=96,92,174,131", "--region", "door=984,60,181,131")


@pytest.fixture
def photographed(browser: Browser, cli: Cli, swatches: Path) -> Browser:
    """The page with a job whose samples were photographed."""
    assert browser.post("/jobs/new", {"title": "Roof"}).status_code == 200
    assert cli("photo", "read", swatches / "photo.jpg", *PLACES, "--job", "J1").status == 0
    return browser


def read() -> list[ReadingEntry]:
    """The readings of J1."""
    with open_ledger() as ledger:
        found = [view.entry for view in ledger.entries(ledger.find_job("J1"), current_only=True)]
    return [entry for entry in found if isinstance(entry, ReadingEntry)]


def target() -> TargetEntry:
    """The target of J1."""
    with open_ledger() as ledger:
        (found,) = [one.entry for one in ledger.entries(ledger.find_job("J1")) if isinstance(one.entry, TargetEntry)]
    return found


def filled_in(page: str) -> dict[str, list[str]]:
    """What stands in the fields of the samples."""
    fields = re.findall(r'<input[^>]*name="(from|name|L|a|b|vehicle)"[^>]*value="([^"]*)"', page)
    found = dict[str, list[str]]()
    for name, value in fields:
        found.setdefault(name, []).append(unescape(value))
    return found


def test_what_was_read_and_not_weighed_is_open_at_both_faces(photographed: Browser, cli: Cli) -> None:
    assert "readings #1, #2 are not weighed for a target yet" in photographed.text("/job/J1")
    assert "Weigh what was read" in photographed.text("/job/J1")
    assert "not weighed for a target yet" in cli("job", "show", "J1").out
    assert "finishmatch evidence weigh EVIDENCE.csv" in cli("next").out


def test_the_form_has_it_and_its_doubt_and_geometry_go_with_it(photographed: Browser) -> None:
    page = photographed.text("/job/J1/evidence")
    fields = filled_in(page)
    before = read()
    assert fields["name"][:3] == ["tin", "door", ""]
    assert [float(one) for one in fields["L"][:2]] == [round(one.lab[0], 2) for one in before]
    assert f"within ΔE00 {before[0].u95:.1f}" in page
    kinds = ["leftover tin", "exposed paint", ""]
    answer = photographed.post("/job/J1/evidence", {**fields, "kind": kinds})
    assert answer.status_code == 200, answer.text
    assert "Tin and door are of one photograph: what it is off by they share" in answer.text
    sent = {"kept": answer.url.params["kept"], "use": answer.url.params["use"], "do": "record"}
    assert photographed.post("/job/J1/evidence/weighed", sent).status_code == 200
    assert [one.geometry for one in read()[2:]] == [one.geometry for one in before]
    assert target().u95 > 1.5  # typed, the same two come to less
    assert target().u95 > before[0].u95  # of one photograph, which is off alike for both
    assert filled_in(photographed.text("/job/J1/evidence"))["name"] == ["", "", ""]
    assert "not weighed for a target" not in photographed.text("/job/J1")


def test_a_reading_keeps_its_photograph_and_what_of_its_doubt_is_its_own(photographed: Browser, swatches: Path) -> None:
    with open_ledger() as ledger:
        job = ledger.find_job("J1")
        older = ReadingEntry("photograph", "rim", (40.0, -5.0, -16.0), "D65", 10, geometry="45/0", u95=2.0)
        ledger.record(job, older, sources=[swatches / "card1.csv"])
        views = ledger.entries(job)
    waiting = readings_waiting(views)
    ((_, sha256),) = views[0].sources
    assert [one.pictures for one in waiting[:2]] == [(sha256[:12],)] * 2
    assert len(waiting[2].pictures) == 1
    assert waiting[2].pictures != waiting[0].pictures
    rows = [one.as_row() for one in waiting]
    assert [row["picture"] for row in rows] == ["; ".join(one.pictures) for one in waiting]
    assert [row["u95_own"] for row in rows] == [*(one.u95_own for one in read()[:2]), ""]
    assert all(0 < one.u95_own < one.u95 for one in read()[:2] if one.u95_own is not None and one.u95 is not None)


def test_a_colour_that_was_typed_over_is_one_that_was_typed(photographed: Browser) -> None:
    fields = filled_in(photographed.text("/job/J1/evidence"))
    fields["L"][0] = "41"
    answer = photographed.post("/job/J1/evidence", {**fields, "kind": ["", "", ""]})
    sent = {"kept": answer.url.params["kept"], "use": answer.url.params["use"], "do": "record"}
    photographed.post("/job/J1/evidence/weighed", sent)
    assert "tin" in target().evidence
    assert next(one for one in read()[2:] if one.name == "tin").geometry == ""


def test_the_target_is_called_as_the_colour_of_the_job(browser: Browser) -> None:
    browser.post("/jobs/new", {"title": "Roof", "colour": "Saltmarsh Blue"})
    one = {"name": ["tin"], "kind": [""], "vehicle": [""], "L": ["45"], "a": ["-4"], "b": ["-17"]}
    page = browser.post("/job/J1/evidence", one)
    assert 'name="name" maxlength="100" autocomplete="off" value="Saltmarsh Blue"' in page.text
    assert "(left out)" not in page.text
    assert "leave it out and say why" in page.text or "leave it out" not in page.text


def test_in_a_job_without_a_colour_the_target_is_called_as_the_job(browser: Browser) -> None:
    browser.post("/jobs/new", {"title": "Roof"})
    one = {"name": ["standard"], "kind": [""], "vehicle": [""], "L": ["45"], "a": ["-4"], "b": ["-17"]}
    page = browser.post("/job/J1/evidence", one)
    assert 'name="name" maxlength="100" autocomplete="off" value="Roof"' in page.text


def test_read_again_after_it_was_weighed_all_of_that_weighing_is_filled_in_once_more(
    photographed: Browser, cli: Cli, swatches: Path
) -> None:
    fields = filled_in(photographed.text("/job/J1/evidence"))
    answer = photographed.post("/job/J1/evidence", {**fields, "kind": ["leftover tin", "sheltered paint", ""]})
    sent = {"kept": answer.url.params["kept"], "use": answer.url.params["use"], "do": "record", "pick": "1"}
    assert photographed.post("/job/J1/evidence/weighed", sent).status_code == 200
    weighed = target().evidence
    assert filled_in(photographed.text("/job/J1/evidence"))["name"] == ["", "", ""]
    again = ("photo", "read", swatches / "photo.jpg", "--region", "tin=100,96,160,120", "--job", "J1")
    said = " ".join(cli(*again).out.split())
    assert "was found from #1 as it was, and stays: weigh the evidence again" in said
    page = photographed.text("/job/J1/evidence")
    assert [name for name in filled_in(page)["name"] if name] == [*sorted(weighed, reverse=True)]
    assert "was read again since target #" in photographed.text("/job/J1")
    fields = filled_in(page)
    assert float(fields["L"][0]) == round(read()[0].lab[0], 2)  # as it was read now
