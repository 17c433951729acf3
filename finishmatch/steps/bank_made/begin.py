"""A bank is begun: its folder beside the ledger, with how its panels are read."""

from __future__ import annotations

import json
import re
import unicodedata
from collections.abc import Sequence
from pathlib import Path

from finishmatch.colour.grid import GEOMETRIES
from finishmatch.errors import InputError
from finishmatch.files import write_file
from finishmatch.ledger.home import ledger_home
from finishmatch.signs import check_name
from finishmatch.steps.bank_made.as_it_stands import BankInHand, bank_as_it_stands, banks_in_hand
from finishmatch.steps.known_banks import FOLDER

BY_PHONE = "45/0"  # a photograph free of reflections sees a paint as this geometry does
BINDER_INDEX = 1.5  # of most («common practice»)
LONGEST = 60
MOST_OF_A_NAME = 1000
_PLAIN = re.compile(r"[^a-z0-9]+")


def begin_bank(name: str, geometry: str = BY_PHONE, named: Sequence[Path] = ()) -> BankInHand:
    """Begin a bank beside the ledger, to be filled with tins and panels.

    Parameters
    ----------
    name : str
    geometry : str
        How what reads its panels does, as `bank.toml` names it.
    named : sequence of Path
        Folders of further banks there are.

    Raises
    ------
    InputError
        No name, one that another bank has, a geometry that isn't known, a folder that can't be written.
    """
    called = check_called("bank_name", name)
    if geometry not in GEOMETRIES:
        raise InputError("`geometry`", f"{geometry[:20]!r} is not known", "use one of " + ", ".join(GEOMETRIES))
    taken = next((one for one in banks_in_hand(named) if one.name.casefold() == called.casefold()), None)
    if taken is not None:
        raise InputError(
            "`bank_name`", f"{taken.name!r} is a bank already", "go on with it, or call this one otherwise"
        )
    text = f"name = {json.dumps(called, ensure_ascii=False)}\ngeometry = {json.dumps(geometry)}\n"
    text += f"binder_index = {BINDER_INDEX}\n"
    letters = "".join(one for one in unicodedata.normalize("NFKD", called) if not unicodedata.combining(one))
    folder = _new_folder(_PLAIN.sub("-", letters.casefold()).strip("-")[:40] or "bank")
    write_file(folder / "bank.toml", text)
    return bank_as_it_stands(folder)


def _new_folder(plain: str) -> Path:
    """Make a folder of a name beside the ledger; one that is taken gets a number behind it."""
    banks = ledger_home() / FOLDER
    try:
        banks.mkdir(parents=True, exist_ok=True)
        for number in range(1, MOST_OF_A_NAME):
            folder = banks / (plain if number == 1 else f"{plain}-{number}")
            if not folder.exists():
                folder.mkdir()
                return folder
    except OSError as error:
        what = f"no folder can be made in it: {error.strerror or error}"
        raise InputError(str(banks), what, "have its owner give you the right to write in it") from None
    raise InputError(str(banks), f"holds {MOST_OF_A_NAME} banks called {plain}", "call it otherwise")


def check_in_table(parameter: str, name: str) -> str:
    """Return the name of a row that was typed, as `check_called` does; none makes a remark of its row."""
    called = check_called(parameter, name)
    if called.startswith("#"):
        mend = f"begin with a letter or a digit, as no. {called.lstrip('# ')}".rstrip()
        raise InputError(f"`{parameter}`", f"{called!r} begins with #, as a remark in the bank's files does", mend)
    return called


def check_called(parameter: str, name: str) -> str:
    """Return a name that was typed, its blanks made single, or raise `InputError` naming the parameter."""
    check_name(f"`{parameter}`", name)
    called = " ".join(name.split())
    if not called:
        raise InputError(f"`{parameter}`", "is empty", "say what it is called")
    if len(called) > LONGEST:
        raise InputError(f"`{parameter}`", f"has {len(called)} letters", f"up to {LONGEST} stand on a label")
    return called
