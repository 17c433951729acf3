"""What harms in a tin is told with every recipe that holds it: by tints.csv, or as its pigment usually does."""

from __future__ import annotations

import re
from collections.abc import Callable
from pathlib import Path

import pytest

from finishmatch.cautions import (
    CADMIUM,
    CANCER,
    HEXAVALENT,
    ISOCYANATES,
    LEAD,
    MANGANESE,
    MIXING,
    NICKEL,
    TOXIC,
    TRIVALENT,
    metals_named,
    mixing_cautions,
)
from finishmatch.readings import read_bank
from finishmatch.readings.hazards import pigment_hazards
from tests.conftest import Ran
from tests.helpers.door_files import CORRECT, MIX, put, tell

pytest_plugins = ["tests.helpers.door_fixtures"]
Cli = Callable[..., Ran]
METAL_PIGMENTS = Path(__file__).parents[1] / "reference" / "metal_pigments.csv"
METALS = {
    "Pb": "lead", "Cd": "cadmium", "Cr": "chromium", "Mn": "manganese", "Ni": "nickel", "Co": "cobalt",
    "Hg": "mercury", "As": "arsenic", "Sb": "antimony",
}  # fmt: skip


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
        ("PY-34", ("lead", "chromate")),
        ("P.Y.-34", ("lead", "chromate")),
        ("CI Pigment-Yellow 34", ("lead", "chromate")),
        ("pigment_yellow_34", ("lead", "chromate")),
        ("77603", ("lead", "chromate")),
        ("C.I. 77603", ("lead", "chromate")),
        ("CI77605", ("lead", "chromate")),
        ("77199:1", ("cadmium",)),
        ("PR48:4", ("manganese",)),
        ("15865:4", ("manganese",)),
        ("PM4", ("lead",)),
    ],
)
def test_a_pigment_of_a_toxic_metal_is_known_however_its_name_is_written(name: str, words: tuple[str, ...]) -> None:
    assert tuple(pigment_hazards(name).values()) == (words,)


@pytest.mark.parametrize(
    "name",
    [
        "",
        "PW6",
        "PBr6",
        "PBk11",
        "PB15:3",
        "PY340",
        "PY3",
        "PW10",
        "XPY34X",
        "35",
        "lead",
        "PR48:2",
        "15865:2",
        "77891",
    ],
)
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
    assert mixing_cautions(["lead chromate"]) == (TOXIC, CANCER, *MIXING)
    assert mixing_cautions(["lead"]) == (TOXIC, *MIXING)
    assert mixing_cautions(["isocyanates", "cadmium"]) == (TOXIC, CANCER, ISOCYANATES, *MIXING)
    assert mixing_cautions(["chromium oxide"]) == (TOXIC, *MIXING)
    assert "cancer" in CANCER


# the metals that 40 CFR 63 subpart HHHHHH names are Cr, Pb, Mn, Ni and Cd; the ways to write them are «common practice»
@pytest.mark.parametrize(
    ("written", "metal"),
    [
        ("hexavalent chromium", HEXAVALENT),
        ("chromium", HEXAVALENT),
        ("chrome", HEXAVALENT),
        ("Cr(VI)", HEXAVALENT),
        ("Cr6+", HEXAVALENT),
        ("Cr", HEXAVALENT),
        ("zinc chromate", HEXAVALENT),
        ("trivalent chromium", TRIVALENT),
        ("Cr(III)", TRIVALENT),
        ("chromium III", TRIVALENT),
        ("chromium oxide", TRIVALENT),
        ("nickel", NICKEL),
        ("Ni", NICKEL),
        ("cobalt", "cobalt"),
        ("cobalt drier", "cobalt"),
        ("Co", "cobalt"),
        ("manganese", MANGANESE),
        ("Mn", MANGANESE),
        ("Pb", LEAD),
        ("Pb compounds", LEAD),
        ("white lead", LEAD),
        ("lead-tin", LEAD),
        ("cadmium sulfide", CADMIUM),
        ("Cd", CADMIUM),
        ("Hg", "mercury"),
        ("arsenic", "arsenic"),
        ("As", "arsenic"),
        ("Sb", "antimony"),
    ],
)
def test_a_metal_is_known_by_any_of_its_names(bench: Path, written: str, metal: str) -> None:
    assert metals_named([written]) == (metal,)
    tell(bench, "white", written, "PW6")  # and as the bank's column hands it on
    assert metals_named(read_bank(bench / "bank").tint("white").hazards) == (metal,)
    assert TOXIC in mixing_cautions([written])


@pytest.mark.parametrize(
    "written", ["lead-free", "lead free", "chrome-free", "free of lead", "no cadmium", "unleaded", "as the sheet says",
                "co-solvent", "flammable", "high chroma", "nitrocellulose"]
)  # fmt: skip
def test_what_is_said_to_be_absent_or_is_no_metal_brings_no_caution(written: str) -> None:
    assert metals_named([written]) == ()


def test_every_metal_bearing_name_of_the_colour_index_is_known_by_all_its_spellings() -> None:
    """Metals by composition: tests/reference/metal_pigments.csv, with its source."""
    rows = [line for line in METAL_PIGMENTS.read_text("utf-8").splitlines() if line and not line.startswith("#")][1:]
    assert len(rows) > 70
    colours = {"Y": "Yellow", "O": "Orange", "R": "Red", "V": "Violet", "B": "Blue", "G": "Green", "W": "White",
               "BR": "Brown", "BK": "Black", "M": "Metal"}  # fmt: skip
    for row in rows:
        name, formula = row.split(",")
        letters, number = re.fullmatch(r"P([A-Za-z]+)([\d:]+)", name).groups()  # type: ignore[union-attr]
        metals = {METALS[symbol] for symbol in re.findall(r"[A-Z][a-z]?", formula) if symbol in METALS}
        spelt = f"C.I. Pigment {colours[letters.upper()]} {number}"
        for written in (name, f"P{letters}-{number}", f"p{letters.lower()} {number}", f"P.{letters}.{number}", spelt):
            (words,) = pigment_hazards(written).values()
            held = {metal.replace("hexavalent ", "").replace("trivalent ", "") for metal in metals_named(words)}
            assert held == metals, written
            assert (HEXAVALENT in metals_named(words)) == ("CrO4" in formula), written
            assert TOXIC in mixing_cautions(words)
            assert (CANCER in mixing_cautions(words)) == ("CrO4" in formula or "Cd" in formula), written


@pytest.mark.slow
def test_a_correction_flags_what_it_adds_and_cautions_for_what_is_in_the_tin(cli: Cli, bench: Path) -> None:
    tell(bench, "black", None, "PR104")
    added = cli(*CORRECT, "--tolerance", 0.4, "--json").json
    assert "black" in [part["tint"] for part in added["additions"]]
    assert added["hazards"] == [{"tint": "black", "hazards": ["lead", "chromate"], "by": "PR104"}]
    assert added["cautions"] == [TOXIC, CANCER, *MIXING]
    text = cli(*CORRECT, "--tolerance", 0.4).out
    assert text.count("! black holds lead, chromate (as PR104 usually does; the tin's data sheet wins)") == 1
    assert f"! {TOXIC}" in text
    # nothing is to be added: nothing is flagged
    inside = cli(*CORRECT, "--tolerance", 5, "--json").json
    assert (inside["additions"], inside["hazards"], inside["cautions"]) == ([], [], list(MIXING))
    # but the tin that is stirred holds what it holds
    tell(bench, "violet", None, "PY34")
    assert cli(*CORRECT, "--tolerance", 5, "--json").json["cautions"] == [TOXIC, CANCER, *MIXING]


def test_a_fresh_batch_and_what_more_growth_buys_are_flagged_too(cli: Cli, bench: Path) -> None:
    tell(bench, "white", "Isocyanate")
    line = put(CORRECT, "target.csv", "70,-5,-15")
    found = cli(*line, "--json").json
    assert found["trade"] != []
    assert found["fresh_batch"] is not None
    assert found["hazards"] == [{"tint": "white", "hazards": ["isocyanate"], "by": "tints.csv"}]
    assert found["cautions"] == [ISOCYANATES, *MIXING]
    assert "! white holds isocyanate (by tints.csv)" in cli(*line).out


def test_a_recipe_tells_what_the_law_says_of_its_metals(cli: Cli, bench: Path) -> None:
    """17 CCR 93112; 40 CFR 63 subpart HHHHHH; REACH annex XIV."""
    tell(bench, "white", None, "PY34")
    warnings = [line for line in cli(*MIX, "--json").json["warnings"] if line.startswith("by law: ")]
    assert [line.rpartition("(")[2] for line in warnings] == [
        "17 CCR 93112)",
        "REACH, annex XIV)",
        "40 CFR 63 subpart HHHHHH)",
    ]
    assert all(line.startswith("by law: white holds ") for line in warnings)
    assert "17 CCR 93112" in cli(*MIX).out
    tell(bench, "white", None, "PW6")
    assert "by law" not in cli(*MIX).out
