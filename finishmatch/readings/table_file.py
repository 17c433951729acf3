"""CSV as the bench writes it: UTF-8, a header, # comments; what is wrong is named by file, line and column."""

from __future__ import annotations

import csv
import math
import os
import re
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from finishmatch.errors import InputError
from finishmatch.readings.plain_number import number_hint, plain_number

MAX_BYTES = 50_000_000
_LINE_END = re.compile(r"\r\n|\r|\n")  # str.splitlines also parts at characters that an editor keeps in the line


@dataclass(frozen=True)
class Row:
    """One row of a table: its cells by column, and where it stands."""

    cells: dict[str, str]
    file: str
    line: int

    def where(self, column: str = "") -> str:
        """Return "file, line 3, column 'grams'" for a message."""
        return f"{self.file}, line {self.line}" + (f", column {column!r}" if column else "")

    def text(self, column: str) -> str:
        """Return a cell that must not be empty, or raise `InputError`."""
        value = self.cells[column]
        if not value:
            raise InputError(self.where(column), "is empty", "fill it in")
        return value

    def number(self, column: str, low: float = -math.inf, high: float = math.inf, *, above: float = -math.inf) -> float:
        """Return a cell as a number with low ≤ number ≤ high and number > above, or raise `InputError`."""
        text = self.text(column)
        try:
            value = plain_number(text)
        except ValueError:
            raise InputError(self.where(column), f"{text[:40]!r} is not a number", number_hint(text)) from None
        if not math.isfinite(value):
            raise InputError(self.where(column), f"{text[:40]!r} is not a finite number", "write a number")
        if value < low or value <= above:
            least = f"at least {low:g}" if low > -math.inf else f"above {above:g}"
            raise InputError(self.where(column), f"{value:g} is too small", f"it must be {least}")
        if value > high:
            raise InputError(self.where(column), f"{value:g} is too large", f"it must be at most {high:g}")
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


def read_bytes(path: Path) -> bytes:
    """Return the bytes of a file, or raise `InputError` in one line."""
    if os.path.isdir(path):
        raise InputError(str(path), "is a folder", "name a file")
    try:
        with open(path, "rb") as file:
            data = file.read(MAX_BYTES + 1)  # never more: a device has no end
    except (FileNotFoundError, NotADirectoryError):
        raise InputError(str(path), "there is no such file", "check the name and the folder") from None
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or str(error)
        raise InputError(str(path), f"can't be read: {reason}", "check the name and its permissions") from None
    if len(data) > MAX_BYTES:
        raise InputError(str(path), f"is larger than {MAX_BYTES // 1_000_000} MB", "name a readings file")
    return data


def read_text(path: Path) -> str:
    """Return a UTF-8 text file (with or without byte order mark), or raise `InputError`."""
    data = read_bytes(path)
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = data[: error.start].count(b"\n") + 1
        raise InputError(f"{path}, line {line}", "is not UTF-8 text", "save it as CSV in UTF-8") from None
    if "\0" in text:
        raise InputError(str(path), "is not a text file", "save it as CSV in UTF-8")
    return text


def read_table(path: Path, required: Sequence[str] = (), optional: Sequence[str] | None = None) -> Table:
    """Read a CSV table.

    Parameters
    ----------
    path : Path
    required : sequence of str
        Columns that must be there.
    optional : sequence of str or None
        Further columns allowed; None allows any.

    Returns
    -------
    Table
        At least one row.

    Raises
    ------
    InputError
        Missing file, empty file, missing, unknown or repeated column, a row too long or too short.
    """
    path = Path(path)
    numbered = [
        (number, line)
        for number, line in enumerate(_LINE_END.split(read_text(path)), start=1)
        if line.replace(",", "").strip() and not line.lstrip().startswith("#")
    ]
    if not numbered:
        raise InputError(str(path), "is empty", "it needs a header and at least one row")
    parsed = [(number, _cells(path, number, line)) for number, line in numbered]
    header_line, header = parsed[0]
    _check_header(path, header_line, header, required)
    rows = []
    for number, cells in parsed[1:]:
        if len(cells) != len(header):
            raise InputError(
                f"{path}, line {number}",
                f"has {len(cells)} cells where the header has {len(header)}",
                "fill the row up or mend the comma",
            )
        rows.append(Row(dict(zip(header, cells, strict=True)), str(path), number))
    if not rows:
        raise InputError(str(path), "has a header and no rows", "add at least one row")
    table = Table(tuple(header), tuple(rows), str(path), header_line)
    if optional is not None:
        check_columns(table, required, optional)
    return table


def check_columns(table: Table, required: Sequence[str], optional: Sequence[str] = ()) -> None:
    """See that a table has the columns required and none but these and the optional ones, or raise `InputError`."""
    for column in required:
        if column not in table.columns:
            raise _missing(table.where(), column, table.columns)
    for column in table.columns:
        if column not in required and column not in optional:
            allowed = ", ".join([*required, *optional])
            raise InputError(table.where(), f"the column {column[:40]!r} is not known here", f"use {allowed}")


def _cells(path: Path, number: int, line: str) -> list[str]:
    try:
        return [cell.strip() for cell in next(csv.reader([line], strict=True, skipinitialspace=True))]
    except (csv.Error, StopIteration) as error:
        if "limit" in str(error):
            raise InputError(f"{path}, line {number}", "has a cell that is far too long", "shorten it") from None
        raise InputError(
            f"{path}, line {number}", "has a quote that isn't closed, or text after it", "mend the quotes"
        ) from None


def _check_header(path: Path, line: int, header: Sequence[str], required: Sequence[str]) -> None:
    where = f"{path}, line {line}"
    for sign, name in ((";", "semicolons"), ("\t", "tabs")):
        if len(header) == 1 and sign in header[0]:
            raise InputError(where, f"the cells are separated by {name}", "save it with commas and decimal points")
    for column in required:
        if column not in header:
            raise _missing(where, column, header)
    for column in header:
        if not column:
            raise InputError(where, "a column has no name", "name it or remove the comma")
        if header.count(column) > 1:
            raise InputError(where, f"the column {column[:40]!r} stands twice", "keep one")


def _missing(where: str, column: str, header: Sequence[str]) -> InputError:
    known = ", ".join(name[:40] for name in header[:6]) + (", …" if len(header) > 6 else "")
    return InputError(where, f"there is no column {column!r} (there are {known})", f"add the column {column}")
