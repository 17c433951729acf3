"""Wishes that can't be met together, and panels that contradict each other: one line, and nothing is written."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from tests.conftest import Ran
from tests.helpers.door_files import CORRECT, MIX, write

pytest_plugins = ["tests.helpers.door_fixtures"]
Refused = Callable[..., str]
OLD = "tint,grams\nwhite,400\nblue,30\n"  # a recipe to stay near; the numbers are invented

IMPOSSIBLE = {
    "a locked tint that the bank hasn't": (
        ["--must", "white", "--must", "ochre"],
        "--must: there is no tint 'ochre' to mix with",
    ),
    "more locked than allowed": (
        ["--must", "white", "--must", "black", "--must", "blue", "--max-tints", "2"],
        "--must: 3 tints are locked and 2 allowed; raise --max-tints",
    ),
    "locked and forbidden": (
        ["--must", "blue", "--without", "blue"],
        "--must: blue is also named with --without; take it out of one of them",
    ),
    "all of the old recipe forbidden": (
        ["--near", "old.csv", "--without", "white", "--without", "blue"],
        "--near: every tint of that recipe is named with --without; allow one of them",
    ),
    "two locked that the old recipe hasn't": (
        ["--near", "old.csv", "--must", "violet", "--must", "black"],
        "--must: violet and black aren't in the recipe of --near, and 1 new tint is allowed; lock one of them",
    ),
    "all forbidden": (
        [word for tint in ("white", "black", "blue", "violet", "soft black") for word in ("--without", tint)],
        "the bank: has no tint in stock",
    ),
    "too small a batch for what is locked": (
        ["--grams", "1", "--must", "white", "--must", "black", "--must", "blue", "--must", "violet"],
        "--grams: no recipe of 1 g has parts of at least 0.3 g; mix a larger batch",
    ),
    "a ground no file names": (
        ["--ground", "grey primer", "--build", "30"],
        "--ground: no file names the ground 'grey primer'; known: black, white",
    ),
    "no build": (["--ground", "black", "--build", "0"], "--build: 0 µm can't be sprayed; give the dry build in µm"),
    "a build below nothing": (["--ground", "black", "--build", "-3"], "--build: -3 µm can't be sprayed"),
    "a build that isn't a number": (["--ground", "black", "--build", "nan"], "--build: 'nan' is not a finite number"),
    "an unknown build": (["--ground", "black"], "--build: a film over a ground needs --ground and --build; give both"),
    "a build over nothing": (["--build", "30"], "--ground: a film over a ground needs --ground and --build"),
    "a build in words": (["--ground", "black", "--build", "unknown"], "'--build': 'unknown' is not a number"),
    "no coat": (["--coat", "0"], "--coat: 0 µm is not a coat"),
}


@pytest.mark.parametrize("case", IMPOSSIBLE)
def test_what_cant_be_met_together_is_told(refused: Refused, bench: Path, case: str) -> None:
    options, told = IMPOSSIBLE[case]
    write(bench / "old.csv", OLD)
    assert told in refused(*MIX, *options)


def _stock(bench: Path, **grams: float) -> None:
    tints = bench / "bank" / "tints.csv"
    rows = [row.split(",") for row in tints.read_text().splitlines()]
    kept = [[*row[:6], f"{grams[row[0]]:g}", *row[7:]] if row[0] in grams else row for row in rows]
    write(tints, "\n".join(",".join(row) for row in kept) + "\n")


def test_what_the_stock_cant_meet_is_told(refused: Refused, bench: Path) -> None:
    write(bench / "old.csv", OLD)
    _stock(bench, blue=0)
    assert "--must: there is too little blue in stock to weigh; take it out or fill it up" in refused(
        *MIX, "--must", "blue"
    )
    _stock(bench, white=0)
    assert "--near: none of its tints that are allowed is in stock" in refused(*MIX, "--near", "old.csv")


def test_a_batch_that_no_tints_in_stock_hold_together_is_to_be_smaller(refused: Refused, bench: Path) -> None:
    _stock(bench, white=400, blue=300, violet=300, black=300, **{"soft black": 300})
    error = refused(*MIX, "--grams", "1100", "--max-tints", "3")  # of three no more than 1000 g
    assert "--grams: the stock is too small for 1100 g: it takes " in error
    assert " g of white (400 g are there)" in error
    assert error.rstrip().endswith("mix less, or fill it up")


def test_a_tint_to_replace_in_an_old_recipe_is_left_out(cli: Callable[..., Ran], bench: Path) -> None:
    """Forbidding one tint of the recipe to stay near isn't a contradiction: that tint is what is to go."""
    write(bench / "old.csv", OLD + "violet,2\n")
    found = cli(*MIX, "--near", "old.csv", "--without", "violet", "--json").json
    assert all(part["tint"] != "violet" for recipe in found["recipes"] for part in recipe["parts"])
    assert "violet of the recipe to stay near: left out, named with --without" in found["warnings"]


def test_an_old_recipe_of_clear_alone_is_no_recipe(refused: Refused, bench: Path) -> None:
    tints = bench / "bank" / "tints.csv"
    write(tints, tints.read_text() + "thinning clear,clear,,0.95,0.4,9,1000\n")
    write(bench / "old.csv", "tint,grams\nthinning clear,100\n")
    assert "old.csv: holds no coloured tint" in refused(*MIX, "--near", "old.csv")


def _reading_rows(bench: Path) -> tuple[str, list[list[str]]]:
    lines = (bench / "bank" / "readings.csv").read_text().splitlines()
    return lines[0], [line.split(",") for line in lines[1:]]


def test_readings_of_one_panel_that_contradict_each_other_are_told(refused: Refused, bench: Path) -> None:
    head, rows = _reading_rows(bench)
    black = next(row for row in rows if row[0] == "black masstone")
    at = next(i for i, row in enumerate(rows) if row[0] == "blue masstone")
    rows[at] = [*rows[at][:3], *black[3:]]
    write(bench / "bank" / "readings.csv", "\n".join([head, *(",".join(row) for row in rows)]) + "\n")
    for line in (("bank", "fit", "bank"), MIX, CORRECT):
        told = refused(*line)
        assert "readings.csv, panel 'blue masstone': its readings contradict each other: the first and the " in told
        assert "apart; take out the one that is of another panel, or read it again" in told


def test_a_bank_whose_readings_stand_under_other_names_is_told(refused: Refused, bench: Path) -> None:
    head, rows = _reading_rows(bench)
    names = list(dict.fromkeys(row[0] for row in rows))
    turned = dict(zip(names, names[7:] + names[:7], strict=True))
    mixed = [",".join([turned[row[0]], *row[1:]]) for row in rows]
    write(bench / "bank" / "readings.csv", "\n".join([head, *mixed]) + "\n")
    for line in (("bank", "fit", "bank"), MIX):
        told = refused(*line)
        assert "bank Lowmere bench tints: the panels contradict each other: half of them are ΔE00 " in told
        assert "check that weights and readings are under the right names" in told


@pytest.mark.slow
def test_one_wrong_panel_is_named_and_the_right_ones_are_not(cli: Callable[..., Ran], bench: Path) -> None:
    """A second panel of the same weights, read off another colour."""
    panels = bench / "bank" / "panels.csv"
    same = [row for row in panels.read_text().splitlines() if row.startswith("blue 50/50,")]
    write(panels, panels.read_text() + "".join(f"copy,{row.split(',', 1)[1]}\n" for row in same))
    head, rows = _reading_rows(bench)
    wrong = [["copy", *row[1:]] for row in rows if row[0] == "violet masstone"]
    write(bench / "bank" / "readings.csv", "\n".join([head, *(",".join(row) for row in [*rows, *wrong])]) + "\n")
    named = [text for text in cli("bank", "fit", "bank", "--json").json["warnings"] if "does not fit" in text]
    assert len(named) == 1
    assert named[0].startswith("panel copy does not fit")
    assert "it reads like violet masstone" in named[0]
