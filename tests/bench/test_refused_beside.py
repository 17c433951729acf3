"""What is refused is said beside the field it is about, in one line; nothing that was typed is lost."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from playwright.sync_api import Browser as Chromium
from playwright.sync_api import expect

from finishmatch.bench.labels import is_of_field
from finishmatch.ledger import DefectEntry, open_ledger
from finishmatch.steps.job.film import film
from finishmatch.steps.job.open import open_job
from tests.bench.conftest import Browser
from tests.bench.screens import context_of, served

DEFECT = {"kind": "cratering", "panel": "roof", "depth_um": "4"}
READ = {"panel": "roof", "layer": "primer", "builds": "62 58"}
PLACE = {"panel": "roof", "x": "200", "y": "200", "layer": "primer", "build_um": "60"}
SAMPLE = {"name": "tin", "kind": "", "vehicle": "", "L": "45", "a": "-4", "b": "-17"}
CARD = {"L": "45", "a": "-4", "b": "-17", "do": "record"}
WRONG = [
    ("defect", DEFECT, "count", "many", "'many' is not a number; write a number."),
    ("defect", DEFECT, "count", "-3", "-3 defects is nothing to judge; count at least 1."),
    ("defect", DEFECT, "depth_um", "-3", "-3 µm is not possible; it is at least 0."),
    ("defect", DEFECT, "exposures", "dust", "Is not KIND=VALUE; write it as &#34;air line=2&#34;."),
    ("film", READ, "builds", "many", "'many' is not a number; give µm, as in 62 58 60."),
    (
        "film",
        READ,
        "builds",
        "62,58",
        "'62,58' may be read in two ways; write 62.58 for one reading, or 62 58, with a blank between, for two.",
    ),
    ("film", READ, "position", "-3", "Is -3; it is at least 1."),
    ("film-map/build", PLACE, "x", "🙂", "'🙂' is not a number; write a number."),
    ("film-map/build", PLACE, "y", "-3", "-3 mm isn't on the panel; it goes from 0 to 20000 mm."),
    ("film-map/build", PLACE, "layer", "", "Isn't named; say which."),
    ("film-map/build", PLACE, "build_um", "-3", "-3 µm is not a film build; give µm above 0 and up to 5000."),
    ("card", CARD, "L", "1e30", "'1e30' is beyond all bounds; type it again."),
    ("card", CARD, "coats", "2,5", "2.5 is not a whole number; leave out the decimals."),
    ("note", {}, "text", " ", "Is empty; say what it is."),
]


@pytest.mark.parametrize(("path", "form", "name", "typed", "said"), WRONG, ids=lambda one: str(one)[:12])
def test_it_stands_at_its_field_and_what_was_typed_stays(
    path: str, form: dict[str, str], name: str, typed: str, said: str, browser: Browser
) -> None:
    browser.post("/jobs/new", {"title": "Roof"})
    answer = browser.post(f"/job/J1/{path}", {**form, name: typed})
    assert answer.status_code == 422
    page = answer.text.replace("&#39;", "'")
    assert re.findall(r'<p class="wrong beside" id="(\w+)-wrong">(.*?)</p>', page) == [(name, said)]
    (field,) = re.findall(rf'<(?:input|textarea)[^>]* name="{name}"[^>]*aria-invalid="true"[^>]*>', page)
    assert f"{name}-wrong" in field
    for own, value in {**form, name: typed}.items():
        if own not in ("do", "kind") and value.strip():
            assert f'value="{value}"' in page or f">{value}<" in page, own


def test_a_place_is_on_a_panel_that_was_measured(browser: Browser) -> None:
    browser.post("/jobs/new", {"title": "Roof"})
    browser.post("/job/J1/film-map/panel", {"panel": "roof", "outline": "roof", "width": "1200", "height": "1000"})
    answer = browser.post("/job/J1/film-map/defect", {**DEFECT, "x": "1201", "y": "5"})
    assert "1201 mm isn&#39;t on the panel; it goes from 0 to 1200 mm." in answer.text
    assert re.search(r'<details open id="defect">', answer.text)
    assert browser.post("/job/J1/film-map/defect", {**DEFECT, "x": "1200", "y": "5"}).status_code == 200


@pytest.mark.parametrize(
    ("typed", "said"),
    [
        ("many", "&#39;many&#39; is not a number"),
        ("-3", "-3 µm is no pit"),
        ("9999", "give 0 to 5000 µm"),
    ],
)
def test_a_depth_the_map_cant_be_drawn_for_is_said_on_the_map(typed: str, said: str, browser: Browser) -> None:
    browser.post("/jobs/new", {"title": "Roof"})
    for layer, build in (("primer", 60.0), ("colour", 100.0)):
        film("J1", "roof", layer, [build, build + 4])
    answer = browser.get("/job/J1/film-map", params={"panel": "roof", "depth": typed})
    assert answer.status_code == 422
    assert said.casefold() in answer.text.casefold()
    assert "panel-map" in answer.text
    assert 'class="wrong beside" id="depth-wrong"' in answer.text
    assert f'value="{typed}"' in answer.text


def test_a_depth_with_a_decimal_comma_draws_the_map(browser: Browser) -> None:
    browser.post("/jobs/new", {"title": "Roof"})
    for layer, build in (("primer", 60.0), ("colour", 100.0)):
        film("J1", "roof", layer, [build, build + 4])
    answer = browser.get("/job/J1/film-map", params={"panel": "roof", "depth": "12,5"})
    assert answer.status_code == 200
    assert "A pit of 12.5 µm" in answer.text


def test_no_folder_of_the_server_is_told_of_a_sample(browser: Browser) -> None:
    browser.post("/jobs/new", {"title": "Roof"})
    typed = browser.post("/job/J1/evidence", {**SAMPLE, "L": "-3"})
    assert typed.status_code == 422
    assert "L of tin" in typed.text
    assert '<p class="wrong beside" id="sample0-wrong">-3 is too small; it must be at least 0.</p>' in typed.text
    table = b"name,kind,L,a,b\ntin,,-3,1,1\n"
    sent = browser.post("/job/J1/evidence", {"name": ""}, files={"file": ("survivors.csv", table)})
    assert "survivors.csv, line 2, column" in sent.text
    assert str(browser.bench.uploads) not in typed.text + sent.text


def test_a_defect_whose_depth_nobody_said_is_given_one_where_that_is_asked(browser: Browser) -> None:
    browser.post("/jobs/new", {"title": "Roof"})
    for layer, build in (("primer", 60.0), ("colour", 100.0)):
        film("J1", "roof", layer, [build, build + 4])
    page = browser.post("/job/J1/defect", {"kind": "cratering", "panel": "roof", "count": "3", "place": "left"})
    assert "nothing says how deep it goes" in page.text
    assert "Enter the film" not in page.text
    to = str(page.url.path)
    assert "isn&#39;t said" in browser.post(f"{to}/depth", {}).text
    assert "&#39;deep&#39; is not a number" in browser.post(f"{to}/depth", {"depth_um": "deep"}).text
    assert "The ways to mend it" in browser.post(f"{to}/depth", {"depth_um": "12,5"}).text
    with open_ledger() as ledger:
        (view,) = ledger.entries(ledger.find_job("J1"), kind="defect", current_only=True)
    assert isinstance(view.entry, DefectEntry)
    assert (view.entry.depth_um, view.entry.count, view.entry.place) == (12.5, 3, "left")


@pytest.mark.parametrize(
    ("where", "name", "is_"),
    [
        ("`depth_um`", "depth_um", True),
        ("depth", "depth_um", True),
        ("the layer", "layer", True),
        ("`builds` '2'", "builds", True),
        ("film-layer, position", "position", True),
        ("roof, colour", "colour", False),
        ("a photograph", "a", False),
        ("the spray-out (typed)", "spray", False),
    ],
)
def test_a_place_is_that_of_its_field_alone(where: str, name: str, is_: bool) -> None:
    assert is_of_field(where, name) is is_


@pytest.mark.slow
def test_what_is_chosen_outlasts_a_page_that_is_loaded_anew_and_a_tap_goes_before_it(
    chromium_: Chromium, home: Path
) -> None:
    open_job("Roof")
    for layer, build in (("primer", 60.0), ("colour", 100.0)):
        film("J1", "roof", layer, [build, build + 4])
    context = context_of(chromium_, "phone")
    page = context.new_page()
    with served() as (base, _):
        page.goto(f"{base}/job/J1/defect")
        page.locator("#kind").select_option("pinholing")
        page.locator("#panel").fill("bonnet")  # it offers the roof
        page.locator("#count").fill("many")
        page.reload()
        expect(page.locator("#kind")).to_have_value("pinholing")
        expect(page.locator("#panel")).to_have_value("bonnet")
        page.locator("h1").click()
        page.get_by_role("button", name="Log the defect").click()
        expect(page.locator("#count-wrong")).to_be_in_viewport()
        page.locator("#count").fill("4")
        page.reload()  # after a refusal too
        expect(page.locator("#kind")).to_have_value("pinholing")
        expect(page.locator("#panel")).to_have_value("bonnet")
        expect(page.locator("#count")).to_have_value("4")
        page.goto(f"{base}/job/J1/film-map?panel=roof&x=200&y=300")
        page.locator("#build_um").fill("96")
        page.goto(f"{base}/job/J1/film-map?panel=roof&x=700&y=800")
        expect(page.locator("#build-x")).to_have_value("700")
        expect(page.locator("#build_um")).to_have_value("96")
    context.close()
