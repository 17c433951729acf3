"""What the shop's print reads is registered once, kept whole, and found again."""

from __future__ import annotations

import json
import multiprocessing
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest

from finishmatch.errors import InputError
from finishmatch.photo.card.layout import card_layout
from finishmatch.photo.card.register import (
    card_form,
    check_card,
    register_card,
    registered_card,
    registered_cards,
)
from finishmatch.readings import Reading, read_readings
from tests.conftest import ROOT
from tests.helpers.instrument_files import cxf, cxf_spectrum
from tests.helpers.same_numbers import same_numbers
from tools import make_card_print

PRINT = ROOT / "swatches/cardprint.csv"
WHEN = "2026-03-01T10:00:00Z"
Cli = Callable[..., object]


def greys(**odd: float) -> dict[str, Reading]:
    values = {"white": 0.85, "grey": 0.25, "black": 0.04} | odd
    return {name: Reading(name, np.full((1, 31), value)) for name, value in values.items()}


def test_the_bundled_print_is_what_its_tool_makes() -> None:
    same_numbers(make_card_print.card_print(), PRINT.read_text("utf-8"), last_digits=2)
    assert "invented data" in PRINT.read_text("utf-8").splitlines()[0]


def test_a_print_is_kept_and_found_again(tmp_path: Path) -> None:
    readings, warnings = check_card(read_readings(PRINT), "print")
    assert warnings == ()
    register_card(tmp_path, "office printer", readings, WHEN)
    card = registered_card(tmp_path)
    assert card is not None
    assert (card.number, card.name, card.registered) == (1, "office printer", WHEN)
    assert list(card.readings) == [patch.name for patch in card_layout().patches]
    for name, reading in card.readings.items():
        np.testing.assert_allclose(reading.repeats, readings[name].repeats, atol=1e-6)
        np.testing.assert_allclose(reading.lab_in("A", 2), readings[name].lab_in("A", 2), atol=1e-3)


def test_a_later_print_supersedes_and_the_earlier_is_kept(tmp_path: Path) -> None:
    register_card(tmp_path, "old", greys(), WHEN)
    register_card(tmp_path, "new", greys(grey=0.3), WHEN)
    assert [card.name for card in registered_cards(tmp_path)] == ["old", "new"]
    latest, old = registered_card(tmp_path), registered_card(tmp_path, "old")
    assert latest is not None
    assert old is not None
    assert (latest.name, old.number) == ("new", 1)
    with pytest.raises(InputError, match="no card named 'other' is registered; known: old, new"):
        registered_card(tmp_path, "other")


def test_a_home_without_a_card_has_none(tmp_path: Path) -> None:
    assert registered_card(tmp_path) is None
    assert registered_card(tmp_path / "not there", "x") is None


def test_lab_under_one_light_is_kept_as_such(tmp_path: Path) -> None:
    lab = {n: Reading(n, np.array([[v, 0.0, 1.0]]), "D50", 2) for n, v in (("white", 94), ("grey", 58), ("black", 20))}
    readings, warnings = check_card(lab, "print")
    assert "for that light alone" in warnings[0]
    register_card(tmp_path, "card", readings, WHEN)
    card = registered_card(tmp_path)
    assert card is not None
    np.testing.assert_allclose(card.readings["grey"].lab_in("D50", 2), [58, 0, 1])


@pytest.mark.parametrize(
    ("readings", "said"),
    [
        ({n: r for n, r in greys().items() if n != "grey"}, "there is no reading of grey"),
        (greys() | {"mauve": greys()["grey"]}, "'mauve' is not a field of the card; use white, light grey"),
        (greys(grey=0.9), "white, grey and black read L\\* 94, 96 and 24; see that no rows were exchanged"),
    ],
)
def test_a_print_that_can_not_be_one_is_refused(readings: dict[str, Reading], said: str) -> None:
    with pytest.raises(InputError, match=said):
        check_card(readings, "print.csv")


def test_lab_under_two_lights_is_refused() -> None:
    lab = {n: Reading(n, np.array([[v, 0.0, 1.0]]), "D50", 2) for n, v in (("white", 94), ("grey", 58))}
    with pytest.raises(InputError, match="several lights"):
        check_card(lab | {"black": Reading("black", np.array([[20.0, 0, 0]]))}, "print.csv")


def test_exchanged_colours_and_poor_paper_are_noticed() -> None:
    readings = read_readings(PRINT)
    readings["blue"], readings["green"] = readings["green"], readings["blue"]
    readings["white"] = greys(white=0.4)["white"]
    _, warnings = check_card(readings, "print")
    assert any("the paper reads L*" in said for said in warnings)
    exchanged = [said for said in warnings if "exchanged" in said]
    assert len(exchanged) == 1
    assert exchanged[0].startswith("blue reads more like what is printed as green, and green like blue")


@pytest.mark.parametrize("rubbish", ["", "{", "[]", '{"form": 1}', '{"form": 2}', "\x00", "[" * 5000])
def test_a_damaged_file_is_named(tmp_path: Path, rubbish: str) -> None:
    register_card(tmp_path, "card", greys(), WHEN)
    path = tmp_path / "cards/card-0001.json"
    path.write_text(rubbish, "utf-8")
    with pytest.raises(InputError, match=r"card-0001\.json: is damaged"):
        registered_card(tmp_path)


@pytest.mark.parametrize("field", ["repeats", "light", "observer", "geometry"])
@pytest.mark.parametrize("value", [None, "x", 7, [[1.0, float("nan"), 2.0]], {}])
def test_no_odd_value_of_a_kept_file_gets_through(tmp_path: Path, field: str, value: object) -> None:
    register_card(tmp_path, "card", greys(), WHEN)
    path = tmp_path / "cards/card-0001.json"
    document = json.loads(path.read_text("utf-8"))
    document["readings"]["grey"][field] = value
    path.write_text(json.dumps(document), "utf-8")
    with pytest.raises(InputError, match="is damaged"):
        registered_card(tmp_path)


@pytest.mark.parametrize("name", ["", "  ", "two\nlines", "x" * 61])
def test_a_name_that_is_none_is_refused_and_nothing_kept(tmp_path: Path, name: str) -> None:
    with pytest.raises(InputError, match="`name`"):
        register_card(tmp_path, name, greys(), WHEN)
    assert not (tmp_path / "cards").exists()


def _register(home: Path, name: str) -> None:
    register_card(home, name, greys(), WHEN)


@pytest.mark.slow
def test_two_bays_that_register_at_once_keep_both(tmp_path: Path) -> None:
    bays = [multiprocessing.get_context("spawn").Process(target=_register, args=(tmp_path, f"bay {i}")) for i in (1, 2)]
    for bay in bays:
        bay.start()
    for bay in bays:
        bay.join(60)
    assert sorted(card.name for card in registered_cards(tmp_path)) == ["bay 1", "bay 2"]
    assert {file.suffix for file in (tmp_path / "cards").iterdir()} == {".json"}


def test_the_form_filled_in_is_a_print(tmp_path: Path) -> None:
    filled = tmp_path / "form.csv"
    lines = [
        line if line.startswith(("#", "name")) else line.split(",")[0] + f",{0.9 - 0.04 * i:.2f}" * 31
        for i, line in enumerate(card_form().splitlines()[6:])
    ]
    filled.write_text("\n".join(lines), "utf-8")
    assert list(read_readings(filled)) == [patch.name for patch in card_layout().patches]


def test_the_command_writes_the_card_and_the_form(cli: Cli, tmp_path: Path) -> None:
    pdf, form = tmp_path / "card.pdf", tmp_path / "form.csv"
    ran = cli("photo", "card", "--out", pdf, "--form", form, "--json")
    assert (ran.status, ran.json["registered"]) == (0, None)
    assert pdf.read_bytes().startswith(b"%PDF-1.4")
    assert form.read_text("utf-8") == card_form()
    again = cli("photo", "card", "--out", tmp_path / "card.SVG", "--size", "letter")
    assert again.status == 0
    assert (tmp_path / "card.SVG").read_text("utf-8").startswith("<?xml")


def test_the_command_registers_and_tells(cli: Cli, home: Path) -> None:
    assert "no card is registered yet" in cli("photo", "card").out
    ran = cli("photo", "card", "--register", PRINT, "--name", "office printer")
    assert "registered as #1: office printer" in ran.out
    assert "the card registered as #1: office printer" in cli("photo", "card").out
    assert registered_card(home) is not None


def test_an_instruments_file_registers_a_print(cli: Cli, home: Path, tmp_path: Path) -> None:
    path = tmp_path / "print.cxf"
    levels = {"white": 0.85, "grey": 0.25, "black": 0.04}
    path.write_text(cxf([(name, cxf_spectrum([level] * 31)) for name, level in levels.items()]), "utf-8")
    assert cli("photo", "card", "--register", path).status == 0
    card = registered_card(home)
    assert card is not None
    assert {name: reading.geometry for name, reading in card.readings.items()} == dict.fromkeys(levels, "di8")


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (("--out", "card.txt"), "--out: 'card.txt' ends neither in .pdf nor in .svg"),
        (("--out", "missing/card.pdf"), "missing/card.pdf: can't be written"),
        (("--out", "folder.pdf"), "folder.pdf: is a folder"),
        (("--form", "taken.csv"), "taken.csv: is there already"),
        (("--out", "x.pdf", "--form", "./x.pdf"), "--form: is the same file as --out"),
        (("--out", "card.pdf", "--form", 300 * "9"), "can't be written: File name too long"),
        (("--size", "A3"), "'A3' is not one of"),
        (("--register", "missing.csv"), "missing.csv: there is no such file"),
        (("--register", "taken.csv", "--out", "card.pdf"), "taken.csv: is empty"),
        (("--register", str(PRINT), "--name", ""), "--name: '' is not a name for a card"),
    ],
)
def test_wrong_input_is_named_and_nothing_is_written(
    cli: Cli, home: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, arguments: tuple[str, ...], said: str
) -> None:
    monkeypatch.chdir(tmp_path)
    (tmp_path / "folder.pdf").mkdir()
    (tmp_path / "taken.csv").touch()
    assert said in cli("photo", "card", *arguments).error
    assert {path.name for path in tmp_path.iterdir()} == {"folder.pdf", "taken.csv"}
    assert not any(home.iterdir())
