"""A table to which rows are added, or in which they are changed, while all else in its file stays as it was."""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Callable, Mapping, Sequence
from pathlib import Path

from finishmatch.errors import InputError
from finishmatch.readings.guarded_cells import guarded, unguarded
from finishmatch.readings.table_cells import read_bytes

_LINE_END = re.compile(r"\r\n|\r|\n")
_BY_HAND = "add the row there by hand, or save it as CSV in UTF-8 with commas and the columns' own names"


class EditedTable:
    """A plain CSV: remarks, blank lines and further columns are kept as they are.

    Parameters
    ----------
    path : Path
        A file that isn't there is begun with the columns.
    columns : sequence of str
        Those that must be in its header.
    further : sequence of str
        Those that are added to it where a row needs them.
    remark : str
        What a file that is begun says of itself in its first line.

    Raises
    ------
    InputError
        A file that is no such CSV: nothing is added to it then, so that nothing of it is lost. A row that would be a
        remark.
    """

    def __init__(self, path: Path, columns: Sequence[str], further: Sequence[str] = (), remark: str = "") -> None:
        self._further, self._path = tuple(further), path
        begun = [*([f"# {remark}"] if remark else []), ",".join((*columns, *further))]
        self._lines, self._end = _lines_of(path) if path.exists() else (begun, "\n")
        self._head = next((i for i, line in enumerate(self._lines) if not _is_remark(line)), -1)
        self._header = _cells(self._lines[self._head]) if self._head >= 0 else None
        if self._header is None or not set(columns) <= set(self._header) or len({*self._header}) < len(self._header):
            raise InputError(str(path), "isn't written so that a row can be added from here", _BY_HAND)
        for i in self._places():
            if len(_cells(self._lines[i]) or ()) != len(self._header):
                raise InputError(
                    f"{path}, line {i + 1}", "isn't written so that it can be added to from here", _BY_HAND
                )

    @property
    def rows(self) -> tuple[dict[str, str], ...]:
        """The rows, by column, as they stand."""
        return tuple(self._row(i) for i in self._places())

    @property
    def text(self) -> str:
        """The file as it would be written."""
        return self._end.join([*self._lines, ""])

    def add(self, row: Mapping[str, str]) -> None:
        """Put a row below the last one."""
        places = self._places()
        self._widen(row)
        last = places[-1] if places else self._head
        self._lines.insert(last + 1, self._line(row))

    def change(self, where: Callable[[Mapping[str, str]], bool], row: Mapping[str, str]) -> None:
        """Put cells into the rows that `where` is true of; what isn't given stays."""
        self._widen(row)
        for i in self._places():
            if where(now := self._row(i)):
                self._lines[i] = self._line({**now, **row})

    def drop(self, where: Callable[[Mapping[str, str]], bool]) -> None:
        """Take the rows out that `where` is true of."""
        gone = {i for i in self._places() if where(self._row(i))}
        self._lines = [line for i, line in enumerate(self._lines) if i not in gone]

    def _places(self) -> list[int]:
        return [i for i, line in enumerate(self._lines) if i > self._head and not _is_remark(line)]

    def _row(self, place: int) -> dict[str, str]:
        assert self._header is not None
        cells = _cells(self._lines[place]) or []
        return {name: unguarded(cell) for name, cell in zip(self._header, cells, strict=True)}

    def _line(self, row: Mapping[str, str]) -> str:
        assert self._header is not None
        line = _written([guarded(row.get(name, "")) for name in self._header])
        if _is_remark(line):  # the row would be lost, and nobody told
            raise InputError(
                str(self._path), f"{line[:40]!r} would be a remark in it", "begin with another sign than #"
            )
        return line

    def _widen(self, row: Mapping[str, str]) -> None:
        """Add the columns that a row needs and the header lacks."""
        assert self._header is not None
        new = [name for name in self._further if row.get(name) and name not in self._header]
        if not new:
            return
        for i in self._places():
            self._lines[i] = _written([*(_cells(self._lines[i]) or []), *("" for _ in new)])
        self._header = [*self._header, *new]
        self._lines[self._head] = _written(self._header)


def _lines_of(path: Path) -> tuple[list[str], str]:
    """Return the lines of a file and how they end."""
    try:
        text = read_bytes(path).decode("utf-8")
    except UnicodeDecodeError:
        raise InputError(str(path), "isn't written so that a row can be added from here", _BY_HAND) from None
    found = _LINE_END.search(text)
    lines = _LINE_END.split(text)
    return (lines[:-1] if lines and not lines[-1] else lines), found[0] if found else "\n"


def _is_remark(line: str) -> bool:
    return not line.replace(",", "").strip() or line.lstrip().startswith("#")


def _cells(line: str) -> list[str] | None:
    """Return the cells of a line; None where a quote isn't closed in it."""
    try:
        return [cell.strip() for cell in next(csv.reader([line.removeprefix("\ufeff")], strict=True), [])]
    except csv.Error:
        return None


def _written(cells: Sequence[str]) -> str:
    out = io.StringIO()
    csv.writer(out, lineterminator="").writerow(cells)
    return out.getvalue()
