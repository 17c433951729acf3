"""CGATS.17 text taken apart: keywords, and tables of tokens with their lines. What they mean is read in cgats."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path

from finishmatch.errors import InputError
from finishmatch.readings.table_cells import read_text, text_lines

MAX_VALUES = 700_000
MAX_LINE = 200_000  # characters
MAX_KEYWORDS = 1_000
MAX_FIELDS = 10_000
MAX_TABLES = 1_000
KIND = ""  # the keyword under which the first word of the file stands: what kind of file it calls itself
# the quotes are matched without a way back: of millions in a row it would be kept in the memory
_TOKEN = re.compile(r'"((?:[^"]++|"")*+)"(?=\s|$)|(#.*)|([^\s"#][^\s"]*)')


@dataclass
class CgatsTable:
    """One table of the file: the keywords known when it began, its fields, and its rows with their lines."""

    keywords: dict[str, str]
    fields: list[str] = field(default_factory=list)
    rows: list[tuple[int, list[str]]] = field(default_factory=list)
    fields_line: int = 0


def read_tables(path: Path) -> list[CgatsTable]:
    """Return the tables of a CGATS.17 file.

    Raises
    ------
    InputError
        Names file and line: cut short, too large, values that don't go with the fields or the counts named.
    """
    reader = _TableReader(path)
    number = 0
    for number, tokens in _lines(path):
        reader.take(number, tokens)
    if reader.inside:
        raise InputError(
            f"{path}, line {number}", f"the file ends before {reader.inside}", "it was cut short: export it again"
        )
    if not reader.tables:
        raise InputError(str(path), "has no table of samples (BEGIN_DATA)", "it was cut short: export it again")
    return reader.tables


class _TableReader:
    """The tables of a file, put together line by line; `inside` is the word that ends the part it is in, or ""."""

    def __init__(self, path: Path) -> None:
        self.path = path
        self.tables: list[CgatsTable] = []
        self.inside = ""
        self._keywords: dict[str, str] = {}
        self._table = CgatsTable(self._keywords)
        self._values = 0

    def take(self, number: int, tokens: list[str]) -> None:
        """Take the tokens of a line."""
        where, word = f"{self.path}, line {number}", tokens[0].upper()
        if word == self.inside:
            self._end_part(where)
        elif self.inside == "END_DATA_FORMAT":
            self._table.fields += [token.upper() for token in tokens]
            _bounded(where, len(self._table.fields), MAX_FIELDS, "fields")
        elif self.inside == "END_DATA":
            self._values += len(tokens)
            _bounded(where, self._values, MAX_VALUES, "values")
            _add(self.path, self._table, number, tokens)
        elif word == "BEGIN_DATA_FORMAT":
            self.inside, self._table.fields, self._table.fields_line = "END_DATA_FORMAT", [], number
        elif word == "BEGIN_DATA":
            self.inside, self._table.keywords = "END_DATA", dict(self._keywords)
            if not self._table.fields:
                raise InputError(where, "the samples come before their fields are named", "the file is damaged")
        elif len(tokens) == 1 and not self._keywords:
            self._keywords[KIND] = word
        elif word != "KEYWORD" and len(tokens) > 1:  # that declares a keyword; its value comes in a line of its own
            self._keywords[word] = " ".join(tokens[1:])
            _bounded(where, len(self._keywords), MAX_KEYWORDS, "keywords")

    def _end_part(self, where: str) -> None:
        table, ended, self.inside = self._table, self.inside, ""
        if ended == "END_DATA_FORMAT":
            _check_count(where, self._keywords, "NUMBER_OF_FIELDS", len(table.fields))
            return
        if table.rows and len(table.rows[-1][1]) != len(table.fields):
            raise _short(self.path, table)
        _check_count(where, self._keywords, "NUMBER_OF_SETS", len(table.rows))
        self.tables.append(table)
        _bounded(where, len(self.tables), MAX_TABLES, "tables")
        self._table = CgatsTable(dict(self._keywords), list(table.fields), [], table.fields_line)


def _bounded(where: str, count: int, most: int, what: str) -> None:
    if count > most:
        raise InputError(where, f"the file holds more than {most} {what}", "split it into smaller files")


def _lines(path: Path) -> Iterator[tuple[int, list[str]]]:
    """Yield the number and the tokens of each line that holds any; quotes and comments are taken off."""
    for number, line in enumerate(text_lines(path, read_text(path)), start=1):
        _bounded(f"{path}, line {number}", len(line), MAX_LINE, "characters in a line")
        tokens, at = [], 0
        while at < len(line):
            if line[at].isspace():
                at += 1
                continue
            found = _TOKEN.match(line, at)
            if found is None:
                raise InputError(f"{path}, line {number}", "has a quote that isn't closed, or text after it", "mend it")
            at = found.end()
            if found[2] is None:
                tokens.append(found[3] if found[3] is not None else found[1].replace('""', '"'))
        if tokens:
            yield number, tokens


def _add(path: Path, table: CgatsTable, number: int, tokens: list[str]) -> None:
    """Put a line's values to the samples; a sample may take several lines, but a line holds no more than one."""
    if not table.rows or len(table.rows[-1][1]) == len(table.fields):
        table.rows.append((number, []))
    row = table.rows[-1][1]
    if len(row) + len(tokens) > len(table.fields):
        if row:
            raise _short(path, table)
        raise InputError(
            f"{path}, line {number}",
            f"has {len(tokens)} values where {len(table.fields)} fields are named",
            "export it again",
        )
    row += tokens


def _short(path: Path, table: CgatsTable) -> InputError:
    line, row = table.rows[-1]
    return InputError(
        f"{path}, line {line}", f"has {len(row)} values where {len(table.fields)} fields are named", "export it again"
    )


def _check_count(where: str, keywords: dict[str, str], keyword: str, count: int) -> None:
    named = keywords.pop(keyword, None)
    if named is not None and named.strip() != str(count):
        raise InputError(
            where, f"{keyword} says {named[:20]} and there are {count}", "the file is damaged: export it again"
        )
