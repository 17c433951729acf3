"""CIELAB as it is typed: what is meant by it, and how it should have been typed where that isn't certain."""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from contextlib import suppress
from dataclasses import dataclass
from functools import cache

from finishmatch.errors import InputError
from finishmatch.readings.plain_number import meant_number, plain_number
from finishmatch.understood import understood

# what begins as L,a,b does is meant as a colour and not as a file
_LAB = re.compile(r"\s*([-+−]?[\d._]+(e[-+]?\d+)?|[-+]?(nan|inf))\s*,[^,/\\]*,[^,/\\]*", re.IGNORECASE)
_EXAMPLE = "52.1,-3.0,4.2"


@dataclass(frozen=True)
class _Writings:
    """How a colour is written otherwise; made when one is, so that the usual doesn't wait."""

    brackets: re.Pattern[str]
    letters: re.Pattern[str]
    numbers: re.Pattern[str]
    of_screen: re.Pattern[str]


@cache
def _writings() -> _Writings:
    number = r"[-+−]?[\d.,]*\d"
    return _Writings(
        re.compile(r"(?:cie)?\s*(?:l\*?a\*?b\*?)?\s*[(\[{]([^()\[\]{}]*)[)\]}]", re.IGNORECASE),
        re.compile(r"\s*[,;/]?\s*".join(rf"{axis}\*?\s*[=:]?\s*({number})" for axis in "lab"), re.IGNORECASE),
        re.compile(r"(?=.*[,;])[\d\s.,;+−-]+|[-+−]?[\d.,]+(?:\s+[-+−]?[\d.,]+)+|[-+−]?\d+(?:\.\d+)?"),
        re.compile(r"#[0-9a-f]{6}|rgb\s*\(.*\)", re.IGNORECASE),
    )


def is_meant_as_lab(text: str) -> bool:
    """Whether a text that is no file is meant as a colour by its numbers."""
    if _LAB.fullmatch(text):
        return True
    other, whole = _writings(), text.strip()
    kinds = (other.numbers, other.brackets, other.letters, other.of_screen)
    return any(kind.fullmatch(whole) for kind in kinds)


def meant_lab(text: str) -> list[float]:
    """Return the three numbers of a typed "L,a,b", finite but not otherwise checked.

    What can be meant one way only is understood: "52,1;-3,0;4,2", "L*=52.1 a*=-3 b*=4.2", "(52.1, -3, 4.2)".

    Raises
    ------
    InputError
        When it isn't three numbers, with how to type it where that can be seen.
    """
    where, whole = f"{text[:60]!r}", text.strip()
    with suppress(ValueError):
        if len(plain := [plain_number(part) for part in whole.split(",")]) == 3 and all(map(math.isfinite, plain)):
            return plain
    other = _writings()
    if other.of_screen.fullmatch(whole):
        raise InputError(where, "is a screen's colour, which isn't measured", f"give L,a,b, for example {_EXAMPLE}")
    if found := other.letters.fullmatch(whole):
        return _said(where, _numbers(where, [part.rstrip(",") for part in found.groups()], comma=True))
    inner = found[1] if (found := other.brackets.fullmatch(whole)) else whole
    if ";" in inner:
        return _said(where, _numbers(where, inner.split(";"), comma=True))
    lab = _numbers(where, inner.split(","))
    return _said(where, lab) if inner != whole or re.search("[−–]", inner) else lab


def meant_difference(text: str) -> list[float]:
    """Return the three numbers of a typed difference "dL,da,db", trial minus standard.

    Raises
    ------
    InputError
        When it isn't three numbers.
    """
    semicolons = ";" in text
    try:
        delta = [meant_number(part, comma=semicolons)[0] for part in text.split(";" if semicolons else ",")]
    except ValueError:
        delta = []
    if len(delta) != 3 or not all(map(math.isfinite, delta)):
        mend = "write dL,da,db, trial minus standard, for example -0.4,0.3,1.1"
        raise InputError("`difference`", f"{text[:60]!r} is not three numbers", mend)
    return delta


def _said(where: str, lab: list[float]) -> list[float]:
    understood(where, f"read as L* {lab[0]:g}, a* {lab[1]:g}, b* {lab[2]:g}")
    return lab


def _numbers(where: str, parts: Sequence[str], comma: bool = False) -> list[float]:
    try:
        lab = [meant_number(part, comma=comma)[0] for part in parts]
    except ValueError:
        raise InputError(where, "is not L,a,b", _mend(where)) from None
    if len(lab) != 3 or not all(math.isfinite(value) for value in lab):
        raise InputError(where, "is not three numbers L,a,b", _mend(where))
    return lab


def _mend(where: str) -> str:
    """Return how to type what stands in quotes, where that can be seen, or an example."""
    text = where.strip("'\"")
    parts = [part.strip(",;") for part in text.split()]
    commas = text.split(",")
    if len(parts) == 3 and (lab := _plainly(parts)):
        return f"type it with commas and no blanks, as {lab}"
    if len(commas) == 6 and (lab := _plainly([".".join(commas[i : i + 2]) for i in (0, 2, 4)])):
        return f"write L,a,b with decimal points, as {lab}"
    if re.fullmatch(r"[-+]?[\d.]+,?", text):
        return f"a colour is three numbers, with commas and no blanks: {_EXAMPLE}"
    return f"write L,a,b with decimal points, for example {_EXAMPLE}"


def _plainly(parts: Sequence[str]) -> str:
    """Return three numbers as they should be typed, or "" when they aren't."""
    try:
        return ",".join(f"{meant_number(part, comma=True)[0]:g}" for part in parts)
    except ValueError:
        return ""
