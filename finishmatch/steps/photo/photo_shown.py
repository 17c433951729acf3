"""A photograph as it is shown: encoded anew and small, so that nothing of the file that came is handed on."""

from __future__ import annotations

import io
from dataclasses import dataclass
from pathlib import Path

from PIL import Image

from finishmatch.errors import InputError
from finishmatch.photo.open.picture import open_picture

LONGEST_SHOWN_PX = 1600
_QUALITY = 85


@dataclass(frozen=True)
class PhotoShown:
    """A photograph to look at: a JPEG of our own, and the width and height of the upright picture it shows, pixels."""

    jpeg: bytes
    size: tuple[int, int]


def photo_shown(path: Path) -> PhotoShown:
    """Return a photograph as it is shown, upright, with nothing of the file beside its colours.

    Parameters
    ----------
    path : Path

    Raises
    ------
    InputError
        It can't be read as a photograph; it is named by its file name alone.
    """
    try:
        picture = open_picture(path)
    except InputError as error:
        raise named_by_file(error, path) from None
    scale = min(1.0, LONGEST_SHOWN_PX / max(picture.size))
    out = io.BytesIO()
    Image.fromarray(picture.small(scale)).save(out, "JPEG", quality=_QUALITY, optimize=True)
    return PhotoShown(out.getvalue(), picture.size)


def named_by_file(error: InputError, path: Path) -> InputError:
    """Return an error in which a file is called by its name, where it was by its whole path."""
    return InputError(error.where.replace(str(path), path.name), error.what.replace(str(path), path.name), error.mend)
