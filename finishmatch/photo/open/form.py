"""The form of a picture: what is no photograph by its width and height alone."""

from __future__ import annotations

from pathlib import Path

from finishmatch.errors import InputError

LEAST_SIDE_PX = 64
LONGEST_FORM = 20  # the longer side over the shorter; a panorama has ten


def check_form(path: Path, width: int, height: int) -> None:
    """See that a photograph is neither too small nor too long and narrow, or raise `InputError`."""
    if min(width, height) < LEAST_SIDE_PX:
        raise InputError(str(path), f"has only {width} × {height} pixels", "give the photograph as the camera made it")
    if max(width, height) > LONGEST_FORM * min(width, height):
        what = f"of {width} × {height} pixels is too long and narrow"
        raise InputError(str(path), what, "give the photograph as the camera made it")
