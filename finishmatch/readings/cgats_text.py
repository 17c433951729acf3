"""CGATS.17 text taken apart: keywords, and tables of tokens with their lines. What they mean is told in cgats."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path

from finishmatch.errors import InputError
from finishmatch.readings.table_file import read_text

MAX_VALUES = 4_000_000
_TOKEN = re.compile(r'"((?:[^"]|"")*)"(?=\s|$)|(#.*)|([^\s"#][^\s"]*)')


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
        Names file and line: cut short, too large, values that don't go with the fields or the counts told.
    """
    tables: list[CgatsTable] = []
    keywords: dict[str, str] = {}
    table, inside, values = CgatsTable(keywords), "", 0
    number = 0
    for number, tokens in _lines(path):
        where, word = f"{path}, line {number}", tokens[0].upper()
        if inside == "format":
            if word == "END_DATA_FORMAT":
                inside = ""
                _check_count(where, keywords, "NUMBER_OF_FIELDS", len(table.fields))
            else:
                table.fields += [token.upper() for token in tokens]
        elif inside == "data":
            if word == "END_DATA":
                inside = ""
                if table.rows and len(table.rows[-1][1]) != len(table.fields):
                    raise _short(path, table)
                _check_count(where, keywords, "NUMBER_OF_SETS", len(table.rows))
                tables.append(table)
                table = CgatsTable(dict(keywords), list(table.fields), [], table.fields_line)
                continue
            values += len(tokens)
            if values > MAX_VALUES:
                raise InputError(where, f"the file holds more than {MAX_VALUES} values", "part it into smaller files")
            _add(path, table, number, tokens)
        elif word == "BEGIN_DATA_FORMAT":
            inside, table.fields, table.fields_line = "format", [], number
        elif word == "BEGIN_DATA":
            inside, table.keywords = "data", dict(keywords)
            if not table.fields:
                raise InputError(where, "the samples come before their fields are named", "the file is damaged")
        elif word == "KEYWORD":
            continue  # it declares a keyword; its value comes in a line of its own
        elif len(tokens) > 1:
            keywords[word] = " ".join(tokens[1:])
    if inside:
        end = "END_DATA_FORMAT" if inside == "format" else "END_DATA"
        raise InputError(f"{path}, line {number}", f"the file ends before {end}", "it was cut short: export it again")
    if not tables:
        raise InputError(str(path), "has no table of samples (BEGIN_DATA)", "it was cut short: export it again")
    return tables


def _lines(path: Path) -> Iterator[tuple[int, list[str]]]:
    """Yield the number and the tokens of each line that holds any; quotes and comments are taken off."""
    for number, line in enumerate(re.split(r"\r\n|\r|\n", read_text(path)), start=1):
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
    told = keywords.pop(keyword, None)
    if told is not None and told.strip() != str(count):
        raise InputError(
            where, f"{keyword} says {told[:20]} and there are {count}", "the file is damaged: export it again"
        )
