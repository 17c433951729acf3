"""A spreadsheet's own file (.xlsx, ISO/IEC 29500): the cells of the sheet that holds the table, as texts."""

from __future__ import annotations

import io
import re
import warnings
import zipfile
from collections.abc import Iterable
from datetime import date, datetime
from pathlib import Path
from typing import Any

from finishmatch.errors import InputError
from finishmatch.signs import check_signs
from finishmatch.understood import understood

MAX_UNPACKED_BYTES = 10_000_000  # of what is read of it; pictures in it are not
MAX_CELLS = 200_000
MAX_ROWS = 100_000
MAX_TEXTS = 100_000
_TEXT = re.compile(rb"<(?:\w+:)?si[\s/>]")  # one of the texts that cells share
_AS_TEXT = "save its table as CSV in UTF-8"
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
            sheets = _sheets(path, book)
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
            if not any(one.filename.endswith("workbook.xml") for one in held):
                raise InputError(str(path), "is not a spreadsheet that can be read", _MEND)
            read = [one for one in held if one.filename.endswith((".xml", ".rels"))]
            if sum(one.file_size for one in read) > MAX_UNPACKED_BYTES:
                raise InputError(str(path), "is far too large when unpacked", _AS_TEXT)
            texts = sum(len(_TEXT.findall(archive.read(one).replace(b"\0", b""))) for one in read)
    except InputError:
        raise
    except Exception:  # a damaged archive brings up anything
        raise InputError(str(path), "is a damaged archive", "copy it again") from None
    if texts > MAX_TEXTS:
        raise InputError(str(path), f"holds more than {MAX_TEXTS} texts", _AS_TEXT)


def _sheets(path: Path, book: Any) -> list[tuple[str, list[tuple[int, list[str]]]]]:
    """Return the title of every sheet, and its rows that hold anything."""
    sheets, seen, lines = [], 0, 0
    for sheet in book.worksheets:
        sheet.reset_dimensions()  # what the file says of its size is not always so
        rows = []
        for number, values in enumerate(sheet.iter_rows(values_only=True), start=1):
            seen, lines = seen + len(values), lines + 1
            for count, most, what in ((seen, MAX_CELLS, "cells"), (lines, MAX_ROWS, "rows")):
                if count > most:
                    raise InputError(str(path), f"holds more than {most} {what}", _AS_TEXT)
            cells = _without_the_end(_text(value) for value in values)
            check_signs(f"{path}, line {number}", "\n".join(cells))
            if cells:
                rows.append((number, cells))
        sheets.append((sheet.title, rows))
    return sheets


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
