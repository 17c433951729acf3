"""On the bench page a button says which chart the shop has, and every photograph is read by it from then on."""

from __future__ import annotations

from pathlib import Path

from finishmatch.photo.card.chart_kept import registered_chart
from finishmatch.photo.find.chart import SINCE_2014, UNTIL_2014
from tests.bench.conftest import Browser
from tests.bench.test_photo import sent
from tests.photo.test_chart_made import photographed


def _colours(page: str) -> str:
    return page.partition("<tbody>")[2].partition("</tbody>")[0]


def test_which_chart_it_is_is_said_once_under_a_photograph(browser: Browser, home: Path) -> None:
    browser.post("/jobs/new", {"title": "Roof"})
    _, data, _ = photographed(SINCE_2014)
    first, second = sent(browser, "first.jpg", data), sent(browser, "second.jpg", data)
    before = browser.text(first)
    assert _colours(browser.text(second)) == _colours(before)
    assert "reads like one made since November 2014, and is taken as one" in before
    assert "Ours was made until November 2014" in before
    after = browser.post(f"{first}/chart", {"made": UNTIL_2014}).text
    assert "From now on photographs are read by a chart made until November 2014" in after
    assert "Ours was made since November 2014" in after
    assert "and reads more like one made since November 2014" in after
    assert _colours(after) != _colours(before)
    assert _colours(browser.text(second)) == _colours(after)
    browser.post(f"{first}/chart", {"made": SINCE_2014})
    assert _colours(browser.text(first)) == _colours(before)
    kept = registered_chart(home)
    assert kept is not None
    assert kept.chart.made == SINCE_2014


def test_what_is_no_chart_is_refused(browser: Browser, home: Path) -> None:
    browser.post("/jobs/new", {"title": "Roof"})
    _, data, _ = photographed(UNTIL_2014)
    answer = browser.post(f"{sent(browser, 'x.jpg', data)}/chart", {"made": "../../etc"})
    assert answer.status_code == 422
    assert "isn&#39;t one of those in the list" in answer.text
    assert registered_chart(home) is None
