"""JPEG is decoded strictly: a decoder usually fills what is damaged, or shifts its colours, and says nothing."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import simplejpeg
from numpy.typing import NDArray

from finishmatch.errors import InputError

GAP_BYTES = 48  # of zeros: two blocks of pixels and more
END_OF_BLOCK = 0
_DAMAGED = ("corrupt", "premature", "unsupported marker", "bogus", "invalid")


def jpeg_values(path: Path, data: bytes) -> NDArray[np.uint8]:
    """Return the pixels of a JPEG in red, green and blue, shape (height, width, 3).

    Parameters
    ----------
    path : Path
        For the message.
    data : bytes

    Raises
    ------
    InputError
        When anything in it is damaged, in the middle of the file too.
    """
    if _holds_a_gap(data):
        raise _damaged(path)
    try:
        return np.asarray(simplejpeg.decode_jpeg(data, "RGB", strict=True))
    except ValueError as error:
        reason = str(error)
    if any(word in reason.casefold() for word in _DAMAGED):
        raise _damaged(path)
    return np.asarray(simplejpeg.decode_jpeg(data, "RGB", strict=False))


def _damaged(path: Path) -> InputError:
    return InputError(
        str(path),
        "is damaged or cut short: a part of it can't be decoded, and colours after it may be shifted",
        "copy it again from the camera",
    )


def _holds_a_gap(data: bytes) -> bool:
    """Whether a lost block, filled up with zeros, lies among the pixels of a baseline JPEG.

    Zeros are codes too, so a decoder may go on behind them in silence. In a table where the code of zeros isn't the end
    of a block they would be a chequer of the finest grain in every block, which no photograph holds.

    References
    ----------
    ITU-T T.81 (1992), B.1 (markers), B.2.4.2 (tables), C.2 (codes: the first is all zeros).
    """
    at, first_code, baseline = 2, None, False
    while at + 4 <= len(data) and data[at] == 0xFF:
        marker, length = data[at + 1], int.from_bytes(data[at + 2 : at + 4], "big")
        if marker in (0xC0, 0xC1):
            baseline = True
        elif marker == 0xC4:
            first_code = _first_code(data[at + 4 : at + 2 + length], first_code)
        at += 2 + max(length, 2)
        if marker == 0xDA:
            end = data.find(b"\xff\xd9", at)
            gap = data.find(bytes(GAP_BYTES), at, end if end >= 0 else len(data))
            return baseline and first_code not in (None, END_OF_BLOCK) and gap >= 0
    return False


def _first_code(segment: bytes, known: int | None) -> int | None:
    """Return what the code of zeros means in the first table of AC codes, where a segment of tables holds it."""
    at = 0
    while at + 17 < len(segment):
        many = sum(segment[at + 1 : at + 17])
        if segment[at] == 0x10 and many:
            known = segment[at + 17]
        at += 17 + many
    return known
