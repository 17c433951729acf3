"""CIELAB as it is typed: what is meant by it, and how it should have been typed where that isn't certain."""

from __future__ import annotations

import math
import re
from collections.abc import Sequence

from finishmatch.errors import InputError
from finishmatch.readings.plain_number import meant_number
from finishmatch.understood import understood

_NUMBER = r"[-+−]?[\d.,]*\d"
_BRACKETS = re.compile(r"(?:cie)?\s*(?:l\*?a\*?b\*?)?\s*[(\[{]([^()\[\]{}]*)[)\]}]", re.IGNORECASE)
_LETTERS = re.compile(
    rf"l\*?\s*[=:]?\s*({_NUMBER})\s*[,;/]?\s*a\*?\s*[=:]?\s*({_NUMBER})\s*[,;/]?\s*b\*?\s*[=:]?\s*({_NUMBER})",
    re.IGNORECASE,
)
# what begins as L,a,b does, or holds nothing but numbers and their marks, is meant as a colour and not as a file
_LAB = re.compile(r"\s*([-+−]?[\d._]+(e[-+]?\d+)?|[-+]?(nan|inf))\s*,[^,/\\]*,[^,/\\]*", re.IGNORECASE)
_NUMBERS = re.compile(r"(?=.*[,;])[\d\s.,;+−-]+|\s*[-+−]?[\d.,]+(?:\s+[-+−]?[\d.,]+)+\s*|\s*[-+−]?\d+(?:\.\d+)?\s*")
_OF_SCREEN = re.compile(r"#[0-9a-f]{6}|rgb\s*\(.*\)", re.IGNORECASE)
_EXAMPLE = "52.1,-3.0,4.2"


def is_meant_as_lab(text: str) -> bool:
    """Whether a text that is no file is meant as a colour by its numbers."""
    kinds = (_LAB, _NUMBERS, _BRACKETS, _LETTERS, _OF_SCREEN)
    return any(kind.fullmatch(text.strip()) for kind in kinds)


def meant_lab(text: str) -> list[float]:
    """Return the three numbers of a typed "L,a,b", finite but not otherwise checked.

    What can be meant one way only is understood: "52,1;-3,0;4,2", "L*=52.1 a*=-3 b*=4.2", "(52.1, -3, 4.2)".

    Raises
    ------
    InputError
        When it isn't three numbers, with how to type it where that can be seen.
    """
    where, whole = f"{text[:60]!r}", text.strip()
    if _OF_SCREEN.fullmatch(whole):
        raise InputError(where, "is a screen's colour, which isn't measured", f"give L,a,b, for example {_EXAMPLE}")
    if found := _LETTERS.fullmatch(whole):
        return _said(where, _numbers(where, [part.rstrip(",") for part in found.groups()], comma=True))
    inner = found[1] if (found := _BRACKETS.fullmatch(whole)) else whole
    if ";" in inner:
        return _said(where, _numbers(where, inner.split(";"), comma=True))
    lab = _numbers(where, inner.split(","))
    return _said(where, lab) if inner != whole or re.search("[−–]", inner) else lab


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
