"""The code of a label: a formula as a few lines of text that a square code holds, with its version and a checksum.

docs/label.md describes it.
"""

from __future__ import annotations

import math
import re
import zlib
from dataclasses import dataclass
from typing import Any

from finishmatch.errors import InputError
from finishmatch.readings.plain_number import counted, plain_number
from finishmatch.signs import check_name, shown

MARK, VERSION = "FINISHMATCH", 1
LONGEST_BYTES = 1200  # beyond it the squares are too small to be read from a label
LONGEST_NAME = 60  # characters of a name; what is longer is cut
_NEEDS_ESCAPE = re.compile("[%|]")
_ESCAPED = re.compile(r"%([0-9A-F]{2,6})%")
_AGAIN = "photograph the code again, nearer and sharper"


@dataclass(frozen=True)
class LabelPart:
    """A tint of a formula, its Colour Index name ("" where unknown), and grams."""

    tint: str
    colour_index: str
    grams: float


@dataclass(frozen=True)
class LabelCode:
    """What the code of a label holds.

    Parameters
    ----------
    name : str
        Of the colour.
    job, lot : str
        The ref of its job, and the lot of the mix.
    day : str
        YYYY-MM-DD: when it was mixed.
    light : str
    observer : int
    lab : tuple of three float or None
        CIELAB of the target, or of the last card.
    parts : tuple of LabelPart
    """

    name: str
    job: str
    lot: str
    day: str
    light: str
    observer: int
    lab: tuple[float, ...] | None
    parts: tuple[LabelPart, ...]

    def as_dict(self) -> dict[str, Any]:
        """Return the JSON object."""
        fields = {name: value for name, value in vars(self).items() if name not in ("lab", "parts")}
        lab = None if self.lab is None else list(self.lab)
        return {**fields, "lab": lab, "parts": [vars(part) for part in self.parts]}


def label_text(code: LabelCode) -> str:
    """Return what a square code holds.

    Raises
    ------
    InputError
        So many tints that no label has room for their squares.
    """
    lab = "" if code.lab is None else ",".join(f"{value:.2f}" for value in code.lab)
    lines = [
        f"{MARK} {VERSION}",
        _written(code.name),
        "|".join(map(_written, (code.job, code.lot, code.day))),
        f"{code.light}/{code.observer}|{lab}",
        *(f"{_grams(part.grams)}|{_written(part.tint)}|{_written(part.colour_index)}" for part in code.parts),
    ]
    body = "\n".join(lines) + "\n"
    text = body + f"={zlib.crc32(body.encode()):08X}"
    if len(text.encode()) > LONGEST_BYTES:
        what = f"a formula of {len(code.parts)} tints is too long for the code of a label"
        raise InputError(f"job {code.job}", what, "hand the dossier over with it")
    return text


def _grams(grams: float) -> str:
    return f"{grams:.2f}".rstrip("0").rstrip(".") or "0"


def _written(text: str) -> str:
    """Return a name on one line, cut where it is long; what nobody sees, or would be a border, by its number."""
    line = shown(" ".join(text.split()))[:LONGEST_NAME]
    return _NEEDS_ESCAPE.sub(lambda sign: f"%{ord(sign[0]):02X}%", line)


def read_label_text(text: str, where: str) -> LabelCode:
    """Return what the text of a square code says.

    Raises
    ------
    InputError
        Another code, one of a newer form, or one that was read wrong.
    """
    begins, _, version = text.partition("\n")[0].partition(" ")
    try:
        form = counted(version) if begins == MARK else 0
    except ValueError:
        form = 0
    if not form:
        raise InputError(where, "its code is none of a label of this program", "photograph the label itself")
    if form > VERSION:
        raise InputError(where, f"its label is of a newer form ({version[:9]})", "bring finishmatch up to date")
    body, _, checksum = text.rstrip("\n").rpartition("\n")
    body += "\n"
    if checksum != f"={zlib.crc32(body.encode()):08X}":
        raise InputError(where, "its code was read wrong: the checksum doesn't fit", _AGAIN)
    try:
        _, name, made, colour, *parts = body.splitlines()
        job, lot, day = map(_read, made.split("|"))
        viewed, _, lab = colour.partition("|")
        light, _, observer = viewed.partition("/")
        return LabelCode(
            _read(name), job, lot, day, light, int(observer), _lab(lab), tuple(_part(line) for line in parts)
        )
    except ValueError:
        raise InputError(where, "its label doesn't hold what one holds", _AGAIN) from None


def _lab(text: str) -> tuple[float, ...] | None:
    if not text:
        return None
    lab = tuple(plain_number(value) for value in text.split(","))
    if len(lab) != 3 or not all(map(math.isfinite, lab)):
        raise ValueError(text)
    return lab


def _part(line: str) -> LabelPart:
    grams, tint, colour_index = line.split("|")
    weight = plain_number(grams)
    if not (math.isfinite(weight) and weight >= 0):
        raise ValueError(grams)
    return LabelPart(_read(tint), _read(colour_index), weight)


def _read(text: str) -> str:
    read = _ESCAPED.sub(lambda found: chr(int(found[1], 16)), text)
    check_name("the label", read)
    return read
