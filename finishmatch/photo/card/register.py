"""What the shop's own print of the card really reads: registered once, kept in the shop's home, asked for by name.

For the reader of photographs: ``registered_card(home)`` returns the print that was registered last, or None;
``card.readings["grey"].lab_in(light, observer)`` is what the printed grey reads. The names are those of
``card_layout().patches``; white, grey and black are always there, the colours when the shop read them.
"""

from __future__ import annotations

import json
import os
import re
from collections.abc import Mapping
from dataclasses import dataclass
from itertools import combinations
from pathlib import Path
from typing import Any

import numpy as np

from finishmatch.colour import LIGHTS, OBSERVERS, WAVELENGTHS_NM, de00
from finishmatch.colour.display import srgb_to_lab
from finishmatch.colour.grid import GEOMETRIES, SIZE
from finishmatch.errors import InputError
from finishmatch.files import read_file, write_new_file
from finishmatch.photo.card.layout import card_layout
from finishmatch.readings.reading import Reading

FOLDER = "cards"
NEEDED = ("white", "grey", "black")
MAX_BYTES = 5_000_000
FORM = 1  # the form of the kept file
CARD = "card"  # what kept files of prints are named by
_NAME = re.compile(r"[^\x00-\x1f\x7f]{1,60}")
# a print may be far off what was meant; but when exchanging two fields brings this much, ΔE00, they were exchanged
EXCHANGED_DE00 = 6.0
PAPER_L, BLACK_L = 75.0, 45.0


@dataclass(frozen=True)
class RegisteredCard:
    """A print of the card as the shop read it.

    Parameters
    ----------
    number : int
        Counts the registrations of this home from 1.
    name : str
        What the shop calls the print.
    registered : str
        When, UTC in ISO 8601.
    readings : dict of str to Reading
        By the name of the field; "white", "grey" and "black" at least.
    """

    number: int
    name: str
    registered: str
    readings: dict[str, Reading]


def check_card(readings: Mapping[str, Reading], where: str) -> tuple[dict[str, Reading], tuple[str, ...]]:
    """Return the readings of a print in the order of the scale, and what is odd about them.

    Raises
    ------
    InputError
        A name that isn't on the card, white, grey or black missing, or the three not in that order of lightness.
    """
    scale = [patch.name for patch in card_layout().patches]
    for name in readings:
        if name not in scale:
            raise InputError(where, f"{name[:40]!r} is not a field of the card", "use " + ", ".join(scale))
    missing = [name for name in NEEDED if name not in readings]
    if missing:
        raise InputError(
            where, f"there is no reading of {' and '.join(missing)}", "read white, grey and black at least"
        )
    sorted_readings = {name: readings[name] for name in scale if name in readings}
    lights = {(reading.light, reading.observer) for reading in sorted_readings.values() if not reading.is_spectral}
    if len(lights) > 1:
        raise InputError(where, "the Lab readings are under several lights or observers", "give all under one")
    light, observer = next(iter(lights), ("D65", 10))
    lab = {name: reading.lab_in(light, observer) for name, reading in sorted_readings.items()}
    white, grey, black = (float(lab[name][0]) for name in NEEDED)
    if not white > grey > black:
        raise InputError(
            where,
            f"white, grey and black read L* {white:.0f}, {grey:.0f} and {black:.0f}",
            "see that no rows were exchanged",
        )
    warnings = list(dict.fromkeys(note for reading in sorted_readings.values() for note in reading.warnings))
    if white < PAPER_L:
        warnings.append(f"the paper reads L* {white:.0f}: a whiter paper serves better")
    if black > BLACK_L:
        warnings.append(f"the black reads L* {black:.0f}: check the ink, or print on another paper")
    if lights:
        warnings.append(
            f"the card is registered as Lab under {light}, {observer}°: photographs are read for that light alone"
        )
    return sorted_readings, (*warnings, *_exchanged(lab))


def _exchanged(lab: Mapping[str, Any]) -> list[str]:
    """Return a word for every two fields that come nearer to what was meant when their readings are exchanged."""
    meant = {patch.name: srgb_to_lab(np.array(patch.srgb)) for patch in card_layout().patches}
    off = {name: {other: float(de00(meant[other], value)) for other in lab} for name, value in lab.items()}
    return [
        f"{one} reads more like what is printed as {other}, and {other} like {one}: see that they were not exchanged"
        for one, other in combinations(lab, 2)
        if off[one][one] + off[other][other] - off[one][other] - off[other][one] > EXCHANGED_DE00
    ]


def register_card(home: Path, name: str, readings: Mapping[str, Reading], registered: str) -> RegisteredCard:
    """Keep a print in a home; earlier ones stay, and the latest is used.

    Parameters
    ----------
    home : Path
        The folder of the ledger; the card is kept beside it, in the folder "cards".
    name : str
        What the shop calls the print.
    readings : mapping of str to Reading
        As `check_card` returns them.
    registered : str
        When, UTC in ISO 8601.

    Raises
    ------
    InputError
        A name that is none, or a folder that can't be written in; nothing is kept then.
    """
    name = name.strip()
    if not _NAME.fullmatch(name):
        raise InputError("`name`", f"{name[:40]!r} is not a name for a card", "1 to 60 letters on one line")
    folder = Path(home) / FOLDER
    document = {
        "form": FORM,
        "name": name,
        "registered": registered,
        "wavelengths": WAVELENGTHS_NM.tolist(),
        "readings": {field: _as_document(reading) for field, reading in readings.items()},
    }
    number = keep_numbered(json.dumps(document, ensure_ascii=False, indent=1), folder, CARD)
    return RegisteredCard(number, name, registered, dict(readings))


def keep_numbered(text: str, folder: Path, kind: str) -> int:
    """Write a registration under the next free number of its kind and return it; two bays at once get one each.

    Raises
    ------
    InputError
        The folder can't be written in; nothing is kept then.
    """
    mend = "set FINISHMATCH_HOME to a folder you may write in"
    try:
        folder.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
        folder.mkdir(mode=0o700, exist_ok=True)
        number = max(numbers_kept(folder, kind), default=0) + 1
    except OSError as error:
        raise InputError(str(folder), f"can't be written: {error.strerror}", mend) from None
    while not write_new_file(kept_file(folder, kind, number), text, where=str(folder), mend=mend, private=True):
        number += 1
    return number


def kept_file(folder: Path, kind: str, number: int) -> Path:
    """Return where a registration is kept."""
    return folder / f"{kind}-{number:04d}.json"


def numbers_kept(folder: Path, kind: str) -> list[int]:
    """Return the numbers of the registrations of a kind, sorted; none where there is no folder.

    Raises
    ------
    InputError
        The folder can't be read.
    """
    named = re.compile(rf"{kind}-(\d{{4,9}})\.json")
    try:
        return sorted(int(found[1]) for name in os.listdir(folder) if (found := named.fullmatch(name)))
    except (FileNotFoundError, NotADirectoryError):
        return []
    except OSError as error:
        raise InputError(str(folder), f"can't be read: {error.strerror}", "check its permissions") from None


def registered_cards(home: Path) -> tuple[RegisteredCard, ...]:
    """Return every print that was registered in a home, the first first.

    Raises
    ------
    InputError
        A kept file that is damaged.
    """
    folder = Path(home) / FOLDER
    return tuple(_load(kept_file(folder, CARD, number), number) for number in numbers_kept(folder, CARD))


def registered_card(home: Path, name: str = "") -> RegisteredCard | None:
    """Return the print that was registered last, of a name when one is given; None when there is none.

    Raises
    ------
    InputError
        The kept file is damaged, or there are prints but none of that name.
    """
    cards = registered_cards(home)
    if not name:
        return cards[-1] if cards else None
    of_name = [card for card in cards if card.name == name.strip()]
    if cards and not of_name:
        known = ", ".join(dict.fromkeys(card.name for card in cards))
        raise InputError(str(Path(home) / FOLDER), f"no card named {name[:40]!r} is registered", f"known: {known}")
    return of_name[-1] if of_name else None


def _as_document(reading: Reading) -> dict[str, Any]:
    return {
        "repeats": np.round(reading.repeats, 6).tolist(),
        "light": reading.light,
        "observer": reading.observer,
        "geometry": reading.geometry,
    }


def _load(path: Path, number: int) -> RegisteredCard:
    try:
        document = json.loads(read_file(path, MAX_BYTES))
        if document["form"] != FORM or document["wavelengths"] != WAVELENGTHS_NM.tolist():
            raise ValueError(document["form"])
        readings = {str(name): _reading(str(name), kept, path) for name, kept in document["readings"].items()}
        if not set(NEEDED) <= set(readings):
            raise KeyError("white, grey or black")
        return RegisteredCard(number, str(document["name"]), str(document["registered"]), readings)
    except InputError:
        raise
    except (ValueError, KeyError, TypeError, AttributeError, RecursionError):
        raise InputError(
            str(path), "is damaged, or of a later version", "move it away, and register the card again"
        ) from None


def _reading(name: str, kept: Mapping[str, Any], path: Path) -> Reading:
    repeats = np.array(kept["repeats"], dtype=float)
    if repeats.ndim != 2 or repeats.shape[1] not in (3, SIZE) or not len(repeats) or not np.isfinite(repeats).all():
        raise ValueError(name)
    if kept["light"] not in LIGHTS or kept["observer"] not in OBSERVERS or kept["geometry"] not in ("", *GEOMETRIES):
        raise ValueError(name)
    return Reading(name, repeats, kept["light"], kept["observer"], kept["geometry"], path)


def card_form() -> str:
    """Return an empty readings file for a print of the card, which names the order of the scale."""
    names = [patch.name for patch in card_layout().patches]
    half = len(names) // 2
    nm = [f"{value:g}" for value in WAVELENGTHS_NM]
    lines = [
        "# What a print of the spray-out card reads, one row for each reading; several rows of one name are repeats.",
        "# The printed scale, from the left: upper row " + ", ".join(names[:half]) + ";",
        "# lower row " + ", ".join(names[half:]) + ".",
        "# White is the bare paper; black may be read on the stripes. These three are needed: white, grey, black.",
        "# Leave out the rows of colours that you don't read. Values are reflectance, all 0 to 1 or all in percent.",
        "# Where the instrument gives only Lab, use the columns name,L,a,b,light,observer instead.",
        ",".join(["name", *nm]),
        *(f"{name}{',' * len(nm)}" for name in names),
    ]
    return "\n".join(lines) + "\n"
