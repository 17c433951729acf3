"""A photograph that is named beside a copy of it is one picture: what it is off by would count as if it were two's."""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from pathlib import Path

from finishmatch.errors import InputError
from finishmatch.photo.likeness import likeness_of
from finishmatch.photo.read import PhotoReading
from finishmatch.readings.photograph_likeness import Likeness, same_photograph

ANEW = ", once as a copy of it that was turned, made smaller or saved anew"


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
    """Refuse a photograph beside a copy of it: of the same pixels, or turned, made smaller or saved anew.

    Raises
    ------
    InputError
        Names the one that stood first.
    """
    first: dict[str, Path] = {}
    if len(readings) < 2:
        return
    met: list[tuple[Path, Likeness | None]] = []
    for reading in readings:
        known_by = hashlib.sha256(reading.picture.values.tobytes()).hexdigest()
        path, likeness = reading.picture.source, likeness_of(reading.picture)
        _refuse(path, first.setdefault(known_by, path))
        other = next((its for its, one in met if same_photograph(one, likeness)), None)
        if other is not None:
            what = f"one photograph is named twice{ANEW}: it is {other.name}"
            raise InputError(str(path), what, "name each once, by the file as the camera made it")
        met.append((path, likeness))


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
