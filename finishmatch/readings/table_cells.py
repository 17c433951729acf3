"""The cells of a table as they stand in its file: CSV with commas, semicolons or tabs, or a spreadsheet."""

from __future__ import annotations

import csv
import re
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from finishmatch.errors import InputError
from finishmatch.files import read_file
from finishmatch.readings.column_names import house_names
from finishmatch.readings.guarded_cells import unguarded
from finishmatch.readings.photograph_sign import is_photograph
from finishmatch.readings.plain_number import meant_number
from finishmatch.readings.spreadsheet import is_old_spreadsheet, is_packed, sheet_cells
from finishmatch.signs import unseen_sign
from finishmatch.understood import understood

MAX_BYTES = 20_000_000
MAX_LINES = 100_000
MAX_CELLS = 700_000  # 20 000 spectra by 10 nm, with their names
MAX_COLUMNS = 5_000  # a spectrum by 0.1 nm has 3001
ROWS_ABOVE = 10  # a title and remarks that stand above the header
SEPARATORS = {",": "commas", ";": "semicolons", "\t": "tabs"}
ENOUGH_COMMAS = 6  # so many numbers with a comma and three digits are no thousands
_LINE_END = re.compile(r"\r\n|\r|\n")  # str.splitlines also parts at characters that an editor keeps in the line
_NAMED_SEPARATOR = re.compile(r"\s*sep=([,;\t])[,;\s]*", re.IGNORECASE)


@dataclass(frozen=True)
class Cells:
    """The rows of a table that hold anything, with their lines; the header is the first.

    `comma` says whether the comma is known to be the decimal sign.
    """

    rows: tuple[tuple[int, list[str]], ...]
    comma: bool


def read_bytes(path: Path) -> bytes:
    """Return the bytes of a file, or raise `InputError` in one line."""
    return read_file(path, MAX_BYTES)


def read_text(path: Path) -> str:
    """Return a UTF-8 text file (with or without byte order mark), or raise `InputError`."""
    return _as_text(path, read_bytes(path))


def _as_text(path: Path, data: bytes) -> str:
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        if is_photograph(data):
            mend = "save its colours as a table: photo read"
            raise InputError(str(path), "is a photograph, and no table", mend) from None
        line = data[: error.start].count(b"\n") + 1
        raise InputError(f"{path}, line {line}", "is not UTF-8 text", "save it as CSV in UTF-8") from None
    if "\0" in text:
        raise InputError(str(path), "is not a text file", "save it as CSV in UTF-8")
    text = text.rstrip("\x1a\x0c")  # with which old programs end a file, or a page
    if found := unseen_sign(text):
        line = len(_LINE_END.findall(text, 0, found.start())) + 1
        what = f"has a character that can't be seen (U+{ord(found[0]):04X})"
        raise InputError(f"{path}, line {line}", what, "take it out, or type that line anew")
    return text


def read_cells(path: Path, required: Sequence[str], known: Sequence[str]) -> Cells:
    """Return the cells of a table, its header first.

    Parameters
    ----------
    path : Path
    required, known : sequence of str
        Columns that must be there, and all that are asked for: by them separator and header are known.

    Raises
    ------
    InputError
        No file, no text, no table; a quote that isn't closed.
    """
    data = read_bytes(path)
    if is_old_spreadsheet(data):
        raise InputError(str(path), "is a spreadsheet of an old kind", "save it as .xlsx, or as CSV in UTF-8")
    if is_packed(data):
        rows = [
            (number, [unguarded(cell) for cell in cells])
            for number, cells in sheet_cells(path, data)
            if not cells[0].startswith("#")
        ]
        width = max((len(cells) for _, cells in rows), default=0)
        return _from_header(path, [(number, _padded(cells, width)) for number, cells in rows], required, known)
    numbered = [
        (number, line)
        for number, line in enumerate(text_lines(path, _as_text(path, data)), start=1)
        if line.replace(",", "").replace(";", "").strip() and not line.lstrip().startswith("#")
    ]
    _check_width(path, numbered)
    if numbered and (named := _NAMED_SEPARATOR.fullmatch(numbered[0][1])):
        numbered, separator = numbered[1:], named[1]
    else:
        separator = _separator([line for _, line in numbered[:ROWS_ABOVE]], required, known)
    found = _from_header(
        path, [(number, _cells(path, number, line, separator)) for number, line in numbered], required, known
    )
    comma = separator != "," and _comma_is_decimal(found.rows[1:])
    if separator != ",":
        decimal = ", and the comma is the decimal sign" if comma else ""
        understood(str(path), f"the cells are separated by {SEPARATORS[separator]}{decimal}", "separator")
    return Cells(found.rows, comma)


def text_lines(path: Path, text: str) -> list[str]:
    """Return the lines of a text; one with more than any file of readings has is refused before they are made."""
    lines = _LINE_END.split(text, maxsplit=MAX_LINES)
    if len(lines) > MAX_LINES and lines[-1]:
        raise InputError(str(path), f"has more than {MAX_LINES} lines", "split it into smaller files")
    return lines


def _check_width(path: Path, numbered: Sequence[tuple[int, str]]) -> None:
    """Refuse more cells than any table has, in a line or in all, before anything is made of them."""
    cells = 0
    for number, line in numbered:
        wide = 1 + max(line.count(sign) for sign in SEPARATORS)
        if wide > MAX_COLUMNS:
            what = f"has more than {MAX_COLUMNS} cells"
            raise InputError(f"{path}, line {number}", what, "name a table; is each reading a row of its own?")
        cells += wide
        if cells > MAX_CELLS:
            raise InputError(str(path), f"holds more than {MAX_CELLS} cells", "split it into smaller files")


def _separator(lines: Sequence[str], required: Sequence[str], known: Sequence[str]) -> str:
    """Return what separates the cells: what makes the columns that must be there, or else what the header has."""
    for sign in SEPARATORS:
        for line in lines:
            if required and set(required) <= set(house_names(_split(line, sign), known)[0]):
                return sign
    first = lines[0] if lines else ""
    return next((sign for sign in SEPARATORS if sign != "," and sign in first and "," not in first), ",")


def _split(line: str, sign: str) -> list[str]:
    """Return the cells of a line that may be no header at all."""
    return [cell.strip().strip('"') for cell in line[:20_000].split(sign)]


def _from_header(
    path: Path, rows: Sequence[tuple[int, list[str]]], required: Sequence[str], known: Sequence[str]
) -> Cells:
    """Return rows from the header on, which may stand below a title."""

    def is_header(cells: list[str]) -> bool:
        return bool(required) and set(required) <= set(house_names(cells, known)[0])

    above = next((i for i, (_, cells) in enumerate(rows[:ROWS_ABOVE]) if is_header(cells)), 0)
    # a title stands alone in its row; what has as many cells as the header is a header that is wrong
    if above and all(sum(bool(cell) for cell in cells) <= 2 for _, cells in rows[:above]) and len(required) > 1:
        understood(str(path), f"the header is line {rows[above][0]}; what stands above it is left out", "header")
        return Cells(tuple(rows[above:]), False)
    return Cells(tuple(rows), False)


def _padded(cells: list[str], width: int) -> list[str]:
    return cells + [""] * (width - len(cells))


def _comma_is_decimal(rows: Sequence[tuple[int, list[str]]]) -> bool:
    """Whether numbers have a decimal comma: one that can be nothing else, or many, and none has a point."""
    texts = [cell for _, cells in rows for cell in cells if cell[:1] in "+-−,.0123456789" and cell]
    with_comma = [text for text in texts if "," in text]
    if any(re.fullmatch(r"[+-]?\d*\.\d+", text) for text in texts):
        return False
    return len(with_comma) >= ENOUGH_COMMAS or any(_is_decimal(text) for text in with_comma)


def _is_decimal(text: str) -> bool:
    try:
        return meant_number(text, share=True)[1] == "a decimal comma"
    except ValueError:
        return False


def _cells(path: Path, number: int, line: str, separator: str) -> list[str]:
    if '"' not in line and "'" not in line and len(line) <= csv.field_size_limit():
        return [cell.strip() for cell in line.split(separator)]
    try:
        parsed = next(csv.reader([line], strict=True, skipinitialspace=separator != "\t", delimiter=separator))
    except (csv.Error, StopIteration) as error:
        if "limit" in str(error):
            raise InputError(f"{path}, line {number}", "has a cell that is far too long", "shorten it") from None
        raise InputError(
            f"{path}, line {number}", "has a quote that isn't closed, or text after it", "mend the quotes"
        ) from None
    return [unguarded(cell.strip()) for cell in parsed]
