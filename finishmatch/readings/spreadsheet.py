"""A spreadsheet's own file (.xlsx, ISO/IEC 29500): the cells of the sheet that holds the table, as texts."""

from __future__ import annotations

import io
import warnings
import zipfile
from collections.abc import Iterable
from datetime import date, datetime
from pathlib import Path
from typing import Any

from finishmatch.errors import InputError
from finishmatch.understood import understood

MAX_UNPACKED_BYTES = 200_000_000
MAX_CELLS = 4_000_000
_MEND = "save it as .xlsx, or as CSV in UTF-8"


def is_packed(data: bytes) -> bool:
    """Whether a file is a zip archive, as .xlsx is."""
    return data[:4] == b"PK\x03\x04"


def is_old_spreadsheet(data: bytes) -> bool:
    """Whether a file is a spreadsheet as programs wrote them before .xlsx."""
    return data[:8] == b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1"


def sheet_cells(path: Path, data: bytes) -> list[tuple[int, list[str]]]:
    """Return the number and the cells of every row that holds any, of the first sheet with a table.

    Raises
    ------
    InputError
        What is no .xlsx, is damaged, or is far too large.
    """
    _check(path, data)
    import openpyxl  # takes a third of a second to load, and few tables are spreadsheets

    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")  # of styles and the like, which don't matter here
            book = openpyxl.load_workbook(io.BytesIO(data), read_only=True, data_only=True)
            sheets = [(sheet.title, _rows(path, sheet)) for sheet in book.worksheets]
    except InputError:
        raise
    except Exception as error:  # a damaged file brings up anything
        reason = " ".join(str(error).split())[:60] or type(error).__name__
        raise InputError(str(path), f"is a damaged spreadsheet ({reason})", "save it again") from None
    filled = [(title, rows) for title, rows in sheets if rows]
    if not filled:
        return []
    title, rows = next((sheet for sheet in filled if len(sheet[1]) > 1), filled[0])
    others = ", ".join(repr(other[:20]) for other, _ in filled if other != title)
    understood(str(path), f"the sheet {title[:20]!r} is read" + (f", not {others}" if others else ""), "sheet")
    return rows


def _check(path: Path, data: bytes) -> None:
    """See that an archive is a spreadsheet of a size that can be read."""
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as archive:
            held = archive.infolist()
    except (zipfile.BadZipFile, ValueError, OSError):
        raise InputError(str(path), "is a damaged archive", "copy it again") from None
    if not any(one.filename.endswith("workbook.xml") for one in held):
        raise InputError(str(path), "is not a spreadsheet that can be read", _MEND)
    if sum(one.file_size for one in held) > MAX_UNPACKED_BYTES:
        raise InputError(str(path), "is far too large when unpacked", "keep one table in it")


def _rows(path: Path, sheet: Any) -> list[tuple[int, list[str]]]:
    sheet.reset_dimensions()  # what the file says of its size is not always so
    rows, seen = [], 0
    for number, values in enumerate(sheet.iter_rows(values_only=True), start=1):
        seen += len(values)
        if seen > MAX_CELLS:
            raise InputError(str(path), f"holds more than {MAX_CELLS} cells", "keep one table in it")
        cells = _without_the_end(_text(value) for value in values)
        if cells:
            rows.append((number, cells))
    return rows


def _without_the_end(cells: Iterable[str]) -> list[str]:
    """Return cells without the empty ones at the end."""
    kept = list(cells)
    while kept and not kept[-1]:
        kept.pop()
    return kept


def _text(value: object) -> str:
    """Return a cell as it would stand in a CSV."""
    if value is None:
        return ""
    if isinstance(value, bool):
        return str(value)
    if isinstance(value, float):
        return f"{value:.15g}"
    if isinstance(value, datetime):
        return value.date().isoformat()
    if isinstance(value, date):
        return value.isoformat()
    return " ".join(str(value).split())
