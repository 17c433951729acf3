"""The film map on the bench page: the numbers of `defect map`, readings and defects entered at a place."""

from __future__ import annotations

from finishmatch.steps.defect.map import MapRequest, map_film
from finishmatch.steps.job.show import show_job
from tests.bench.conftest import Browser

READ = (("primer", 60, 600, 400), ("colour", 98, 200, 200), ("colour", 84, 600, 400), ("colour", 70, 1000, 700))


def _read(browser: Browser, panel: str = "roof") -> None:
    browser.post("/jobs/new", {"title": "Roof"})
    for layer, build, x, y in READ:
        fields = {"panel": panel, "layer": layer, "build_um": str(build), "x": str(x), "y": str(y)}
        answer = browser.post("/job/J1/film-map/build", fields)
        assert answer.status_code == 200, answer.text


def test_what_is_drawn_are_the_numbers_of_the_command(browser: Browser) -> None:
    _read(browser)
    found = map_film(MapRequest("roof", (1200.0, 800.0), 5, 4, at=(200.0, 200.0), depth_um=5.0), job="J1")
    assert found.placed
    page = browser.text("/job/J1/film-map?panel=roof&x=200&y=200&depth=5")
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


def test_a_panels_name_is_escaped(browser: Browser) -> None:
    _read(browser, "<script>alert(1)</script>&\"'")
    page = browser.text("/job/J1/film-map")
    assert "<script>alert" not in page
