"""What harms in a tin is told with every recipe that holds it: by tints.csv, or as its pigment usually does."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from finishmatch.cautions import ISOCYANATES, MIXING, TOXIC, mixing_cautions
from finishmatch.readings import read_bank
from finishmatch.readings.hazards import pigment_hazards
from tests.conftest import Ran
from tests.helpers.door_files import CORRECT, MIX, put, write

pytest_plugins = ["tests.helpers.door_fixtures"]
Cli = Callable[..., Ran]


def tell(bench: Path, tint: str, hazard: str | None, colour_index: str | None = None) -> None:
    """Write a hazard, or leave the column out, and another pigment's name, into the bank's row of a tint."""
    path = bench / "bank" / "tints.csv"
    lines = [line.split(",") for line in path.read_text("utf-8").splitlines()]
    for cells in lines:
        if cells[0] == tint and colour_index is not None:
            cells[2] = colour_index
        if hazard is not None:
            cells.append("hazard" if cells[0] == "tint" else hazard if cells[0] == tint else "")
    write(path, "\n".join(",".join(cells) for cells in lines) + "\n")


# Colour Index generic names of lead, chromate and cadmium pigments: «common practice», from memory
@pytest.mark.parametrize(
    ("name", "words"),
    [
        ("PW1", ("lead",)),
        ("PY34", ("lead", "chromate")),
        ("PR104", ("lead", "chromate")),
        ("PY36", ("chromate",)),
        ("PY35", ("cadmium",)),
        ("PR108:1", ("cadmium",)),
        ("pr108", ("cadmium",)),
        ("C.I. Pigment Yellow 34", ("lead", "chromate")),
        ("P.Y. 34", ("lead", "chromate")),
        ("PY34:1 77603", ("lead", "chromate")),
    ],
)
def test_a_pigment_of_a_toxic_metal_is_known_however_its_name_is_written(name: str, words: tuple[str, ...]) -> None:
    assert tuple(pigment_hazards(name).values()) == (words,)


@pytest.mark.parametrize("name", ["", "PW6", "PBr7", "PBk11", "PB15:3", "PY340", "PY3", "PW10", "XPY34X", "35", "lead"])
def test_no_other_pigment_is_flagged(name: str) -> None:
    assert pigment_hazards(name) == {}


def test_pigments_in_one_tin_are_all_known() -> None:
    assert pigment_hazards("PY34/PR108") == {"PY34": ("lead", "chromate"), "PR108": ("cadmium",)}


def test_an_old_bank_without_the_column_is_flagged_by_its_pigments(cli: Cli, bench: Path) -> None:
    tell(bench, "white", None, "PW1")
    found = cli(*MIX, "--json").json
    for recipe in found["recipes"]:
        assert recipe["hazards"] == [{"tint": "white", "hazards": ["lead"], "by": "PW1"}]
    assert found["cautions"] == [TOXIC, *MIXING]
    text = cli(*MIX).out
    assert "! white holds lead (as PW1 usually does; the tin's data sheet wins)" in text
    assert f"! {TOXIC}" in text
    shown = cli("bank", "show", "bank", "--json").json["tints"]
    assert (shown["white"]["hazards"], shown["blue"]["hazards"]) == (["lead"], [])
    assert "! white holds lead (as PW1" in cli("bank", "show", "bank").out


def test_what_the_column_says_is_shown_and_brings_its_caution(cli: Cli, bench: Path) -> None:
    tell(bench, "white", "Isocyanate ;  Skin Sensitiser")
    found = cli(*MIX, "--json").json
    expected = [{"tint": "white", "hazards": ["isocyanate", "skin sensitiser"], "by": "tints.csv"}]
    assert found["recipes"][0]["hazards"] == expected
    assert found["cautions"] == [ISOCYANATES, *MIXING]
    assert "! white holds isocyanate, skin sensitiser (by tints.csv)" in cli(*MIX).out


@pytest.mark.parametrize(("hazard", "left"), [("none", ()), ("NONE", ()), ("", ("lead",)), ("dust", ("dust",))])
def test_the_data_sheet_wins_over_the_pigments_name(bench: Path, hazard: str, left: tuple[str, ...]) -> None:
    tell(bench, "white", hazard, "PW1")
    assert read_bank(bench / "bank").tint("white").hazards == left


def test_a_recipe_without_such_a_tint_says_nothing(cli: Cli, bench: Path) -> None:
    tell(bench, "violet", None, "PR106")
    found = cli(*MIX, "--without", "violet", "--json").json
    assert all(recipe["hazards"] == [] for recipe in found["recipes"])
    assert found["cautions"] == list(MIXING)
    assert " holds " not in cli(*MIX, "--without", "violet").out


@pytest.mark.parametrize(
    ("hazard", "told"),
    [
        ("none; lead", "line 2, column 'hazard': says 'none' and more; leave 'none' out"),
        ("x" * 60, "column 'hazard': 'xxxxxxxxxxxxxxxxxxxx'… is not a short word; write such as lead; chromate"),
    ],
)
def test_a_hazard_that_says_nothing_is_told(refused: Callable[..., str], bench: Path, hazard: str, told: str) -> None:
    tell(bench, "white", hazard)
    assert told in refused(*MIX)


def test_cautions_bear_on_what_is_named() -> None:
    assert mixing_cautions([]) == MIXING
    assert mixing_cautions(["flammable"]) == MIXING
    assert mixing_cautions(["lead chromate"]) == (TOXIC, *MIXING)
    assert mixing_cautions(["isocyanates", "cadmium"]) == (TOXIC, ISOCYANATES, *MIXING)


@pytest.mark.slow
def test_a_correction_flags_what_it_adds_and_cautions_for_what_is_in_the_tin(cli: Cli, bench: Path) -> None:
    tell(bench, "black", None, "PR104")
    added = cli(*CORRECT, "--tolerance", 0.2, "--json").json
    assert "black" in [part["tint"] for part in added["additions"]]
    assert added["hazards"] == [{"tint": "black", "hazards": ["lead", "chromate"], "by": "PR104"}]
    assert added["cautions"] == [TOXIC, *MIXING]
    text = cli(*CORRECT, "--tolerance", 0.2).out
    assert text.count("! black holds lead, chromate (as PR104 usually does; the tin's data sheet wins)") == 1
    assert f"! {TOXIC}" in text
    # nothing is to be added: nothing is flagged
    inside = cli(*CORRECT, "--tolerance", 5, "--json").json
    assert (inside["additions"], inside["hazards"], inside["cautions"]) == ([], [], list(MIXING))
    # but the tin that is stirred holds what it holds
    tell(bench, "violet", None, "PY34")
    assert cli(*CORRECT, "--tolerance", 5, "--json").json["cautions"] == [TOXIC, *MIXING]


def test_a_fresh_batch_and_what_more_growth_buys_are_flagged_too(cli: Cli, bench: Path) -> None:
    tell(bench, "white", "Isocyanate")
    line = put(CORRECT, "target.csv", "70,-5,-15")
    found = cli(*line, "--json").json
    assert found["trade"] != []
    assert found["fresh_batch"] is not None
    assert found["hazards"] == [{"tint": "white", "hazards": ["isocyanate"], "by": "tints.csv"}]
    assert found["cautions"] == [ISOCYANATES, *MIXING]
    assert "! white holds isocyanate (by tints.csv)" in cli(*line).out
