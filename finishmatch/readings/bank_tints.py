"""tints.csv of a bank folder: the tins; and what a paint of a pigment usually weighs, where a tin doesn't tell it."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from finishmatch.errors import InputError
from finishmatch.near_names import without_capitals
from finishmatch.optics.bank import ROLES, Tint
from finishmatch.optics.pigment_kinds import WHITE, kind_of
from finishmatch.readings.hazards import tint_hazards
from finishmatch.readings.table_file import Row, read_table
from finishmatch.understood import understood

MAX_TINTS = 120
COLUMNS = ("tint", "role", "colour_index", "density_kg_l", "volume_solids", "price_per_kg", "stock_g")
KNOWN = ("hazard", "lot", "panels_lot")
# what is to be written where a tin lacks it
_NEEDED = {
    "role": "write one of " + ", ".join(ROLES),
    "price_per_kg": "write 0 where it doesn't matter",
    "stock_g": "weigh the tin; no recipe asks for more than there is",
}
# kg/L and the share of the volume that stays dry, of a tinting paint («common practice»); any other pigment is organic
_HEAVY = ("ochre", "yellow oxide", "red oxide", "brown earth", "iron or bone black", "chrome oxide green")
_HEAVY_TOO = ("cobalt blue", "cobalt green", "ultramarine blue", "inorganic yellow", "cadmium or molybdate red")
USUAL_WHITE, USUAL_HEAVY, USUAL_OTHER = (1.5, 0.42), (1.3, 0.39), (1.0, 0.3)
_SAID = 3  # of tints whose volumes are taken as usual, named in a note


def usual_volumes(role: str, colour_index: str) -> tuple[float, float]:
    """Return the density, kg/L, and the volume solids, 0 to 1, that a tinting paint usually has («common practice»).

    Parameters
    ----------
    role : str
    colour_index : str
        A Colour Index name, or "".
    """
    kind = kind_of(colour_index)
    if role == "white" or kind == WHITE:
        return USUAL_WHITE
    return USUAL_HEAVY if kind in (*_HEAVY, *_HEAVY_TOO) else USUAL_OTHER


def read_tints(path: Path) -> tuple[tuple[Tint, ...], tuple[str, ...]]:
    """Return the tints of a tints.csv, and what is to be borne in mind of them.

    Raises
    ------
    InputError
        Names file, line and column of what is wrong.
    """
    table = read_table(path, required=COLUMNS, known=KNOWN)
    if len(table.rows) > MAX_TINTS:
        what = f"there are {len(table.rows)} tints, and at most {MAX_TINTS} are read"
        raise InputError(str(path), what, "leave some out")
    tints: list[Tint] = []
    for row in table.rows:
        role = _role(row)
        _check_name_and_role(row, role, tints)
        hazards, source = tint_hazards(row)
        usual = usual_volumes(role, row.cells["colour_index"])
        tints.append(
            Tint(
                row.text("tint"),
                role,
                row.cells["colour_index"],
                _density(row) if row.cells["density_kg_l"] else usual[0],
                row.number("volume_solids", 0.001, 1, share=True) if row.cells["volume_solids"] else usual[1],
                row.number("price_per_kg", 0, 1e6),
                row.number("stock_g", 0, 1e9),
                hazards,
                source,
                row.cells.get("lot", ""),
                row.cells.get("panels_lot", ""),
            )
        )
    return tuple(tints), _taken_as_usual(path, table.rows)


def _role(row: Row) -> str:
    """Return the role of a tint, whatever its capitals, where all that a tin needs is written."""
    for column, mend in _NEEDED.items():
        if not row.cells[column]:
            raise InputError(row.where(column), "is empty", mend)
    text = row.text("role")
    role = text.casefold()
    if role != text and role in ROLES:
        understood(row.file, f"the role {text!r} is read as {role}")
        return role
    return text


def _check_name_and_role(row: Row, role: str, before: Sequence[Tint]) -> None:
    name = row.text("tint")
    if any(name == tint.name for tint in before):
        raise InputError(row.where("tint"), f"the tint {name!r} stands twice", "give each tin its own name")
    alike = next((tint.name for tint in before if without_capitals(tint.name) == without_capitals(name)), None)
    if alike is not None:  # at the scale nobody could tell which of the two is meant
        what = f"{alike!r} and {name!r} differ in capitals or blanks alone"
        mend = "give each tin a name of its own, in panels.csv too; of one tin keep one row, and call it so everywhere"
        raise InputError(row.where("tint"), what, mend)
    if role not in ROLES:
        raise InputError(row.where("role"), f"{role!r} is not a role", "use one of " + ", ".join(ROLES))
    first = next((tint.name for tint in before if tint.role == role), None)
    if role in ("white", "black") and first is not None:
        what = f"there are two {role}s, {first!r} and {name!r}"
        raise InputError(row.where("role"), what, "keep one and call the other a tint")


def _density(row: Row) -> float:
    """Return the density of a tint, kg/L; one in g/L is asked about."""
    density = row.number("density_kg_l", 0)
    if 500 <= density <= 6000:
        where = row.where("density_kg_l")
        raise InputError(where, f"{density:g} kg/L is no paint", f"in g/L? then write {density / 1000:g}")
    return row.number("density_kg_l", 0.5, 6)


def _taken_as_usual(path: Path, rows: Sequence[Row]) -> tuple[str, ...]:
    """Return a note of the tints whose density or solids aren't written."""
    names = [row.cells["tint"] for row in rows if not (row.cells["density_kg_l"] and row.cells["volume_solids"])]
    if not names:
        return ()
    some = ", ".join(names[:_SAID]) + (f" and {len(names) - _SAID} more" if len(names) > _SAID else "")
    return (
        f"{path.name}: density or volume solids of {some} aren't written, and are taken as such paints usually have "
        "them (common practice): litres and thin films hang on them, a colour that hides hardly",
    )
