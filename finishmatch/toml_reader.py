"""TOML, a painter's or what the program comes with."""

from __future__ import annotations

import re
import tomllib
from contextlib import suppress
from importlib import resources
from typing import Any

from finishmatch.errors import InputError
from finishmatch.signs import check_name, check_signs
from finishmatch.understood import understood

MAX_BYTES = 500_000
LARGEST_WHOLE = 2**53
MAX_DEPTH = 32  # of a key with dots: what is read here has three
_STRING = re.compile(r""""(?:[^"\\\n]|\\.)*+"|'[^'\n]*+'""")
_DEEP = re.compile(rf'(?<![\w.-])(?:[\w-]++|"")(?:[ \t]*+\.[ \t]*+(?:[\w-]++|"")){{{MAX_DEPTH},}}')
_BEHIND = r"\s*(#.*)?"
# key = 1,5 (three figures behind the comma may be thousands), and key = 25 um
_COMMA = re.compile(rf"(\s*[\w.-]+\s*=\s*)([-+]?\d+),(?!\d{{3}}(?!\d))(\d+){_BEHIND}", re.ASCII)
_UNIT = re.compile(rf"(\s*[\w.-]+\s*=\s*)([-+]?\d[\d.]*\s*([^\W\d_][\w/^²³]*|%|°[CF])){_BEHIND}")


def parse_toml(text: str, file: str) -> dict[str, Any]:
    """Return what a painter's TOML text holds; `file` is what it is called in messages.

    Raises
    ------
    InputError
        Not TOML, or larger or deeper than any that is asked for; a number beyond all bounds, a sign that can't be seen.
    """
    if len(text) > MAX_BYTES:
        raise InputError(file, f"is larger than {MAX_BYTES // 1000} kB", "name a TOML file that holds what is needed")
    bare = _STRING.sub('""', text)
    if deep := _DEEP.search(bare):
        line = bare.count("\n", 0, deep.start()) + 1
        raise InputError(f"{file}, line {line}", f"has a key of more than {MAX_DEPTH} parts", "mend that line")
    try:
        return _checked(tomllib.loads(text), file)
    except InputError:
        raise
    except (ValueError, RecursionError) as error:  # also numbers of thousands of digits, and brackets within brackets
        mended, how = _mended(text)
        with suppress(ValueError, RecursionError):
            found = _checked(tomllib.loads(mended), file)
            understood(file, how, "mended")
            return found
        raise InputError(file, f"is not valid TOML: {str(error)[:120]}", "mend that line") from None


def _checked(found: dict[str, Any], file: str) -> dict[str, Any]:
    """Return what was found, when its texts hold what can be seen and its whole numbers have a bound."""
    left: list[tuple[str, Any]] = [("", found)]
    while left:
        where, value = left.pop()
        at = f"{file}, {where[:80]}" if where else file
        if isinstance(value, str):
            check_signs(at, value)
        elif isinstance(value, int) and abs(value) > LARGEST_WHOLE:
            raise InputError(at, "holds a number beyond all bounds", "mend that number")
        elif isinstance(value, dict):
            for key, item in value.items():
                check_name(at, key)
                left.append((f"{where} {key}".strip(), item))
        elif isinstance(value, list):
            left += [(where, item) for item in value]
    return found


def _mended(text: str) -> tuple[str, str]:
    """Return a text with a point for a decimal comma and quotes around a number with its unit, and what was so read."""
    lines, how = text.split("\n"), ""
    for i, line in enumerate(lines):
        found = _COMMA.fullmatch(line) or _UNIT.fullmatch(line)
        if found is None:
            continue
        value = f"{found[2]}.{found[3]}" if found.re is _COMMA else f'"{found[2]}"'
        lines[i] = f"{found[1]}{value} {found[4] or ''}"
        how = how or f"line {i + 1}: {line.strip()[:40]!r} is read as {value}"
    return "\n".join(lines), how


def packaged_text(room: str, name: str) -> str:
    """Return a data file that the program comes with, by its room ("finish") and its name in the room's `data`."""
    return resources.files(f"finishmatch.{room}").joinpath("data").joinpath(name).read_text("utf-8")


def packaged_toml(room: str, name: str) -> dict[str, Any]:
    """Return what a TOML file holds that the program comes with."""
    return tomllib.loads(packaged_text(room, name))
