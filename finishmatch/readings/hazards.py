"""What a tin holds that harms: as its row of tints.csv says, or else as its Colour Index name lets expect."""

from __future__ import annotations

import re
from functools import cache
from importlib import resources

from finishmatch.errors import InputError
from finishmatch.readings.table_file import Row

NOTHING = "none"  # written in the hazard column it says that the data sheet was looked at
_LONGEST = 40
# PY34, P.Y. 34, C.I. Pigment Yellow 34; the suffix after a colon is left off
_NAME = re.compile(
    r"\bP(?:\.?\s?(Y|O|R|V|B|G|Br|Bk|W)\.?|igment\s+(Yellow|Orange|Red|Violet|Blue|Green|Brown|Black|White))\s?(\d+)\b",
    re.IGNORECASE,
)
_SHORT = {
    "yellow": "Y", "orange": "O", "red": "R", "violet": "V", "blue": "B", "green": "G", "brown": "BR", "black": "BK",
    "white": "W",
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
        Lower case; empty when nothing is known.
    source : str
        "tints.csv", or the Colour Index name; "" when nothing is known.

    Raises
    ------
    InputError
        When a word is far too long to be one.
    """
    written = row.cells.get("hazard", "")
    words = tuple(
        dict.fromkeys(word.lower() for part in re.split(r"[;,/+]", written) if (word := " ".join(part.split())))
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
    """Return the toxic metals of the pigments named, by Colour Index name; «common practice»: the data sheet wins."""
    known = _known()
    names = [
        f"P{short or _SHORT[colour.lower()]}{number}".upper() for short, colour, number in _NAME.findall(colour_index)
    ]
    return dict(known[name] for name in names if name in known)


@cache
def _known() -> dict[str, tuple[str, tuple[str, ...]]]:
    """Return by upper-case name: the name as it is spelt, and its metals."""
    text = resources.files("finishmatch.readings").joinpath("data/pigment_hazards.csv").read_text("utf-8")
    rows = [line.split(",") for line in text.splitlines() if line and not line.startswith("#")][1:]
    return {name.upper(): (name, tuple(hazard.split())) for name, hazard, _ in rows}
