"""A quantity as a painter writes it, number and unit, brought to the house unit once, where it enters.

What could be metric or US carries its unit; a bare number is refused. The factors are pint's.
"""

from __future__ import annotations

import math
import re
import unicodedata
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from typing import Any

from finishmatch.errors import InputError
from finishmatch.near_names import did_you_mean
from finishmatch.readings.plain_number import number_hint, plain_number, understood_number
from finishmatch.understood import understood


@dataclass(frozen=True)
class Dimension:
    """What a quantity measures.

    Parameters
    ----------
    meaning : str
        "an area".
    house : str
        The unit it is brought to, as pint names it.
    units : mapping of str to str
        What a painter may write, in small letters without dots, and what pint calls it.
    examples : tuple of str
        How it is written, metric first.
    strange : mapping of str to str
        Units that are easily written here, and why they are refused.
    most : float
        More than this, in the house unit, is a slip.
    """

    meaning: str
    house: str
    units: Mapping[str, str]
    examples: tuple[str, str]
    strange: Mapping[str, str]
    most: float = math.inf


def _spellings(*groups: tuple[str, str]) -> dict[str, str]:
    return {spelling: unit for spellings, unit in groups for spelling in spellings.split("|")}


AREA = Dimension(
    "an area",
    "meter**2",
    _spellings(
        ("m2|sq m|m^2|square metre|square metres|square meters", "meter**2"),
        ("dm2|dm^2", "decimeter**2"),
        ("cm2|sq cm|cm^2", "centimeter**2"),
        ("ft2|sq ft|sqft|ft^2|square feet|square foot", "foot**2"),
        ("in2|sq in|in^2", "inch**2"),
        ("yd2|sq yd", "yard**2"),
    ),
    ("2.1 m2", "22 ft2"),
    {},
    most=1e4,
)
BUILD = Dimension(
    "a film build",
    "micrometer",
    _spellings(("um|μm|micron|microns|micrometre|micrometres", "micrometer"), ("mil|mils|thou", "thou"), ("mm", "mm")),
    ("25 um", "1 mil"),
    {},
    most=1e4,
)
VOLUME = Dimension(
    "a volume",
    "liter",
    _spellings(
        ("l|litre|litres|liter|liters", "liter"),
        ("ml|cc|cm3", "milliliter"),
        ("gal|us gal|gallon|gallons|us gallon|us gallons", "US_liquid_gallon"),
        ("qt|us qt|quart|quarts", "US_liquid_quart"),
        ("pt|us pt|pint|pints", "US_pint"),
        ("fl oz|us fl oz|floz", "US_fluid_ounce"),
        ("imp gal|uk gal|imperial gallon", "imperial_gallon"),
        ("imp pt|uk pt", "imperial_pint"),
    ),
    ("1.2 l", "0.5 gal"),
    {"oz": "oz is a weight", "mil": "a mil is a film build", "mils": "a mil is a film build"},
)
WEIGHT = Dimension(
    "a weight",
    "gram",
    _spellings(("g|gram|grams", "gram"), ("kg", "kilogram"), ("oz|ounce|ounces", "ounce"), ("lb|lbs|pound", "pound")),
    ("500 g", "18 oz"),
    {"fl oz": "fl oz is a volume"},
)
TEMPERATURE = Dimension(
    "a temperature",
    "degC",
    _spellings(("c|°c|degc|deg c|celsius", "degC"), ("f|°f|degf|deg f|fahrenheit", "degF"), ("k|kelvin", "kelvin")),
    ("20 C", "68 F"),
    {},
    most=300,
)
DENSITY = Dimension(
    "a density",
    "kilogram/liter",
    _spellings(
        ("kg/l|g/ml|g/cm3|g/cc", "kilogram/liter"),
        ("g/l|kg/m3", "gram/liter"),
        ("lb/gal|lbs/gal|lb/us gal|lb/usg", "pound/US_liquid_gallon"),
    ),
    ("1.15 kg/l", "9.6 lb/gal"),
    {},
    most=12,
)
CONTENT = Dimension(
    "a content",
    "gram/liter",
    _spellings(
        ("g/l", "gram/liter"),
        ("kg/l", "kilogram/liter"),
        ("lb/gal|lbs/gal|lb/us gal|lb/usg", "pound/US_liquid_gallon"),
    ),
    ("420 g/l", "3.5 lb/gal"),
    {},
)
TIME = Dimension(
    "a time",
    "minute",
    _spellings(
        ("min|mins|minute|minutes", "minute"),
        ("h|hr|hrs|hour|hours", "hour"),
        ("d|day|days", "day"),
        ("s|sec", "second"),
    ),
    ("15 min", "2 h"),
    {"m": "m could be metres or minutes"},
    most=525_600,
)
ABSOLUTE_ZERO_C = -273.15
_ONE = re.compile(r"([-+]?[\d.]+(?:e[-+]?\d+)?)\s*(.*)", re.IGNORECASE)
_WITH_COMMA = re.compile(r"[-+]?[\d.]*,[\d.,]*\d")
_CARRIES_UNIT = re.compile(r"[-+−]?[\d.,]*\d\.?\s*[^\W\d_]\D*[23]?")
_SEVERAL = re.compile(r"([\d.]+)\s*([a-z]*)\s*")  # of times: 1 h 30 min


def quantity(where: str, text: object, kind: Dimension, above: float = -math.inf, least: float = -math.inf) -> float:
    """Return a written quantity in the house unit.

    Parameters
    ----------
    where : str
        The option, or the file and key, for the message.
    text : object
        As written, such as "2.1 m2", "1 h 30 min"; a bare number is refused.
    kind : Dimension
    above, least : float
        In the house unit: the value must be above the one, and not below the other.

    Raises
    ------
    InputError
        No number, no unit, a unit that isn't known or is of something else, a value out of bounds.
    """
    shown = str(text).strip()[:40]
    metric, us = kind.examples
    if isinstance(text, int | float) and not isinstance(text, bool):
        raise _unitless(where, f"{text:g}", kind)
    if not isinstance(text, str) or not shown:
        raise InputError(where, f"{shown!r} is not {kind.meaning}", f'write it with its unit, as "{metric}" or "{us}"')
    tidy = _with_points(where, _tidy(text))
    pairs = [] if "," in tidy else _pairs_of(tidy, kind is TIME)
    if not pairs:
        hint = _comma_hint(tidy) if "," in tidy else f'write "{metric}" or "{us}"'
        raise InputError(where, f"{shown!r} is not {kind.meaning}", hint)
    value = sum(_one(where, number, unit, kind) for number, unit in pairs)
    if not math.isfinite(value):
        raise InputError(where, f"{shown!r} is not a finite number", f'write "{metric}" or "{us}"')
    if value > kind.most:
        raise InputError(where, f"{shown} is too much for {kind.meaning} here", "check the number and its unit")
    if kind is TEMPERATURE and value < ABSOLUTE_ZERO_C:
        raise InputError(where, f"{shown} is colder than is possible", "check the number and its unit")
    if value <= above or value < least:
        bound = "above 0" if above == 0 else f"above {above:g}" if value <= above else f"at least {least:g}"
        raise InputError(where, f"{shown} can't be {kind.meaning} here", f"it must be {bound}")
    return value


def carries_unit(text: str) -> bool:
    """Whether a text is a number with letters behind it, as "25 µm" is."""
    return bool(_CARRIES_UNIT.fullmatch(text.strip()))


def share(where: str, value: object, *, whole: bool = True, none: bool = False) -> float:
    """Return a share of 0 to 1, written "0.42" or "42 %".

    Parameters
    ----------
    where : str
    value : object
        A number, or a text.
    whole, none : bool
        Whether 1, and whether 0, may be written.

    Raises
    ------
    InputError
        Over 1, below 0, or no number.
    """
    text = str(value).strip()
    percent = text.endswith("%")
    try:
        if isinstance(value, bool):
            raise ValueError
        number = understood_number(where, text.removesuffix("%")) / (100 if percent else 1)
    except ValueError:
        raise InputError(where, f"{text[:40]!r} is not a share", 'write it as 0.42 or "42 %"') from None
    if percent and 0 < number < 0.01:
        understood(where, f"{text[:20]!r} is read as {number:g}, which is less than one in a hundred")
    if number > 1 or (number == 1 and not whole):
        mend = f"{number:g} % is written {number / 100:g}" if not percent and 2 <= number <= 100 else "write 0 to 1"
        extent = "over 1" if number > 1 else "the whole of it"
        raise InputError(where, f"{text[:40]} is {extent}", mend)
    if number < 0 or (number == 0 and not none):
        raise InputError(where, f"{text[:40]} is too small for a share", "write what is above 0, to 1")
    return number


def converted(value: float, house: str, unit: str) -> float:
    """Return a value of one unit in another, both as pint names them."""
    if unit == house:
        return value
    return float(_registry().Quantity(value, house).to(unit).magnitude)


@cache
def _registry() -> Any:
    # pint and its table of units take a third of a second, and what is in the house's own unit needs neither
    from pint import UnitRegistry

    return UnitRegistry()


def _tidy(text: str) -> str:
    text = unicodedata.normalize("NFKC", text).replace("−", "-").casefold().strip()
    return re.sub(r"\s*/\s*", "/", re.sub(r"(?<=[^\W\d])\.(?!\d)", "", " ".join(text.split())))


def _with_points(where: str, text: str) -> str:
    """Return a quantity with a decimal point in place of a comma that can be nothing else."""
    found = _WITH_COMMA.match(text)
    if not found:
        return text
    try:
        value = understood_number(where, found[0])
    except ValueError:
        return text
    return f"{value:.15g}{text[found.end() :]}"


def _comma_hint(text: str) -> str:
    found = _WITH_COMMA.match(text)
    return number_hint(found[0]) if found else "write the number with a decimal point"


def _pairs_of(text: str, several: bool) -> list[tuple[str, str]]:
    """Return numbers with the unit after each, or nothing when it isn't that."""
    if several and re.fullmatch(f"(?:{_SEVERAL.pattern})+", text):
        return [(number, unit) for number, unit in _SEVERAL.findall(text)]
    found = _ONE.fullmatch(text)
    return [(found[1], found[2])] if found else []


def _one(where: str, number: str, unit: str, kind: Dimension) -> float:
    try:
        value = plain_number(number)
    except ValueError:
        raise InputError(where, f"{number[:40]!r} is not a number", "write it with one decimal point") from None
    if not unit:
        raise _unitless(where, number, kind)
    if unit in kind.units:
        return converted(value, kind.units[unit], kind.house)
    metric, us = kind.examples
    if unit in kind.strange:
        raise InputError(where, f"{kind.strange[unit]}, and this is {kind.meaning}", f'write "{metric}" or "{us}"')
    others = [other.meaning for other in DIMENSIONS if unit in other.units]
    if others:
        raise InputError(
            where, f"{unit!r} is of {others[0]}, and this is {kind.meaning}", f'write "{metric}" or "{us}"'
        )
    mend = did_you_mean(unit, kind.units, f'write "{metric}" or "{us}"')
    raise InputError(where, f"the unit {unit[:20]!r} is not known", mend)


def _unitless(where: str, number: str, kind: Dimension) -> InputError:
    first, second = (example.split(" ", 1)[1] for example in kind.examples)
    return InputError(
        where,
        f"{number[:40]} has no unit and could be {first} or {second}",
        f'write "{number[:40]} {first}" or "{number[:40]} {second}"',
    )


DIMENSIONS = (AREA, BUILD, VOLUME, WEIGHT, TEMPERATURE, DENSITY, CONTENT, TIME)
