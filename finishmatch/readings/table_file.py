"""CSV as the bench writes it: UTF-8, a header, # comments; what is wrong is named by file, line and column."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from finishmatch.errors import InputError
from finishmatch.readings.column_names import corner_named, house_names, lies_on_its_side
from finishmatch.readings.plain_number import number_hint, simple_numbers, understood_number
from finishmatch.readings.quantities import BUILD, DENSITY, WEIGHT, carries_unit, quantity
from finishmatch.readings.table_cells import MAX_BYTES, read_bytes, read_cells, read_text
from finishmatch.understood import listening, understood

__all__ = ["MAX_BYTES", "Row", "Table", "check_columns", "read_bytes", "read_table", "read_text"]

_UNITS = {"grams": WEIGHT, "_g": WEIGHT, "_um": BUILD, "_kg_l": DENSITY}  # by how the name of a column ends


@dataclass(frozen=True)
class Row:
    """One row of a table: its cells by column, and where it stands."""

    cells: dict[str, str]
    file: str
    line: int
    comma: bool = False  # whether the comma is known to be the decimal sign
    sideways: bool = False  # whether the row is a column of the file

    def where(self, column: str = "") -> str:
        """Return "file, line 3, column 'grams'" for a message."""
        row, across = ("column", "row") if self.sideways else ("line", "column")
        return f"{self.file}, {row} {self.line}" + (f", {across} {column!r}" if column else "")

    def text(self, column: str) -> str:
        """Return a cell that must not be empty, or raise `InputError`."""
        value = self.cells[column]
        if not value:
            raise InputError(self.where(column), "is empty", "fill it in")
        return value

    def number(
        self,
        column: str,
        low: float = -math.inf,
        high: float = math.inf,
        *,
        above: float = -math.inf,
        share: bool = False,
    ) -> float:
        """Return a cell as a number with low ≤ number ≤ high and number > above, or raise `InputError`.

        A unit may stand in the cell where the column says its own; percent where it is a `share`.
        """
        text = self.text(column)
        try:
            value = understood_number(self.file, text, share=share, comma=self.comma)
        except ValueError:
            value = self._measured(column, text)
        if not math.isfinite(value):
            raise InputError(self.where(column), f"{text[:40]!r} is not a finite number", "write a number")
        if value < low or value <= above:
            least = f"at least {low:g}" if low > -math.inf else f"above {above:g}"
            raise InputError(self.where(column), f"{value:g} is too small", f"it must be {least}")
        if value > high:
            raise InputError(self.where(column), f"{value:g} is too large", f"it must be at most {high:g}")
        return value

    def shares(self, columns: Sequence[str]) -> list[float]:
        """Return cells as numbers of 0 or more, percent too, each as `number` does, or raise `InputError`."""
        if not self.comma and (plain := simple_numbers([self.cells[column] for column in columns])) is not None:
            return plain
        return [self.number(column, low=0, share=True) for column in columns]

    def _measured(self, column: str, text: str) -> float:
        """Return a cell that has a unit in it, in the unit of its column, or raise `InputError`."""
        kind = next((kind for end, kind in _UNITS.items() if column.endswith(end)), None)
        if kind is None or not carries_unit(text):
            raise InputError(self.where(column), f"{text[:40]!r} is not a number", number_hint(text))
        with listening():  # its number alone would be said in the unit that was written
            value = quantity(self.where(column), text, kind)
        unit = "".join(sign for sign in text.casefold() if sign.isalpha())  # each is said once
        understood(self.file, f"{text[:20]!r} is read as {value:.6g}", f"in {unit}")
        return value


@dataclass(frozen=True)
class Table:
    """A table read whole: its columns in order and its rows."""

    columns: tuple[str, ...]
    rows: tuple[Row, ...]
    file: str
    header_line: int

    def where(self) -> str:
        """Return "file, line 1" of the header for a message."""
        return f"{self.file}, line {self.header_line}"


class NoRowsError(InputError):
    """A table that has its header, and no rows yet, or no more."""


def read_table(
    path: Path, required: Sequence[str] = (), optional: Sequence[str] | None = None, known: Sequence[str] = ()
) -> Table:
    """Read a table: a CSV, or the first sheet with a table of a spreadsheet (.xlsx).

    Parameters
    ----------
    path : Path
    required : sequence of str
        Columns that must be there.
    optional : sequence of str or None
        Further columns allowed; None allows any.
    known : sequence of str
        Columns that may be there where any are allowed: other writings of these are understood too.

    Returns
    -------
    Table
        At least one row.

    Raises
    ------
    InputError
        Missing file, empty file, missing, unknown or repeated column, a row too long or too short; `NoRowsError` of one
        with a header alone.
    """
    path, names = Path(path), tuple(dict.fromkeys((*required, *(optional or ()), *known)))
    cells = read_cells(path, required, names)
    if not cells.rows:
        raise InputError(str(path), "is empty", "it needs a header and at least one row")
    numbered, sideways = _upright(path, cells.rows, required, names)
    (header_line, written), *body = numbered
    header, taken = house_names(written, names)
    _check_header(path, header_line, header, required, names)
    if taken:
        # a spectrum's many columns are said by the first
        some = ", ".join(f"{was[:20]!r} as {now}" for was, now in list(taken.items())[:3])
        understood(str(path), f"columns are read so: {some}{', …' if len(taken) > 3 else ''}", "columns")
    rows = []
    for number, row in body:
        if len(row) != len(header):
            raise InputError(
                f"{path}, line {number}",
                f"has {len(row)} cell{'s' * (len(row) != 1)} where the header has {len(header)}",
                "fill the row up or mend the comma",
            )
        rows.append(Row(dict(zip(header, row, strict=True)), str(path), number, cells.comma, sideways))
    if not rows:
        raise NoRowsError(str(path), "has a header and no rows", "add at least one row")
    table = Table(tuple(header), tuple(rows), str(path), header_line)
    if optional is not None:
        check_columns(table, required, optional)
    return table


def _looks_like(header: Sequence[str], names: Sequence[str]) -> bool:
    """Whether a line is a header of those columns, though perhaps a wrong one: one of them is in it."""
    whole = " ".join(header).casefold()
    return any(name in header or (len(name) > 3 and name.casefold() in whole) for name in names)


def _upright(
    path: Path, rows: Sequence[tuple[int, list[str]]], required: Sequence[str], known: Sequence[str]
) -> tuple[list[tuple[int, list[str]]], bool]:
    """Return rows as they are asked for, and whether they stood as columns."""
    cells = [row for _, row in rows]
    if len(cells) < 2 or len({len(row) for row in cells}) > 1 or not lies_on_its_side(cells, required, known):
        return list(rows), False
    understood(str(path), "its rows are columns: it is read turned round", "sideways")
    turned = [list(column) for column in zip(*cells, strict=True)]
    turned[0][0] = corner_named(turned[0][0], required)
    return list(enumerate(turned, start=1)), True


def check_columns(table: Table, required: Sequence[str], optional: Sequence[str] = ()) -> None:
    """See that a table has the columns required and none but these and the optional ones, or raise `InputError`."""
    for column in required:
        if column not in table.columns:
            raise _missing(table.where(), column, table.columns, (*required, *optional))
    for column in table.columns:
        if column not in required and column not in optional:
            allowed = ", ".join([*required, *optional])
            raise InputError(table.where(), f"the column {column[:40]!r} is not known here", f"use {allowed}")


def _check_header(path: Path, line: int, header: Sequence[str], required: Sequence[str], names: Sequence[str]) -> None:
    where = f"{path}, line {line}"
    for column in required:
        if column not in header:
            raise _missing(where, column, header, names)
    seen = set[str]()
    for column in header:
        if not column:
            raise InputError(where, "a column has no name", "name it or remove the comma")
        if column in seen:
            raise InputError(where, f"the column {column[:40]!r} stands twice", "keep one")
        seen.add(column)


def _missing(where: str, column: str, header: Sequence[str], names: Sequence[str]) -> InputError:
    """Return what is said of a column that isn't there; a file that is no such table at all is not quoted."""
    if not _looks_like(header, names):
        return InputError(where, f"there is no column {column!r}", "is it the file that is meant? it has no such table")
    known = ", ".join(name[:40] for name in header[:6]) + (", …" if len(header) > 6 else "")
    return InputError(where, f"there is no column {column!r} (there are {known})", f"add the column {column}")
