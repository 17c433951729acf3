"""Wrong input is told in one line that names what, where and the mend; the status is 2 and nothing is written."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from tests.helpers.door_files import CORRECT, HOUSE_NM, MIX, put, smooth, spectra_csv, write

pytest_plugins = ["tests.helpers.door_fixtures"]

SPECTRUM = smooth(HOUSE_NM)
READING_DOORS = {
    "compare's standard": ("compare", "BAD", "50,0,0"),
    "compare's trial": ("compare", "target.csv", "BAD"),
    "mix's target": put(MIX, "target.csv", "BAD"),
    "correct's target": put(CORRECT, "target.csv", "BAD"),
    "correct's card": put(CORRECT, "card1.csv", "BAD"),
}
SPECTRUM_CELLS = ",".join(f"{v:.6f}" for v in SPECTRUM)


def spectrum_with(cell: str, at: int = 3) -> str:
    """A readings file whose second row has one odd cell, in column 430."""
    cells = SPECTRUM_CELLS.split(",")
    cells[at] = cell
    return f"{spectra_csv([('tin', SPECTRUM)])}\n# a remark\ntin,{','.join(cells)}\n"


def percent_with(cell: str) -> str:
    """A readings file in percent with one odd cell in line 2, column 430."""
    cells = [f"{100 * v:.3f}" for v in SPECTRUM]
    cells[3] = cell
    return "name," + ",".join(map(str, HOUSE_NM)) + "\ntin," + ",".join(cells) + "\n"


def wavelengths(*nm: float) -> str:
    return spectra_csv([("tin", smooth(nm))], nm)


# what the file holds: what is told of it, after its name
BAD_READINGS: dict[str, tuple[str | bytes, str]] = {
    "empty": ("", ": is empty; it needs a header"),
    "blank": ("\n , ,\n# only remarks\n", ": is empty; it needs a header"),
    "header only": ("name,L,a,b\n", ": has a header and no rows; add at least one row"),
    "binary": (b"\x89ELF\r\n\x1a\n\x00\x00\xff\xfe", ", line 1: is not UTF-8 text; save it as CSV in UTF-8"),
    "picture": (
        b"\x89PNG\r\n\x1a\n\x00\x00\xff\xfe",
        ": is a photograph, and no file of readings; read and save its colours",
    ),
    "with zeros": (b"name,L,a,b\nwing,50,0,0\x00\n", ": is not a text file; save it as CSV in UTF-8"),
    "Latin-1": ("name,L,a,b\nKotflügel,50,0,0\n".encode("latin-1"), ", line 2: is not UTF-8 text; save it"),
    "UTF-16": ("name,L,a,b\nwing,50,0,0\n".encode("utf-16"), ", line 1: is not UTF-8 text; save it"),
    "no name": ("tin,L,a,b\nx,50,0,0\n", ", line 1: there is no column 'name' (there are tin, L, a, b); add the"),
    "no colour": ("name\nx\n", ", line 1: there is no column 'L' (there are name); add the column L"),
    "no b": ("name,L,a\nx,50,0\n", ", line 1: there is no column 'b'"),
    "extra column": ("name,L,a,b,h\nx,50,0,0,3\n", ", line 1: the column 'h' is not known here; use name, L, a, b,"),
    "extra column beside a spectrum": (
        spectra_csv([("tin", SPECTRUM)]).replace("name,", "name,gloss,").replace("tin,", "tin,85,"),
        ", line 1: the column 'gloss' is not known here; remove it",
    ),
    "column twice": ("name,L,a,a\nx,50,0,0\n", ", line 1: the column 'a' stands twice; keep one"),
    "nameless column": ("name,L,a,b,\nx,50,0,0,\n", ", line 1: a column has no name; name it or remove the comma"),
    "bars": ("name|L|a|b\nx|50|0|0\n", ", line 1: there is no column 'name' (there are name|L|a|b); add the"),
    "semicolons, short row": ("name;L;a;b\nx;50;0\n", ", line 2: has 3 cells where the header has 4; fill the row up"),
    "short row": ("name,L,a,b\nx,50,0\n", ", line 2: has 3 cells where the header has 4; fill the row up"),
    "decimal commas": ("name,L,a,b\nx,50,1,0,0,0,2\n", ", line 2: has 7 cells where the header has 4; fill the row"),
    "open quote": ('name,L,a,b\n"x,50,0,0\n', ", line 2: has a quote that isn't closed, or text after it; mend"),
    "endless cell": ("name,L,a,b\n" + "x" * 200_000 + ",50,0,0\n", ", line 2: has a cell that is far too long; sh"),
    "text for a number": ("name,L,a,b\nx,50,red,0\n", ", line 2, column 'a': 'red' is not a number; write a number"),
    "empty cell": ("name,L,a,b\nx,50,,0\n", ", line 2, column 'a': is empty; fill it in"),
    "a comma that could be two things": (
        'name,L,a,b\nx,50,"1,500",0\n',
        ", line 2, column 'a': '1,500' is not a number; is it 1500 or 1.500? write it with a decimal point",
    ),
    "a minus after the number": (
        "name,L,a,b\nx,50,5−,0\n",
        ", line 2, column 'a': '5−' is not a number; write the min",
    ),
    "L* of 130": ("name,L,a,b\nx,130,0,0\n", ", line 2, column 'L': 130 is too large; it must be at most 120"),
    "L* below 0": ("name,L,a,b\nx,-1,0,0\n", ", line 2, column 'L': -1 is too small; it must be at least 0"),
    "a* of 300": ("name,L,a,b\nx,50,300,0\n", ", line 2, column 'a': 300 is too large; it must be at most 200"),
    "unknown light": (
        "name,L,a,b,light\nx,50,0,0,D66\n",
        ", line 2, column 'light': 'D66' is not a light known here; use one of D65, D50, A, F2, F11, LED-B3",
    ),
    "unknown observer": (
        "name,L,a,b,observer\nx,50,0,0,5\n",
        ", line 2, column 'observer': '5' is not a CIE observer; write 2 or 10",
    ),
    "repeats in two lights": (
        "name,L,a,b,light\nx,50,0,0,A\nx,50,0,0,F2\n",
        ", line 3: the repeats of 'x' differ in light or observer; give them two names",
    ),
    "nan": (spectrum_with("nan"), ", line 5, column '430': 'nan' is not a number; write a number"),
    "inf": (spectrum_with("inf"), ", line 5, column '430': 'inf' is not a number; write a number"),
    "1e999": (spectrum_with("1e999"), ", line 5, column '430': '1e999' is not a finite number; write a number"),
    "underscore": (spectrum_with("0_1"), ", line 5, column '430': '0_1' is not a number; write a number"),
    "percent sign": ("name,L,a,b\nx,50,45%,0\n", ", line 2, column 'a': '45%' is not a number; write it without %"),
    "a black in percent, or a light grey": (
        spectra_csv([("black", [0.6 + 0.002 * i for i in range(31)])]),
        ": all values lie from 0.6 to 0.66: a light grey in fractions, or a black in percent? Add a column unit that",
    ),
    "a unit not known": (
        spectra_csv([("tin", SPECTRUM)]).replace("name,", "name,unit,").replace("tin,", "tin,parts,"),
        ", line 2, column 'unit': 'parts' is not a unit of reflectance; write percent or fraction",
    ),
    "a spreadsheet of an old kind": (b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1 ", ": is a spreadsheet of an old kind; save"),
    "a damaged archive": (b"PK\x03\x04 and no more", ": is a damaged archive; copy it again"),
    "below 0": (spectrum_with("-0.01"), ", line 5, column '430': -0.01 is too small; it must be at least 0"),
    "above 1.2": (spectrum_with("1.3"), ", line 5, column '430': a reflectance of 1.3 is above 1.2; check the calib"),
    "percent among fractions": (spectrum_with("40"), ", line 5, column '430': 40 stands among fractions; write all"),
    "a fraction among percent": (percent_with("0.4"), ", line 2, column '430': 0.4 stands among percent values; wri"),
    "percent above 120": (percent_with("130"), ", line 2, column '430': a reflectance of 1.3 is above 1.2; check"),
    "410 to 700": (
        wavelengths(*HOUSE_NM[1:]),
        ", line 1: the wavelengths cover 410 to 700 nm; 400 to 700 nm is needed",
    ),
    "400 to 690": (wavelengths(*HOUSE_NM[:-1]), ", line 1: the wavelengths cover 400 to 690 nm; 400 to 700 nm is nee"),
    "a step left out": (
        wavelengths(*(nm for nm in HOUSE_NM if nm != 550)),
        ", line 1: the wavelengths go from 540 to 560 nm; rising, even steps of 5, 10 or 20 nm are read",
    ),
    "steps of 15": (wavelengths(*range(400, 701, 15)), ", line 1: the wavelengths go from 400 to 415 nm; rising, even"),
    "falling": (wavelengths(*reversed(HOUSE_NM)), ", line 1: the wavelengths go from 700 to 690 nm; rising, even"),
    "few": (wavelengths(400, 500, 600, 700), ", line 1: only 4 wavelength columns; give 400 to 700 nm in steps of 5"),
}


@pytest.mark.parametrize("case", BAD_READINGS)
def test_a_bad_readings_file_is_told_at_every_door(refused: Callable[..., str], bench: Path, case: str) -> None:
    content, told = BAD_READINGS[case]
    bad = write(bench / "bad.csv", content)
    for door, arguments in READING_DOORS.items():
        assert f"finishmatch: {bad.name}{told}" in refused(*put(arguments, "BAD", "bad.csv")), door


def test_a_reading_that_isnt_there_is_told_at_every_door(refused: Callable[..., str], bench: Path) -> None:
    with (bench / "huge.csv").open("wb") as file:
        file.truncate(200_000_000)  # sparse: it holds nothing
    (bench / "loop.csv").symlink_to("loop.csv")
    cases = {
        "missing.csv": "missing.csv: there is no such file; check the name and the folder",
        "target.csv/in.csv": "target.csv/in.csv: there is no such file",
        "bank": "bank: is a folder; name a file",
        "": "a colour is empty; give L,a,b, a readings file, or FILE@NAME",
        "huge.csv": "huge.csv: is larger than 20 MB; name a file",
        "loop.csv": "loop.csv: can't be read",
        "/dev/zero": "/dev/zero: is a device, not a file; name a file",
        "x" * 5000: "can't be read: File name too long",
        "a\0b": "'a\\u0000b': has a character that can't be seen (U+0000); retype it",
        "target.csv@Saltmarsh": "target.csv: has no reading named 'Saltmarsh'; it has Saltmarsh Blue",
        "52,1,-3,0,4,2": "is not three numbers L,a,b; write L,a,b with decimal points",
        "nan,0,0": "'nan,0,0': is not L,a,b",
        "130,0,0": "'130,0,0': L* is 130; L* goes from 0 to 120",
    }
    for text, told in cases.items():
        for door, arguments in READING_DOORS.items():
            assert told in refused(*put(arguments, "BAD", text)), (door, text)


def test_a_typed_target_is_never_taken_for_a_file(refused: Callable[..., str]) -> None:
    for arguments in (("compare", "--lab", "50,0,0"), ("mix", *MIX[2:]), ("correct", *CORRECT[2:])):
        assert "'target.csv': is not L,a,b" in refused(*arguments, "--lab", "target.csv")


# the row put in place of one of the batch: what is told
BAD_BATCHES = {
    "negative": ("blue,-2", ", line 4, column 'grams': -2 is too small; it must be at least 0"),
    "a ton": ("blue,1e7", ", line 4, column 'grams': 1e+07 is too large; it must be at most 1e+06"),
    "text": ("blue,some", ", line 4, column 'grams': 'some' is not a number; write a number"),
    "nan": ("blue,nan", ", line 4, column 'grams': 'nan' is not a number"),
    "inf": ("blue,1e999", ", line 4, column 'grams': '1e999' is not a finite number"),
    "no weight": ("blue,", ", line 4, column 'grams': is empty; fill it in"),
    "no tint": (",5", ", line 4, column 'tint': is empty; fill it in"),
    "an unknown tint": ("bleu,28", ", line 4, column 'tint': the bank has no tint 'bleu'; did you mean blue"),
    "a stranger": ("teapot,28", ", line 4, column 'tint': the bank has no tint 'teapot'; the bank has black, blue"),
    "a comma too many": ("blue,28,3", ", line 4: has 3 cells where the header has 2"),
}


@pytest.mark.parametrize("case", BAD_BATCHES)
def test_a_bad_batch_is_told(refused: Callable[..., str], bench: Path, case: str) -> None:
    row, told = BAD_BATCHES[case]
    write(bench / "batch1.csv", f"# tin 3\ntint,grams\nwhite,440\n{row}\n")
    assert f"batch1.csv{told}" in refused(*CORRECT)


def test_a_batch_file_that_cant_serve_is_told(refused: Callable[..., str], bench: Path) -> None:
    for text, told in {
        "": ": is empty",
        "tint,grams\n": ": has a header and no rows",
        "tint,grams\nwhite,0\nblue,0\n": ": nothing was poured: the weights come to 0; write what was weighed out",
        "tint,grams\nwhite,1e-320\n": ": nothing was poured",
        "tint,weight\nwhite,1\n": ", line 1: there is no column 'grams' (there are tint, weight); add",
        "tint,grams,note\nwhite,1,x\n": ", line 1: the column 'note' is not known here; use tint, grams",
    }.items():
        write(bench / "batch1.csv", text)
        assert f"batch1.csv{told}" in refused(*CORRECT)
    assert "bank: is a folder" in refused(*put(CORRECT, "batch1.csv", "bank"))
    assert "none.csv: there is no such file" in refused(*put(CORRECT, "batch1.csv", "none.csv"))


BAD_OPTIONS = [
    (MIX, "--grams", ("0", "-500", "nan", "inf", "1e9"), "--grams: "),
    (MIX, "--grams", ("half", ""), "--grams"),
    (MIX, "--grams", ("50000",), "--grams: 50000 g is more than the whole stock of"),
    (MIX, "--max-tints", ("0", "9", "-1"), "--max-tints: "),
    (MIX, "--max-tints", ("2.5", "many"), "--max-tints"),
    (MIX, "--recipes", ("0", "-3"), "--recipes: "),
    (MIX, "--scale-step", ("0", "-0.1", "nan", "inf", "600"), "--scale-step: "),
    (CORRECT, "--scale-step", ("0", "-0.1", "nan", "inf"), "--scale-step: "),
    (MIX, "--smallest", ("0", "-1", "nan", "600", "0.05"), "--smallest: "),
    (CORRECT, "--smallest", ("0", "-1", "nan", "0.05"), "--smallest: "),
    (CORRECT, "--max-growth", ("0", "-0.1", "nan", "inf", "20"), "--max-growth: "),
    *[
        (command, option, values, told)
        for command in (("compare", "target.csv", "card1.csv"), MIX, CORRECT)
        for option, values, told in [
            ("--tolerance", ("0", "-1", "nan", "inf"), "--tolerance: "),
            ("--tolerance", ("tight",), "'--tolerance': 'tight' is not a number"),
            ("--light", ("D64", "", "D65,", "sun"), "not a light known here; use one of D65, D50, A, F2, F11, LED-B3"),
            ("--observer", ("3", "", "ten"), "'--observer'"),
            ("--job", ("J1", "", "Roof"), "there is no ledger yet; open the first job"),
            ("--bogus", ("1",), "No such option '--bogus'"),
        ]
    ],
]


@pytest.mark.parametrize(("command", "option", "values", "told"), BAD_OPTIONS)
def test_an_option_that_cant_be_is_told(
    refused: Callable[..., str], command: tuple[str, ...], option: str, values: tuple[str, ...], told: str
) -> None:
    for value in values:
        assert told in refused(*command, option, value), value


def test_too_few_and_too_many_arguments_are_told(refused: Callable[..., str]) -> None:
    assert "compare: 0 colours were given; give two: STANDARD and TRIAL" in refused("compare")
    assert "compare: 1 colours were given" in refused("compare", "50,0,0")
    assert "compare: 3 colours were given" in refused("compare", "50,0,0", "50,0,0", "--lab", "50,0,0")
    assert "unexpected extra argument (50,0,2)" in refused("compare", "50,0,0", "50,0,1", "50,0,2")
    assert "mix: one target is needed; give TARGET or --lab" in refused("mix", *MIX[2:])
    assert "mix: one target is needed" in refused(*MIX, "--lab", "50,0,0")
    assert "correct: one target is needed" in refused("correct", *CORRECT[2:])
    assert "Missing option '--bank'" in refused("mix", "target.csv", "--grams", "5")
    assert "Missing option '--grams'" in refused("mix", "target.csv", "--bank", "bank")
    assert "Missing option '--batch'" in refused("correct", "target.csv", "--bank", "bank")
    assert "No such command 'mend'" in refused("mend")
    assert "No such command 'mend'" in refused("bank", "mend")
    assert "No such option '--bogus'" in refused("--bogus")
    assert "Missing argument 'BANK'" in refused("bank", "fit")
