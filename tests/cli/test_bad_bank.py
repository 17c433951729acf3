"""A bank folder that can't serve is told by every command that needs it, in one line, and nothing is written."""

from __future__ import annotations

import re
from collections.abc import Callable
from pathlib import Path

import pytest

from tests.helpers.door_files import CORRECT, MIX, put, write

pytest_plugins = ["tests.helpers.door_fixtures"]

BANK_COMMANDS = (("bank", "fit", "bank"), ("bank", "show", "bank"), MIX, CORRECT)


def _replace(file: str, old: str, new: str) -> Callable[[Path], None]:
    def change(bank: Path) -> None:
        text = (bank / file).read_text("utf-8")
        assert re.search(old, text, re.MULTILINE), (file, old)
        write(bank / file, re.sub(old, new, text, count=1, flags=re.MULTILINE))

    return change


BAD_BANKS: dict[str, tuple[Callable[[Path], None], str]] = {
    "no bank.toml": (
        lambda bank: (bank / "bank.toml").unlink(),
        "bank.toml: there is no such file; name the folder",
    ),
    "no tints": (lambda bank: (bank / "tints.csv").unlink(), "tints.csv: there is no such file"),
    "no panels": (lambda bank: (bank / "panels.csv").unlink(), "panels.csv: there is no such file"),
    "no readings": (lambda bank: (bank / "readings.csv").unlink(), "readings.csv: there is no such file"),
    "no grounds": (
        lambda bank: (bank / "grounds.csv").unlink(),
        "no file names the ground 'black'; known: there is no",
    ),
    "broken TOML": (_replace("bank.toml", "=", ""), "bank.toml: is not valid TOML"),
    "deep TOML": (lambda bank: write(bank / "bank.toml", "a = " + "[" * 9000) and None, "bank.toml: is not valid TOML"),
    "long TOML": (_replace("bank.toml", r"1\.5", "9" * 5000), "bank.toml: is not valid TOML"),
    "no name": (_replace("bank.toml", "^name.*$", ""), "bank.toml: there is no 'name'; add name ="),
    "a number for a name": (_replace("bank.toml", "^name.*$", "name = 3"), "bank.toml: name is not a text; write name"),
    "geometry": (_replace("bank.toml", "di8", "d9"), "geometry 'd9' is not known; use one of di8, de8, 45/0"),
    "index": (_replace("bank.toml", r"1\.5", "15"), "binder_index 15 is not the index of a binder; 1.3 to 1.8"),
    "index nan": (_replace("bank.toml", r"1\.5", "nan"), "binder_index nan is not the index of a binder"),
    "index text": (_replace("bank.toml", r"1\.5", "'1.5'"), "binder_index 1.5 is not the index of a binder"),
    "two whites": (
        _replace("tints.csv", "^blue,tint", "blue,white"),
        "tints.csv, line 5, column 'role': there are two whites, 'white' and 'blue'; keep one and call the ot",
    ),
    "two blacks": (_replace("tints.csv", "^blue,tint", "blue,black"), "there are two blacks, 'black' and 'blue'"),
    "role": (_replace("tints.csv", "^blue,tint", "blue,pink"), "column 'role': 'pink' is not a role; use one of white"),
    "tint twice": (
        _replace("tints.csv", "^violet,", "blue,"),
        "column 'tint': the tint 'blue' stands twice; give each",
    ),
    "tint in other capitals": (
        _replace("tints.csv", "^violet,", "Blue,"),
        "column 'tint': 'blue' and 'Blue' differ in capitals or blanks alone; give each tin a name of its own",
    ),
    "tint with other blanks": (
        _replace("tints.csv", "^violet,", "Soft  black,"),
        "differ in capitals or blanks alone; give each tin a name of its own, in panels.csv too",
    ),
    "density": (_replace("tints.csv", r"PW6,1\.52", "PW6,0"), "column 'density_kg_l': 0 is too small; it must be at l"),
    "density in g/L": (_replace("tints.csv", r"PW6,1\.52", "PW6,1520"), "1520 kg/L is no paint; in g/L? then write 1"),
    "solids": (_replace("tints.csv", r"PW6,1\.52,0\.42", "PW6,1.52,42"), "column 'volume_solids': 42 is too large"),
    "no solids": (_replace("tints.csv", r"PW6,1\.52,0\.42", "PW6,1.52,0"), "column 'volume_solids': 0 is too small"),
    "stock": (_replace("tints.csv", "4000", "-1"), "tints.csv, line 2, column 'stock_g': -1 is too small"),
    "price": (_replace("tints.csv", ",22,", ",cheap,"), "column 'price_per_kg': 'cheap' is not a number"),
    "tints' column": (_replace("tints.csv", "stock_g", "stock"), "tints.csv, line 1: there is no column 'stock_g'"),
    "unknown tint": (
        _replace("panels.csv", ",blue,", ",bleu,"),
        "column 'tint': there is no tint 'bleu' in the bank; did you mean 'blue'?",
    ),
    "negative weight": (_replace("panels.csv", "white,100", "white,-100"), "column 'grams': -100 is too small"),
    "nothing weighed": (
        _replace("panels.csv", "^white masstone,white,100", "white masstone,white,0"),
        "panel 'white masstone': nothing was weighed into it",
    ),
    "tint twice in a panel": (
        _replace("panels.csv", r"\Z", "grey,white,90\ngrey,white,9\n"),
        "'white' stands twice in panel 'grey'; add the two weights up",
    ),
    "reading without a panel": (
        _replace("readings.csv", "^white masstone,", "wight masstone,"),
        "column 'panel': there is no panel 'wight masstone' in panels.csv; add its weights",
    ),
    "ground without a build": (
        _replace("readings.csv", "^white masstone,,", "white masstone,black,"),
        "readings.csv, line 2, column 'build_um': has a reading with no build_um; give both",
    ),
    "build without a ground": (
        _replace("readings.csv", "^white masstone,,", "white masstone,,20"),
        "readings.csv, line 2, column 'ground': has a reading with no ground; give both",
    ),
    "unknown ground": (
        _replace("readings.csv", "^white masstone,,", "white masstone,grey,20"),
        "readings.csv, line 2, column 'ground': no file names the ground 'grey'; known: black, white",
    ),
    "percent among fractions": (_replace("readings.csv", r",0\.", ",30."), "stands among fractions; write all values"),
    "readings' column": (_replace("readings.csv", "ground,", "back,"), "there is no column 'ground'"),
    "panels by Lab": (
        _replace("readings.csv", "build_um,400", "build_um,L"),
        "readings.csv, line 1: gives panels by L, a, b among their spectra; panels of which only a colour",
    ),
    "ground above 1.2": (_replace("grounds.csv", r",0\.0", ",1.4"), "a reflectance of 1.4444 is above 1.2"),
}


@pytest.mark.parametrize("case", BAD_BANKS)
def test_a_bad_bank_is_told_by_every_command(refused: Callable[..., str], bench: Path, case: str) -> None:
    change, told = BAD_BANKS[case]
    change(bench / "bank")
    for arguments in BANK_COMMANDS:
        assert told in refused(*arguments)


def test_a_bank_that_isnt_there_is_told_by_every_command(refused: Callable[..., str]) -> None:
    for arguments in BANK_COMMANDS:
        for name in ("shelf", "target.csv", "x" * 5000, "bank/tints.csv"):
            line = (*arguments[:-1], name) if arguments[0] == "bank" else put(arguments, "bank", name)
            assert f"{name}: there is no such bank folder; name the folder" in refused(*line)


def test_a_correction_is_refused_where_the_batch_tells_nothing(refused: Callable[..., str], bench: Path) -> None:
    _replace("tints.csv", "^violet,tint", "violet,clear")(bench / "bank")
    write(bench / "batch1.csv", "tint,grams\nviolet,20\n")
    assert "the batch: holds no coloured tint; check the batch file" in refused(*CORRECT)
