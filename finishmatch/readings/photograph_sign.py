"""How a photograph's file begins, so that one is known that was named in place of a table."""

from __future__ import annotations

from pathlib import Path

_PICTURES = (b"\xff\xd8\xff", b"\x89PNG\r\n\x1a\n", b"II*\x00", b"MM\x00*")  # JPEG, PNG, TIFF; HEIC has its own place
_ENOUGH = 16  # bytes


def is_photograph(data: bytes) -> bool:
    """Return whether a file begins as JPEG, PNG, TIFF, DNG or HEIC do."""
    return data.startswith(_PICTURES) or data[4:8] == b"ftyp"


def is_photograph_file(path: Path) -> bool:
    """Return whether there is a file that begins as a photograph does; one that can't be read isn't known as one."""
    try:
        if not path.is_file():
            return False
        with path.open("rb") as file:
            return is_photograph(file.read(_ENOUGH))
    except (OSError, ValueError):
        return False
