"""CSV as the bench writes it: UTF-8, a header, # comments; what is wrong is named by file, line and column."""

from __future__ import annotations

import csv
import math
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from finishmatch.errors import InputError

MAX_BYTES = 50_000_000


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
            value = float(text)
        except ValueError:
            hint = "write it with a decimal point" if "," in text else "write a number"
            raise InputError(self.where(column), f"{text[:40]!r} is not a number", hint) from None
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
    try:
        if path.is_dir():
            raise InputError(str(path), "is a folder", "name a file")
        if path.is_file() and path.stat().st_size > MAX_BYTES:
            raise InputError(str(path), f"is larger than {MAX_BYTES // 1_000_000} MB", "name a readings file")
        return path.read_bytes()
    except (FileNotFoundError, NotADirectoryError):
        raise InputError(str(path), "there is no such file", "check the name and the folder") from None
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or str(error)
        raise InputError(str(path), f"can't be read: {reason}", "check the name and its permissions") from None


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
        for number, line in enumerate(read_text(path).splitlines(), start=1)
        if line.strip().strip(",") and not line.lstrip().startswith("#")
    ]
    if not numbered:
        raise InputError(str(path), "is empty", "it needs a header and at least one row")
    parsed = [(number, _cells(path, number, line)) for number, line in numbered]
    header_line, header = parsed[0]
    _check_header(path, header_line, header, required, optional)
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
    return Table(tuple(header), tuple(rows), str(path), header_line)


def _cells(path: Path, number: int, line: str) -> list[str]:
    try:
        return [cell.strip() for cell in next(csv.reader([line], strict=True))]
    except (csv.Error, StopIteration):
        raise InputError(f"{path}, line {number}", "has an unclosed quote", "close it") from None


def _check_header(
    path: Path, line: int, header: Sequence[str], required: Sequence[str], optional: Sequence[str] | None
) -> None:
    where = f"{path}, line {line}"
    for column in required:
        if column not in header:
            known = ", ".join(header[:6]) + (", …" if len(header) > 6 else "")
            raise InputError(where, f"there is no column {column!r} (there are {known})", f"add the column {column}")
    for column in header:
        if not column:
            raise InputError(where, "a column has no name", "name it or remove the comma")
        if header.count(column) > 1:
            raise InputError(where, f"the column {column!r} stands twice", "keep one")
        if optional is not None and column not in required and column not in optional:
            allowed = ", ".join([*required, *optional])
            raise InputError(where, f"the column {column!r} is not known here", f"use {allowed}")
