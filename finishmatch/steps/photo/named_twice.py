"""A photograph that is named beside a copy of it is one picture: what it is off by would count as if it were two's."""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from pathlib import Path

from finishmatch.errors import InputError
from finishmatch.photo.read import PhotoReading


def refuse_named_twice(paths: Sequence[Path]) -> tuple[str, ...]:
    """Refuse a photograph beside a copy of its file; return the SHA-256 of each, "" of what is no file.

    Raises
    ------
    InputError
        Names the one that stood first.
    """
    first: dict[str, Path] = {}
    found = [_of_file(path) for path in paths]  # what is no file is told where it is read
    for path, known_by in zip(paths, found, strict=True):
        if known_by:
            _refuse(path, first.setdefault(known_by, path))
    return tuple(found)


def refuse_same_picture(readings: Sequence[PhotoReading]) -> None:
    """Refuse a photograph beside one of the same pixels: a copy of it that says something else of place or time."""
    first: dict[str, Path] = {}
    if len(readings) < 2:
        return
    for reading in readings:
        known_by = hashlib.sha256(reading.picture.values.tobytes()).hexdigest()
        path = reading.picture.source
        _refuse(path, first.setdefault(known_by, path))


def _of_file(path: Path) -> str:
    if not path.is_file():
        return ""
    with path.open("rb") as opened:
        return hashlib.file_digest(opened, "sha256").hexdigest()


def _refuse(path: Path, first: Path) -> None:
    if first is path:
        return
    what = "one photograph is named twice" + ("" if first == path else ", once as a copy of it")
    raise InputError(str(path), f"{what}: it is {first.name}", "name each once")
