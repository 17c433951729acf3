"""Two devices at one bank, an editor beside them: nothing is written over unseen, a slip is asked about."""

from __future__ import annotations

import re
from html import unescape
from pathlib import Path

import pytest

from booth.card_scenes import bundled_print, drawn_card
from finishmatch.steps.bank_made.as_it_stands import BankInHand, bank_as_it_stands
from finishmatch.steps.bank_made.begin import begin_bank
from finishmatch.steps.bank_made.panels import weigh_panel
from finishmatch.steps.bank_made.tins import Tin, put_tin, tin_as_written
from finishmatch.steps.photo.bank_photo import PanelsRequest, photograph_bank
from tests.bench.conftest import Browser
from tests.conftest import ROOT
from tests.helpers.photo_frames import PAINTS, sheet_photo

_INPUT = re.compile(r'<input [^>]*name="([^"]+)"[^>]*>')
_VALUE = re.compile(r' value="([^"]*)"')


@pytest.fixture
def bank(home: Path) -> BankInHand:
    """A bank with two tins, of which little is written."""
    found = begin_bank("Shed tins")
    put_tin(found, Tin("white", "white", "PW6", stock_g=1000))
    put_tin(found, Tin("blue", colour_index="PB15:1", stock_g=12345.678, hazard="none"))
    return bank_as_it_stands(found.folder)


def _form(page: str) -> dict[str, str]:
    """Return what the form of a page would send as it is shown."""
    form = page.partition('method="post"')[2].partition("</form>")[0]
    values = {found[1]: _VALUE.search(found[0]) for found in _INPUT.finditer(form)}
    return {name: unescape(found[1]) if found else "" for name, found in values.items()}


def _rows(bank: BankInHand) -> list[str]:
    return (bank.folder / "tints.csv").read_text().splitlines()[2:]


def test_a_tin_that_is_sent_as_it_is_shown_stays_as_it_was_written(browser: Browser, bank: BankInHand) -> None:
    before = _rows(bank)
    fields = _form(browser.text(f"/bank/{bank.ref}/tin?name=blue"))
    assert browser.post(f"/bank/{bank.ref}/tin", {**fields, "lot": "7"}).status_code == 200
    assert _rows(bank) == [before[0], before[1].replace("none,,", "none,7,")]


def test_a_tin_that_was_changed_meanwhile_is_shown_before_it_is_written_over(
    browser: Browser, bank: BankInHand
) -> None:
    at = f"/bank/{bank.ref}/tin"
    mine = _form(browser.text(f"{at}?name=blue"))
    put_tin(bank, Tin("blue", colour_index="PB15:1", stock_g=75, hazard="none", lot="2"), "blue")
    before = _rows(bank)
    answer = browser.post(at, {**mine, "solids_percent": "x"})
    assert 'id="solids_percent-wrong"' in answer.text
    answer = browser.post(at, {**_form(answer.text), "solids_percent": "30"})
    assert answer.status_code == 422
    what = "was changed since this page was opened: what there is of it is 75 now, which tin it is is 2 now"
    assert what in answer.text
    assert _rows(bank) == before
    answer = browser.post(at, {**_form(answer.text), "stock_g": "75"})
    assert answer.status_code == 200
    assert tin_as_written(bank, "blue")["solids_percent"] == "30"


def test_a_slip_is_asked_about_though_the_plan_is_another_one_by_now(browser: Browser, bank: BankInHand) -> None:
    at = f"/bank/{bank.ref}"
    planned = [unescape(one) for one in re.findall(r'href="([^"]*/panel\?planned=[^"]*)"', browser.text(f"{at}/plan"))]
    link = next(one for one in planned if "10/90" in one)
    fields = _form(browser.text(link))
    parts = {"tint_0": "white", "grams_0": "90", "tint_1": "blue", "grams_1": "100"}
    for name, blue in (("white masstone", 0.0), ("blue 20/80", 20.0), ("blue 5/95", 5.0)):
        weigh_panel(bank, [("white", 100.0 - blue), ("blue", blue)], name)
    windows = ["1=white masstone", "3=blue 20/80", "4=blue 5/95"]
    photograph_bank(bank.folder, [ROOT / "swatches/panels.jpg"], PanelsRequest(panel=windows))
    assert link not in unescape(browser.text(f"{at}/plan"))
    answer = browser.post(f"{at}/panel", {**fields, **parts})
    assert answer.status_code == 422
    assert "blue is 53 % of what was weighed, and 10 % was planned" in answer.text
    assert "It was weighed so" in answer.text
    assert browser.post(f"{at}/panel", {**fields, **parts, "grams_1": "10"}).status_code == 200


@pytest.mark.parametrize(
    ("query", "said"),
    [
        ("grams=1,250", "is it 1250 or 1.250?"),
        ("grams=0", "0 is too small; type 1 to 5000."),
        ("grams=x", "is not a number"),
        ("panels=99", "99 is too large; type 1 to 24."),
        ("panels=2.5", "2.5 is not a whole number"),
    ],
)
def test_how_many_and_how_much_are_typed_as_in_any_field(
    browser: Browser, bank: BankInHand, query: str, said: str
) -> None:
    at = f"/bank/{bank.ref}/plan"
    assert "62.5 g white" in browser.text(f"{at}?panels=2&grams=62,5")
    assert "100.0 g white" in browser.text(f"{at}?panels=&grams=")
    answer = browser.get(f"{at}?{query}")
    assert answer.status_code == 422
    assert f'id="{query.partition("=")[0]}-wrong"' in answer.text
    assert said in answer.text
    assert f'value="{query.partition("=")[2]}"' in answer.text


def test_a_panel_of_three_tins_is_entered_as_ones_own(browser: Browser, bank: BankInHand) -> None:
    put_tin(bank, Tin("red oxide", colour_index="PR101", stock_g=500))
    at = f"/bank/{bank.ref}/panel"
    fields = {**_form(browser.text(at)), "grams_0": "80", "grams_1": "10", "grams_2": "10"}
    assert {"grams_0", "grams_1", "grams_2"} <= _form(browser.text(at)).keys()
    tins = {"tint_0": "white", "tint_1": "blue", "tint_2": "red oxide"}
    assert browser.post(at, {**fields, **tins}).status_code == 200
    assert [len(panel.parts) for panel in bank_as_it_stands(bank.folder).panels] == [3]


def test_a_page_that_comes_too_early_says_what_comes_first(browser: Browser, bank: BankInHand) -> None:
    empty = begin_bank("Empty")
    page = browser.text(f"/bank/{empty.ref}/plan")
    assert "There is nothing to mix yet; enter the white and the tints first" in page
    assert "no such file" not in page
    page = browser.text(f"/bank/{bank.ref}/told")
    assert "No panel of this bank is read yet; weigh its panels, then photograph them" in page
    weigh_panel(bank, [("white", 50.0)])
    assert "No panel of this bank is read yet; photograph its panels" in browser.text(f"/bank/{bank.ref}/told")


def test_a_panel_seen_otherwise_elsewhere_is_put_right_without_a_keyboard(browser: Browser, bank: BankInHand) -> None:
    weigh_panel(bank, [("white", 80.0), ("blue", 20.0)], "blue 20/80")
    photograph_bank(bank.folder, [ROOT / "swatches/panels.jpg"], PanelsRequest(panel=["1=blue 20/80"]))
    other = ROOT / "swatches/photo.jpg"
    at = browser.post(f"/bank/{bank.ref}/photo", files={"photograph": (other.name, other.read_bytes())}).url.path
    answer = browser.post(f"{at}/read", {"panel_0": "blue 20/80"})
    assert "is it the panel that lies there?" in answer.text
    assert "or take the panel out of the bank with its colours, and enter it anew" in answer.text
    assert "seen.csv" not in answer.text
    page = browser.text(f"/bank/{bank.ref}/told")
    assert "with its right name, or take the panel out and enter it anew" in page


def test_weights_that_were_sent_before_are_asked_about(browser: Browser, bank: BankInHand) -> None:
    at = f"/bank/{bank.ref}/panel"
    parts = {"tint_0": "white", "grams_0": "90.02", "tint_1": "blue", "grams_1": "10,01"}
    assert browser.post(at, parts).status_code == 200
    turned = {"tint_0": "blue", "grams_0": "10.01", "tint_1": "white", "grams_1": "90.02"}
    answer = browser.post(at, turned)
    assert answer.status_code == 422
    assert "&#39;blue 10/90&#39; was weighed so to the last digit, and is in the bank" in answer.text
    assert browser.post(at, {**turned, "panel_name": "again"}).status_code == 200
    assert browser.post(at, {**turned, "grams_0": "10.02"}).status_code == 200
    names = [panel.name for panel in bank_as_it_stands(bank.folder).panels]
    assert names == ["blue 10/90", "again", "blue 10/90 (2)"]


def test_panels_chosen_for_other_samples_than_are_read_now_are_chosen_again(browser: Browser, bank: BankInHand) -> None:
    for name in ("one", "two"):
        weigh_panel(bank, [("white", 50.0), ("blue", 5.0)], name)
    sheet = ROOT / "swatches/panels.jpg"
    at = browser.post(f"/bank/{bank.ref}/photo", files={"photograph": (sheet.name, sheet.read_bytes())}).url.path
    fields = {**_form(browser.text(at).partition('id="which"')[2].join(('method="post"', ""))), "panel_2": "two"}
    assert fields["sample_2"].startswith("window 3 ")
    marked = {f"{key}_{i}": str(40 * (i + 2)) for i in range(3) for key in "xywh"}
    assert browser.post(at, {**marked, "name_0": "A", "name_1": "B", "name_2": "C"}).status_code == 200
    answer = browser.post(f"{at}/read", fields)
    assert answer.status_code == 422
    assert "read anew since the page was opened" in unescape(answer.text)
    assert '<option value="two" selected>' not in answer.text
    assert not (bank.folder / "seen.csv").exists()
    assert browser.post(at, {"find": "1"}).status_code == 200
    assert browser.post(f"{at}/read", fields).status_code == 200
    assert [panel.read for panel in bank_as_it_stands(bank.folder).panels] == [False, True]


def test_the_shops_card_in_place_of_the_sheet_is_told(browser: Browser, bank: BankInHand, tmp_path: Path) -> None:
    weigh_panel(bank, [("white", 50.0)], "one")
    paints = {"standard": PAINTS["cream"], "spray-out": PAINTS["blue"]}
    photo = sheet_photo(drawn_card(bundled_print(), paints, "one", "D65", True), tmp_path / "card.jpg")
    at = browser.post(f"/bank/{bank.ref}/photo", files={"photograph": (photo.name, photo.read_bytes())}).url.path
    said = "his is the shop's card, and no sheet of numbered windows"
    assert said in unescape(browser.text(at))
    answer = browser.post(f"{at}/read", {"panel_0": "one"})
    assert answer.status_code == 422
    assert said in unescape(answer.text)
    assert not (bank.folder / "seen.csv").exists()
    marked = {"name_0": "that one", "x_0": "300", "y_0": "300", "w_0": "60", "h_0": "60"}
    assert said not in unescape(browser.post(at, marked).text)
    assert browser.post(f"{at}/read", {"panel_0": "one"}).status_code == 200
