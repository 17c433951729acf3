"""The film map on the bench page: the numbers of `defect map`, readings and defects entered at a place."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from finishmatch.bench.panels import FILE, OUTLINES, Panels
from finishmatch.errors import InputError
from finishmatch.steps.defect.map import MapRequest, map_film
from finishmatch.steps.job.film import film
from finishmatch.steps.job.show import show_job
from tests.bench.conftest import Browser

READ = (("primer", 60, 600, 400), ("colour", 98, 200, 200), ("colour", 84, 600, 400), ("colour", 70, 1000, 700))


def _read(browser: Browser, panel: str = "roof") -> None:
    browser.post("/jobs/new", {"title": "Roof"})
    browser.post("/job/J1/film-map/panel", {"panel": panel, "outline": "flat", "width": "1200", "height": "800"})
    for layer, build, x, y in READ[:-1]:
        film("J1", panel, layer, [build], places=[f"{x}/{y}"])
    for layer, build, x, y in READ[-1:]:
        fields = {"panel": panel, "layer": layer, "build_um": str(build), "x": str(x), "y": str(y)}
        answer = browser.post("/job/J1/film-map/build", fields)
        assert answer.status_code == 200, answer.text


def test_what_is_drawn_are_the_numbers_of_the_command(browser: Browser) -> None:
    _read(browser)
    found = map_film(MapRequest("roof", (1200.0, 800.0), 5, 4, at=(200.0, 200.0), depth_um=5.0), job="J1")
    assert found.placed
    page = browser.text("/job/J1/film-map?panel=roof&x=200&y=200&depth=5")  # of the size that was given before
    for cell in found.cells:
        assert f"{cell.build_um:.0f} ({cell.low_um:.0f} to {cell.high_um:.0f})" in page
    assert found.here is not None
    assert f"a pit up to {found.here.safe_um:.0f} µm is safe to rub out" in page
    assert page.count("<a href=") >= 20
    assert "style=" not in page


def test_a_defect_is_logged_at_the_place_and_marked_on_the_map(browser: Browser) -> None:
    _read(browser)
    fields = {"panel": "roof", "kind": "cratering", "depth_um": "12", "count": "2", "x": "300", "y": "500"}
    answer = browser.post("/job/J1/film-map/defect", fields)
    assert "Logged as #5" in answer.text
    assert "cratering, 12 µm deep" in answer.text
    assert show_job("J1").entries[-1].entry.at_mm == (300.0, 500.0)  # type: ignore[attr-defined]


def test_what_cant_be_is_said_and_nothing_is_recorded(browser: Browser) -> None:
    browser.post("/jobs/new", {"title": "Roof"})
    assert "No film of a panel has been read yet" in browser.text("/job/J1/film-map")
    wrong = {"panel": "roof", "layer": "colour", "build_um": "thin", "x": "1", "y": "2"}
    answer = browser.post("/job/J1/film-map/build", wrong)
    assert answer.status_code == 422
    assert "is not a number" in answer.text
    assert browser.post("/job/J1/film-map/build", {**wrong, "build_um": "60", "x": ""}).status_code == 422
    assert not show_job("J1").entries
    assert browser.get("/job/J1/film-map?x=1e9").status_code in (404, 422)


def test_before_anything_is_read_the_outline_is_there_to_be_tapped(browser: Browser) -> None:
    browser.post("/jobs/new", {"title": "Roof"})
    page = browser.text("/job/J1/film-map?panel=nearside+wing")
    assert OUTLINES["wing"].path in page
    assert page.count("<a href=") >= 15
    assert "The size is taken as 1250 × 750 mm" in page


def test_the_outline_and_the_size_of_a_panel_are_kept_for_its_job(browser: Browser, home: Path) -> None:
    browser.post("/jobs/new", {"title": "Roof"})
    given = {"panel": "Nearside  sill", "outline": "sill", "width": "1540", "height": "165"}
    answer = browser.post("/job/J1/film-map/panel", given)
    assert "sill, 1540 × 165 mm" in answer.text
    again = Panels(home).drawn("J1", "nearside sill")
    assert (again.outline.name, again.size, again.given) == ("sill", (1540.0, 165.0), True)
    assert not Panels(home).drawn("J2", "nearside sill").given
    high = re.search(
        r'viewBox="0 0 1540\.0 ([0-9.]+)" data-high="165\.0"', browser.text("/job/J1/film-map?panel=nearside+sill")
    )
    assert high  # drawn higher than it is, so that a finger finds its place
    assert float(high[1]) == pytest.approx(0.3 * 1540)
    for wrong in ({"width": "12"}, {"height": "1e9"}, {"outline": "<b>"}, {"panel": " "}):
        assert browser.post("/job/J1/film-map/panel", {**given, **wrong}).status_code == 422
    assert Panels(home).drawn("J1", "nearside sill") == again


@pytest.mark.parametrize(
    "text", ["", "[1]", '{"J1 roof": 3}', '{"J1 roof": ["door", 0, 5]}', '{"J1 roof": ["door", NaN, 1]}']
)
def test_what_cant_be_read_of_the_panels_given_is_given_again(text: str, home: Path) -> None:
    (home / FILE).write_text(text, "utf-8")
    panels = Panels(home)
    assert not panels.drawn("J1", "roof").given
    panels.give("J1", "roof", "roof", (1200.0, 1300.0))
    assert panels.drawn("J1", "roof").size == (1200.0, 1300.0)
    with pytest.raises(InputError):
        panels.give("J1", "roof", "boat", (1200.0, 1300.0))


def test_a_panels_name_is_escaped(browser: Browser) -> None:
    _read(browser, "<script>alert(1)</script>&\"'")
    page = browser.text("/job/J1/film-map")
    assert "<script>alert" not in page
