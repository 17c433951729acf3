"""What a tin holds that harms: as its row of tints.csv says, or else as its Colour Index name lets expect."""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import cache
from importlib import resources

from finishmatch.errors import InputError
from finishmatch.readings.ghs import ghs_word
from finishmatch.readings.table_file import Row

NOTHING = "none"  # written in the hazard column it says that the data sheet was looked at
_LONGEST = 40
# PY34, PY-34, P.Y. 34, C.I. Pigment Yellow 34, with or without a suffix after a colon
_NAME = re.compile(
    r"(?<![A-Za-z])P(?:[.\s_-]{0,2}(Y|O|R|V|Br|Bk|B|G|W|M)"
    r"|igment[\s_-]+(Yellow|Orange|Red|Violet|Blue|Green|Brown|Black|White|Metal))"
    r"[.\s_-]{0,3}0*(\d{1,3})(?::(\d{1,2}))?(?![\dA-Za-z])",
    re.IGNORECASE,
)
# a constitution number: 77603, C.I. 77603, 15865:4
_NUMBER = re.compile(r"(?<![\d:])(\d{5,6})(?::(\d{1,2}))?(?!\d)")
_SHORT = {
    "yellow": "Y", "orange": "O", "red": "R", "violet": "V", "blue": "B", "green": "G", "brown": "BR", "black": "BK",
    "white": "W", "metal": "M",
}  # fmt: skip


def tint_hazards(row: Row) -> tuple[tuple[str, ...], str]:
    """Return what harms in a tin, in words such as "lead", and by what it is known.

    Parameters
    ----------
    row : Row
        Of tints.csv; the column hazard may be missing or empty.

    Returns
    -------
    words : tuple of str
        Lower case, but for the signal word and codes of the GHS; empty when nothing is known.
    source : str
        "tints.csv", or the Colour Index name; "" when nothing is known.

    Raises
    ------
    InputError
        When a word is far too long to be one.
    """
    written = row.cells.get("hazard", "")
    words = tuple(
        dict.fromkeys(
            ghs_word(word) or word.lower()
            for part in re.split(r"[;,/+]", written)
            if (word := " ".join(part.strip().rstrip(".").split()))
        )
    )
    for word in words:
        if len(word) > _LONGEST:
            raise InputError(row.where("hazard"), f"{word[:20]!r}… is not a short word", "write such as lead; chromate")
    if NOTHING in words:
        if len(words) > 1:
            raise InputError(row.where("hazard"), f"says {NOTHING!r} and more", f"leave {NOTHING!r} out")
        return (), ""
    if words:
        return words, "tints.csv"
    found = pigment_hazards(row.cells["colour_index"])
    return tuple(dict.fromkeys(word for words in found.values() for word in words)), ", ".join(found)


def pigment_hazards(colour_index: str) -> dict[str, tuple[str, ...]]:
    """Return the toxic metals of the pigments named, by Colour Index name or constitution number as it was found.

    Notes
    -----
    A number that only repeats a name beside it is left out. «Common practice», from memory: the data sheet wins.
    """
    names, numbers = _known()
    found: dict[str, tuple[str, ...]] = {}
    said: set[str] = set()
    for short, colour, number, suffix in _NAME.findall(colour_index):
        name = f"P{short or _SHORT[colour.lower()]}{number}".upper()
        pigment = names.get(f"{name}:{suffix}") or names.get(name)
        if pigment is not None:
            found[pigment.name] = pigment.hazards
            said |= set(pigment.numbers)
    for number, suffix in _NUMBER.findall(colour_index):
        key = f"{number}:{suffix}" if f"{number}:{suffix}" in numbers else number
        if key in numbers and key not in said:
            found[key] = numbers[key]
    return found


@dataclass(frozen=True)
class _Pigment:
    name: str
    numbers: tuple[str, ...]
    hazards: tuple[str, ...]


@cache
def _known() -> tuple[dict[str, _Pigment], dict[str, tuple[str, ...]]]:
    """Return the pigments by upper-case name, and by constitution number what all that share it hold."""
    text = resources.files("finishmatch.readings").joinpath("data/pigment_hazards.csv").read_text("utf-8")
    rows = [line.split(",") for line in text.splitlines() if line and not line.startswith("#")][1:]
    names = {
        name.upper(): _Pigment(name, tuple(numbers.split()), tuple(hazards.split(";")))
        for name, numbers, hazards, _ in rows
    }
    numbers: dict[str, tuple[str, ...]] = {}
    for pigment in names.values():
        for number in pigment.numbers:
            numbers[number] = tuple(dict.fromkeys((*numbers.get(number, ()), *pigment.hazards)))
    return names, numbers
