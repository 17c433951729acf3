"""The tins of a bank: put into its tints.csv, changed there, taken out; what else stands in the file stays."""

from __future__ import annotations

import tempfile
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

from finishmatch.errors import InputError
from finishmatch.files import write_file
from finishmatch.readings.bank_tints import COLUMNS, KNOWN, read_tints
from finishmatch.readings.table_edit import EditedTable
from finishmatch.signs import check_signs
from finishmatch.steps.bank_made.as_it_stands import BankInHand, bank_as_it_stands
from finishmatch.steps.bank_made.begin import check_called, check_in_table

FILE = "tints.csv"
REMARK = "the tins of this bank"
_COLUMN = {"solids_percent": "volume_solids"}  # that a parameter stands in, where it is called otherwise
_NUMBERS = ("density_kg_l", "solids_percent", "price_per_kg", "stock_g")
_PARAMETERS = ("role", "colour_index", *_NUMBERS, "hazard", "lot", "panels_lot")
CLOSED = "have its owner give you the right to write in its folder"
_A_PAINT = 1.0  # percent of solids: a number up to here was meant as a share


@dataclass(frozen=True)
class Tin:
    """A tin as it is typed; None is what isn't known.

    Parameters
    ----------
    tint : str
        What it is called.
    role : str
        white, black, tint or clear.
    colour_index : str
        The Colour Index name of its pigment, or "".
    density_kg_l, solids_percent : float or None
        kg/L; volume solids in percent.
    price_per_kg, stock_g : float or None
    hazard : str
        What harms in it, in the shop's words, separated by semicolons; "none" when that was looked up.
    lot, panels_lot : str
        Which tin it is, and which one the panels are drawn from.
    """

    tint: str
    role: str = "tint"
    colour_index: str = ""
    density_kg_l: float | None = None
    solids_percent: float | None = None
    price_per_kg: float | None = None
    stock_g: float | None = None
    hazard: str = ""
    lot: str = ""
    panels_lot: str = ""


def tin_as_written(bank: BankInHand, name: str) -> dict[str, str]:
    """Return what is written of a tin, by parameter: "" is what isn't, and is taken as such paints usually have it.

    Raises
    ------
    InputError
        A file that isn't added to from here.
    """
    found, tint = _found(_table(bank), name), bank.tint(name)
    if found is None or tint is None:
        raise InputError("`tint`", f"there is no tint {name[:40]!r} in the bank any more", "look at the bank again")
    written = {parameter: found.get(_COLUMN.get(parameter, parameter), "") for parameter in _PARAMETERS}
    values = (tint.density_kg_l, 100 * tint.volume_solids, tint.price_per_kg or None, tint.stock_g)
    for parameter, value in zip(_NUMBERS, values, strict=True):
        written[parameter] = _number(value) if written[parameter] else ""
    return written


def put_tin(bank: BankInHand, tin: Tin, was: str = "", stood: Mapping[str, str] | None = None) -> None:
    """Put a tin into a bank, or in the place of the one that was called `was`.

    Parameters
    ----------
    bank : BankInHand
    tin : Tin
    was : str
    stood : mapping of str to str, optional
        What was written of it when it was looked at, as `tin_as_written` tells it: what another device or an editor
        changed since is asked about.

    Raises
    ------
    InputError
        What can't be a tin, one of that name, a second white; a file that isn't added to. Nothing is written then.
    """
    bank = as_it_may_change(bank)
    row = _row(tin)
    if was and was != row["tint"] and any(was in dict(panel.parts) for panel in bank.panels):
        what = f"{was!r} is in panels, and keeps its name"
        raise InputError("`tint`", what, "put another tin beside it, or take those panels out first")
    taken = next((one.name for one in bank.tints if one.name.casefold() == row["tint"].casefold()), None)
    if taken is not None and taken != was:
        raise InputError("`tint`", f"{taken!r} is in the bank already", "give each tin its own name")
    table = _table(bank)
    if was:
        if bank.tint(was) is None:
            raise InputError("`tint`", f"there is no tint {was[:40]!r} in the bank any more", "look at the bank again")
        if stood is not None:
            _check_unchanged(tin_as_written(bank, was), stood, was)
        table.change(lambda cells: cells["tint"] == was, row)
    else:
        table.add(row)
    _write(bank, table)


def take_tin_out(bank: BankInHand, name: str) -> None:
    """Take a tin out of a bank that no panel holds.

    Raises
    ------
    InputError
        No such tin, one that is in panels.
    """
    bank = as_it_may_change(bank)
    if bank.tint(name) is None:
        raise InputError("`tint`", f"there is no tint {name[:40]!r} in the bank any more", "look at the bank again")
    held = [panel.name for panel in bank.panels if name in dict(panel.parts)]
    if held:
        raise InputError("`tint`", f"{name!r} is in the panel {held[0]!r}", "take the panels that hold it out first")
    table = _table(bank)
    table.drop(lambda cells: cells["tint"] == name)
    if table.rows:
        _write(bank, table)
    else:  # it stays with its header and what somebody remarked there
        write_file(bank.folder / FILE, table.text, mend=CLOSED)


def as_it_may_change(bank: BankInHand) -> BankInHand:
    """Return a bank as it stands now, whoever changed it since it was looked at; raise `InputError` if none may."""
    if bank.bundled:
        raise InputError("the bank", "is the invented example, and stays as it is", "begin one of your own")
    now = bank_as_it_stands(bank.folder)
    if now.wrong is not None:
        raise now.wrong
    return now


def _check_unchanged(now: Mapping[str, str], stood: Mapping[str, str], name: str) -> None:
    """See that a tin is written as it was when it was looked at: what was changed since would be written over."""
    changed = [
        f"`{parameter}` is {text or 'empty'} now" for parameter, text in now.items() if text != stood.get(parameter, "")
    ]
    if changed:
        what = f"{name!r} was changed since this page was opened: {', '.join(changed)}"
        raise InputError("", what, "put that in if it is right; what you send again is taken")


def _found(table: EditedTable, name: str) -> dict[str, str] | None:
    return next((row for row in table.rows if row["tint"] == name), None)


def _table(bank: BankInHand) -> EditedTable:
    return EditedTable(bank.folder / FILE, COLUMNS, KNOWN, REMARK)


def _row(tin: Tin) -> dict[str, str]:
    for parameter in ("colour_index", "lot", "panels_lot"):
        if text := getattr(tin, parameter):
            check_called(parameter, text)
    check_signs("`hazard`", tin.hazard)
    solids = tin.solids_percent
    if solids is not None and not 0.1 <= solids <= 100:
        raise InputError("`solids_percent`", f"{solids:g} % is no paint", "give percent of the volume, as 35")
    if solids is not None and solids <= _A_PAINT:
        solids = 100 * solids
    return {
        "tint": check_in_table("tint", tin.tint),
        "role": tin.role,
        "colour_index": " ".join(tin.colour_index.split()),
        "density_kg_l": _number(tin.density_kg_l),
        "volume_solids": _number(None if solids is None else solids / 100),
        "price_per_kg": _number(tin.price_per_kg or 0.0),
        "stock_g": _number(tin.stock_g),
        "hazard": " ".join(tin.hazard.split()),
        "lot": " ".join(tin.lot.split()),
        "panels_lot": " ".join(tin.panels_lot.split()),
    }


def _number(value: float | None) -> str:
    return "" if value is None else f"{value:.9g}"


def _write(bank: BankInHand, table: EditedTable) -> None:
    """Write the table once it reads as one of tints; what is wrong is said by the parameter it came from."""
    with tempfile.TemporaryDirectory(prefix="finishmatch-") as folder:
        tried = Path(folder) / FILE
        tried.write_text(table.text, "utf-8")
        try:
            read_tints(tried)
        except InputError as error:
            raise _by_parameter(error, tried, bank.folder / FILE) from None
    write_file(bank.folder / FILE, table.text, mend=CLOSED)


def _by_parameter(error: InputError, tried: Path, meant: Path) -> InputError:
    called: Mapping[str, str] = {"volume_solids": "solids_percent"}
    _, found, column = error.where.rpartition("column ")
    where = f"`{called.get(column.strip(chr(39)), column.strip(chr(39)))}`" if found else ""
    return InputError(where or error.where.replace(str(tried), str(meant)), error.what, error.mend)
