"""A bank on the bench page: what its forms put into its files, what photographs tell, what is refused and where."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

from finishmatch.cli.photo.card import sheet_for_page
from finishmatch.readings.bank_seen import seen_rows
from finishmatch.steps.bank_made.as_it_stands import BankInHand, bank_as_it_stands, banks_in_hand, ref_of_bank
from finishmatch.steps.bank_made.begin import begin_bank
from finishmatch.steps.bank_made.panels import weigh_panel
from finishmatch.steps.bank_made.tins import Tin, put_tin
from finishmatch.steps.photo.bank_photo import PanelsRequest, photograph_bank
from tests.bench.conftest import Browser, Opened
from tests.conftest import ROOT
from tests.helpers.photo_frames import PAINTS, drawn_sheet, frame, sheet_photo, write_jpeg

SHEET = ROOT / "swatches/panels.jpg"
BY_WINDOW = {0: "white masstone", 2: "blue 20/80", 3: "blue 5/95"}


@pytest.fixture
def bank(home: Path) -> BankInHand:
    """A bank with two tins and three panels that nobody read yet."""
    found = begin_bank("Shed tins")
    put_tin(found, Tin("white", "white", "PW6", stock_g=1000))
    put_tin(found, Tin("blue", colour_index="PB15:1", stock_g=500))
    for name, blue in (("white masstone", 0.0), ("blue 20/80", 20.0), ("blue 5/95", 5.0)):
        weigh_panel(bank_as_it_stands(found.folder), [("white", 100.0 - blue), ("blue", blue)], name)
    return bank_as_it_stands(found.folder)


def _sent(browser: Browser, bank: BankInHand, photo: Path) -> str:
    answer = browser.post(f"/bank/{bank.ref}/photo", files={"photograph": (photo.name, photo.read_bytes())})
    assert answer.status_code == 200
    return str(answer.url.path)


def _of_windows(panels: dict[int, str]) -> dict[str, str]:
    return {f"panel_{i}": panel for i, panel in panels.items()}


def test_what_lies_in_the_windows_is_read_into_the_bank_as_the_command_reads_it(
    browser: Browser, bank: BankInHand, tmp_path: Path
) -> None:
    at = _sent(browser, bank, SHEET)
    page = browser.text(at)
    assert page.count('<select id="panel_') == 8
    answer = browser.post(f"{at}/read", _of_windows(BY_WINDOW))
    assert answer.url.path == f"/bank/{bank.ref}"
    assert "Read: white masstone (95.7, -0.6, 0.9)" in answer.text
    assert "windows 2, 5, 6, 7, 8 hold what was said to be none of the panels" in answer.text
    told = shutil.copytree(bank.folder, tmp_path / "told")
    (told / "seen.csv").unlink()
    windows = [f"{i + 1}={panel}" for i, panel in BY_WINDOW.items()]
    photograph_bank(told, [SHEET], PanelsRequest(panel=windows))
    assert (bank.folder / "seen.csv").read_bytes() == (told / "seen.csv").read_bytes()
    assert "not read yet" not in answer.text


def test_one_under_a_lamp_makes_them_surer_as_the_command_does(
    browser: Browser, bank: BankInHand, tmp_path: Path
) -> None:
    panels = {1: PAINTS["cream"], 2: PAINTS["blue"], 3: PAINTS["green"]}
    photos = []
    for i, light in enumerate(("D65", "A")):
        drawn = drawn_sheet(8, panels, light=light)
        photos.append(sheet_photo(drawn, tmp_path / f"{light}.jpg", seed=i))
    first, lamp = (_sent(browser, bank, photo) for photo in photos)
    fields = _of_windows(dict(enumerate(("white masstone", "blue 20/80", "blue 5/95"))))
    assert browser.post(f"{first}/read", fields).status_code == 200
    alone = {row.text("panel"): float(row.cells["u95"]) for row in seen_rows(bank.folder / "seen.csv")}
    lit = {**fields, f"under_{lamp.rpartition('/')[2]}": "A"}
    assert browser.post(f"{first}/read", {**lit, f"under_{lamp.rpartition('/')[2]}": "candle"}).status_code == 422
    assert browser.post(f"{first}/read", lit).status_code == 200
    both = {row.text("panel"): float(row.cells["u95"]) for row in seen_rows(bank.folder / "seen.csv")}
    assert both.keys() == alone.keys()
    assert all(both[name] < alone[name] for name in both)


def test_panels_beside_a_chart_without_a_sheet_are_told_apart_where_they_were_found_or_marked(
    browser: Browser, bank: BankInHand, tmp_path: Path
) -> None:
    photo = write_jpeg(frame(), tmp_path / "beside.jpg")
    at = _sent(browser, bank, photo)
    assert "Sample 1" in browser.text(at)
    assert browser.post(f"{at}/read", {"panel_0": "blue 20/80", "panel_1": "blue 5/95"}).status_code == 200
    seen = {row.text("panel"): row for row in seen_rows(bank.folder / "seen.csv")}
    assert set(seen) == {"blue 20/80", "blue 5/95"}
    marked = {"name_0": "that one", "x_0": "40", "y_0": "45", "w_0": "80", "h_0": "50"}
    assert browser.post(at, marked).status_code == 200
    assert "That one" in browser.text(at)
    assert browser.post(f"{at}/read", {"panel_0": "white masstone"}).status_code == 200
    assert {row.text("panel") for row in seen_rows(bank.folder / "seen.csv")} == {*seen, "white masstone"}
    assert browser.post(at, {**marked, "x_0": "40000"}).status_code == 422


def test_the_order_in_which_they_were_weighed_can_be_filled_in_and_is_asked_to_be_looked_at(
    browser: Browser, bank: BankInHand
) -> None:
    at = _sent(browser, bank, SHEET)
    assert "selected" not in browser.text(at).partition('id="panel_0"')[2].partition("</select>")[0].replace(
        '<option value="" selected>', ""
    )
    page = browser.text(f"{at}?order=weighed")
    for i, name in enumerate(("white masstone", "blue 20/80", "blue 5/95")):
        choice = page.partition(f'id="panel_{i}"')[2].partition("</select>")[0]
        assert f'<option value="{name}" selected>' in choice
    assert "look at each before it is read" in page
    assert not (bank.folder / "seen.csv").exists()


@pytest.mark.parametrize(
    ("fields", "said"),
    [
        ({}, "Choose it for one at least"),
        ({"panel_0": "blue 5/95", "panel_1": "blue 5/95"}, "&#39;blue 5/95&#39; is chosen twice"),
        ({"panel_0": "blue 7/93"}, "&#39;blue 7/93&#39; isn&#39;t in the bank any more"),
    ],
)
def test_what_cannot_be_is_refused_and_nothing_is_written(
    browser: Browser, bank: BankInHand, fields: dict[str, str], said: str
) -> None:
    at = _sent(browser, bank, SHEET)
    answer = browser.post(f"{at}/read", fields)
    assert answer.status_code == 422
    assert said in answer.text
    assert not (bank.folder / "seen.csv").exists()


def test_a_photograph_that_cannot_serve_says_what_to_change(browser: Browser, bank: BankInHand, tmp_path: Path) -> None:
    drawn = drawn_sheet(8, {1: PAINTS["blue"]}, chart=False)
    at = _sent(browser, bank, sheet_photo(drawn, tmp_path / "bare.jpg"))
    assert "This photograph can't serve" in browser.text(at)
    assert browser.post(f"{at}/read", {"panel_0": "blue 5/95"}).status_code == 422


def test_two_photographs_that_a_phone_calls_alike_are_two_pictures(
    browser: Browser, bank: BankInHand, tmp_path: Path
) -> None:
    names = ("white masstone", "blue 20/80", "blue 5/95")
    for seed in (1, 2):
        drawn = drawn_sheet(8, {1: PAINTS["cream"], 2: PAINTS["blue"], 3: PAINTS["green"]})
        (tmp_path / str(seed)).mkdir()
        photo = sheet_photo(drawn, tmp_path / str(seed) / "image.jpg", seed=seed)
        assert (
            browser.post(f"{_sent(browser, bank, photo)}/read", _of_windows(dict(enumerate(names)))).status_code == 200
        )
    pictures = {row.cells["picture"] for row in seen_rows(bank.folder / "seen.csv")}
    assert len(pictures) == 2
    assert "image.jpg" in pictures
    assert all(len(name) < 24 for name in pictures)


def test_a_photograph_of_one_bank_is_none_of_another_nor_of_a_job(browser: Browser, bank: BankInHand) -> None:
    other = begin_bank("Other tins")
    browser.post("/jobs/new", {"title": "Roof"})
    key = _sent(browser, bank, SHEET).rpartition("/")[2]
    for path in (f"/bank/{other.ref}/photo/{key}", f"/job/J1/photo/{key}", f"/bank/{other.ref}/photo/{key}/picture"):
        assert browser.get(path).status_code == 404
    assert browser.get(f"/bank/{bank.ref}/photo/{key}/picture").headers["content-type"] == "image/jpeg"
    assert browser.post(f"/bank/{bank.ref}/photo/{key}/drop").status_code == 200
    assert browser.get(f"/bank/{bank.ref}/photo/{key}").status_code == 404


def test_another_device_does_not_see_it(opened: Opened, bank: BankInHand) -> None:
    one = opened()
    at = _sent(one, bank, SHEET)
    other = opened(bench=one.bench)
    other.client.cookies.clear()
    assert other.get(at).status_code == 404


@pytest.mark.parametrize("path", ["/bank/B0123456789", "/bank/B0123456789/tin", "/bank/x", "/bank/B0123456789/plan"])
def test_a_bank_there_is_not_is_no_page(browser: Browser, path: str) -> None:
    assert browser.get(path).status_code == 404


def test_the_invented_example_is_shown_and_takes_nothing(browser: Browser) -> None:
    ref = banks_in_hand()[-1].ref
    page = browser.text(f"/bank/{ref}")
    assert "The invented example" in page
    assert "Enter a tin" not in page
    assert browser.post(f"/bank/{ref}/tin", {"tint": "x", "stock_g": "1"}).status_code == 422
    assert browser.post(f"/bank/{ref}/panel", {"tint_0": "white", "grams_0": "1"}).status_code == 422


def test_a_bank_that_was_begun_at_a_keyboard_is_filled_here(opened: Opened, tmp_path: Path) -> None:
    folder = tmp_path / "begun"
    folder.mkdir()
    for name in ("bank.toml", "tints.csv"):
        shutil.copy(ROOT / "swatches/bank" / name, folder)
    browser, ref = opened(banks=(folder,), sheet=sheet_for_page), ref_of_bank(folder)
    page = browser.text(f"/bank/{ref}/plan?panels=2&grams=20")
    assert "20.0 g white" in page
    assert "Weigh white" in page
    answer = browser.post(
        f"/bank/{ref}/panel", {"planned": "white", "panels": "2", "grams": "20", "tint_0": "white", "grams_0": "20,1"}
    )
    assert answer.url.path == f"/bank/{ref}/plan"
    assert answer.url.query == b"panels=2&grams=20"
    assert "✓ </span>white" in answer.text
    assert (folder / "panels.csv").read_text().endswith("white,white,20.1\n")
    sheet = browser.get(f"/bank/{ref}/sheet.pdf?windows=12&size=letter")
    assert sheet.content.startswith(b"%PDF")
    assert browser.get(f"/bank/{ref}/sheet.pdf?windows=13").status_code == 422
    for size in ("A5", "letter"):
        assert browser.get(f"/card.pdf?size={size}").content.startswith(b"%PDF")
    assert browser.get("/card.pdf?size=A0").status_code == 422


def test_what_is_wrong_with_a_tin_is_said_at_its_field(browser: Browser, bank: BankInHand) -> None:
    answer = browser.post(f"/bank/{bank.ref}/tin", {"tint": "red", "stock_g": "5", "density_kg_l": "1520"})
    assert answer.status_code == 422
    assert (
        '<p class="wrong beside" id="density_kg_l-wrong">1520 kg/L is no paint; in g/L? then write 1.52.</p>'
        in answer.text
    )
    answer = browser.post(f"/bank/{bank.ref}/tin", {"tint": "red", "stock_g": "5", "solids_percent": "x"})
    assert 'id="solids_percent-wrong"' in answer.text
    assert [tint.name for tint in bank_as_it_stands(bank.folder).tints] == ["white", "blue"]


def test_a_tin_is_changed_and_a_panel_taken_out(browser: Browser, bank: BankInHand) -> None:
    page = browser.text(f"/bank/{bank.ref}/tin?name=blue")
    assert 'value="PB15:1"' in page
    assert "It is in 2 panels, as blue 20/80" in page
    answer = browser.post(f"/bank/{bank.ref}/tin", {"was": "blue", "tint": "blue", "stock_g": "75", "lot": "2"})
    assert "75 g on the shelf, lot 2" in answer.text
    assert "Take it out" in browser.text(f"/bank/{bank.ref}/weighed?name=blue 5/95")
    answer = browser.post(f"/bank/{bank.ref}/weighed/out", {"panel_name": "blue 5/95"})
    assert "Taken out: blue 5/95" in answer.text
    assert browser.post(f"/bank/{bank.ref}/weighed/out", {"panel_name": "blue 5/95"}).status_code == 404
    assert [panel.name for panel in bank_as_it_stands(bank.folder).panels] == ["white masstone", "blue 20/80"]


def test_a_bank_can_be_mixed_from_as_soon_as_it_is_read(browser: Browser, bank: BankInHand) -> None:
    browser.post("/jobs/new", {"title": "Roof"})
    assert "Shed tins" not in browser.text("/job/J1/recipe")
    at = _sent(browser, bank, SHEET)
    assert browser.post(f"{at}/read", _of_windows(BY_WINDOW)).status_code == 200
    page = browser.text("/job/J1/recipe")
    assert '<option value="0" selected>Shed tins (2 tints)</option>' in page
    assert "3 panels of 2 tins" in browser.text(f"/bank/{bank.ref}/told")


def test_panels_that_contradict_each_other_are_told(browser: Browser, bank: BankInHand) -> None:
    at = _sent(browser, bank, SHEET)
    exchanged = {0: "blue 5/95", 2: "white masstone", 3: "blue 20/80"}
    assert browser.post(f"{at}/read", _of_windows(exchanged)).status_code == 200
    assert "contradict" in browser.text(f"/bank/{bank.ref}/told")


def test_a_broken_file_says_why_on_every_screen_of_its_bank(browser: Browser, bank: BankInHand) -> None:
    (bank.folder / "tints.csv").write_text("tint,role\nwhite,white\n")
    assert "there is no column" in browser.text("/banks")
    assert "It can't be read" in browser.text(f"/bank/{bank.ref}")
    assert browser.post(f"/bank/{bank.ref}/tin", {"tint": "x", "stock_g": "1"}).status_code == 422


def test_parts_of_a_photograph_go_on_where_they_stopped(browser: Browser, bank: BankInHand) -> None:
    data = SHEET.read_bytes()
    headers = {"x-bench-token": browser.token, "content-type": "application/json"}
    api = f"/api/bank/{bank.ref}/photo"
    begun = browser.client.post(api, json={"name": "panels.jpg", "size": len(data)}, headers=headers).json()
    plain = {"x-bench-token": headers["x-bench-token"], "content-type": "application/octet-stream"}
    half = len(data) // 2
    assert (
        browser.client.put(f"{api}/{begun['key']}?offset=0", content=data[:half], headers=plain).json()["came"] == half
    )
    assert browser.client.get(f"{api}/{begun['key']}").json()["came"] == half
    browser.client.put(f"{api}/{begun['key']}?offset={half}", content=data[half:], headers=plain)
    done = browser.client.post(f"{api}/{begun['key']}/finish", headers=plain).json()
    assert done["to"] == f"/bank/{bank.ref}/photo/{begun['key']}"
    assert "Which panel is it?" in browser.text(done["to"])
