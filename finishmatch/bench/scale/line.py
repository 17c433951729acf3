"""What a line of a scale says: a number with a unit of mass, and whether the pan is still.

Scales differ in all else. So any line is read that holds one number and, behind it, a unit; signs set apart from the
number, fillers, and words before and behind it are passed over. Stable or not is told by the marks that are usual on
serial lines («common practice»): ST or S and US, SD or D, or a question mark; where there is none it isn't known.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

# grams; avoirdupois and troy by their legal definitions in grams
UNITS_G = {
    "g": 1.0,
    "gr": 1.0,
    "gram": 1.0,
    "grams": 1.0,
    "kg": 1000.0,
    "mg": 0.001,
    "t": 1_000_000.0,
    "ct": 0.2,
    "car": 0.2,
    "oz": 28.349523125,
    "ozt": 31.1034768,
    "lb": 453.59237,
    "lbs": 453.59237,
    "dwt": 1.55517384,
    "gn": 0.06479891,
}
LONGEST = 200
MOST_G = 1_000_000.0

_WEIGHT = re.compile(
    r"(?P<sign>[-+−]?)\s*(?P<number>\d{1,7}(?:[.,]\d{1,6})?|[.,]\d{1,6})\s*(?P<unit>[a-z]{1,5})\b", re.IGNORECASE
)
_STILL = re.compile(r"(?:^|[^a-z])(?:st|s|stable|stat)(?:$|[^a-z])", re.IGNORECASE)
_MOVING = re.compile(r"(?:^|[^a-z])(?:us|sd|d|unst|unstable|dyn)(?:$|[^a-z])|\?", re.IGNORECASE)
_NO_WEIGHT = re.compile(r"(?:^|[^a-z])(?:ol|ovl|over|under|ul|err|error|overload)(?:$|[^a-z])", re.IGNORECASE)


@dataclass(frozen=True)
class ScaleLine:
    """A weight as a line says it; `still` is None where the line doesn't tell."""

    grams: float
    still: bool | None = None


def read_line(line: str) -> ScaleLine | None:
    """Return the weight of a line, or None where it holds none: a header, an overload, another quantity.

    Parameters
    ----------
    line : str
        Without its end.
    """
    text = line[:LONGEST].strip()
    if _NO_WEIGHT.search(text):
        return None
    found = [one for one in _WEIGHT.finditer(text) if one["unit"].lower() in UNITS_G]
    if len(found) != 1:
        return None
    one = found[0]
    grams = float(one["number"].replace(",", ".")) * UNITS_G[one["unit"].lower()]
    if grams > MOST_G:
        return None
    rest = text[: one.start()] + " " + text[one.end() :]
    still = False if _MOVING.search(rest) else True if _STILL.search(rest) else None
    return ScaleLine(-grams if one["sign"] in ("-", "−") else grams, still)
