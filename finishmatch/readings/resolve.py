"""What a painter types in place of a colour: a file, one name of a file, or L,a,b."""

from __future__ import annotations

import os
import shlex
from collections.abc import Iterable
from pathlib import Path

import numpy as np

from finishmatch.errors import InputError
from finishmatch.readings.geometry_names import geometry_named
from finishmatch.readings.lab_text import is_meant_as_lab, meant_lab
from finishmatch.readings.reading import Reading


def typed_lab(text: str, light: str = "D65", observer: int = 10, name: str = "typed") -> Reading:
    """Return the reading of a typed "L,a,b".

    Raises
    ------
    InputError
        When it isn't three finite numbers, L* is outside 0 to 120, or a* or b* outside ±200.
    """
    lab = meant_lab(text)
    if not 0 <= lab[0] <= 120:
        raise InputError(f"{text[:60]!r}", f"L* is {lab[0]:g}", "L* goes from 0 to 120, and of a white it is 100")
    if max(abs(lab[1]), abs(lab[2])) > 200:
        raise InputError(f"{text[:60]!r}", "a* or b* is beyond 200", "check the numbers")
    return Reading(name, np.array([lab]), light, observer)


def resolve_reading(text: str, light: str = "D65", observer: int = 10) -> Reading:
    """Return the reading a painter means.

    Parameters
    ----------
    text : str
        "L,a,b", a file of readings with one name in it, "FILE@NAME", or "FILE@NAME:GEOMETRY" for one of several
        geometries the sample was read in.
    light, observer
        What a typed L,a,b is taken under.

    Returns
    -------
    Reading

    Raises
    ------
    InputError
        Also when a file holds several names and none was said.
    """
    if not text.strip():
        raise InputError("", "a colour is empty", "give L,a,b, a readings file, or FILE@NAME")
    if is_meant_as_lab(text) and not _exists(text):
        return typed_lab(text, light, observer)
    # the file readers are imported here so that two typed colours cost no more than they must
    from finishmatch.readings.any_file import read_readings

    path, name = split_name(text)
    readings = read_readings(path)
    if not name:
        if len(readings) > 1:
            raise InputError(
                str(path),
                f"holds {len(readings)} names ({_some(readings)})",
                f"say which, for example {shlex.quote(f'{path}@{next(iter(readings))}')}",
            )
        return next(iter(readings.values()))
    if name not in readings:
        whole, colon, view = name.rpartition(":")
        if colon and whole.strip() in readings:
            return readings[whole.strip()].view(geometry_named(view) or view)
        raise InputError(str(path), f"has no reading named {name[:40]!r}", "it has " + _some(readings))
    return readings[name]


def _exists(text: str) -> bool:
    try:
        return os.path.exists(text)
    except ValueError:
        return False


def _some(readings: Iterable[str]) -> str:
    """Return the first names, for a message."""
    names = list(readings)
    return ", ".join(name[:40] for name in names[:8]) + (", …" if len(names) > 8 else "")


def split_name(text: str) -> tuple[Path, str]:
    """Return the file and the name in it; either may hold an @ of its own."""
    if "@" not in text or os.path.exists(text):
        return Path(text), ""
    for at in (i for i, letter in enumerate(text) if letter == "@"):
        if os.path.isfile(text[:at]):
            return Path(text[:at]), text[at + 1 :].strip()
    before, _, name = text.rpartition("@")
    return Path(before), name.strip()
