"""What an embedded ICC profile says of a photograph's values: the curve of each channel, or a table for all three."""

from __future__ import annotations

import struct
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from finishmatch.colour import Floats
from finishmatch.photo.open.icc_curve import STEPS, read_curve
from finishmatch.photo.open.icc_lookup import LookupTable, read_tables

MAX_PROFILE_BYTES = 4_000_000


@dataclass(frozen=True)
class Encoding:
    """How values of a file become amounts of light.

    Parameters
    ----------
    name : str
        Of the profile, or "" when there is none.
    curves : ndarray, shape (3, STEPS)
        Linear values, 0 to 1, of red, green and blue at evenly spaced file values 0 to 1.
    trusted : bool
        Whether the file itself says so; otherwise the curve is a guess.
    table : LookupTable or None
        What takes the place of the curves in a profile that has none.
    """

    name: str
    curves: Floats
    trusted: bool
    table: LookupTable | None = None

    def linear(self, values: Floats) -> Floats:
        """Return linear values of file values 0 to 1, shape (..., 3)."""
        if self.table is not None:
            return self.table.linear(values)
        at = np.linspace(0, 1, self.curves.shape[1])
        return np.stack([np.interp(values[..., i], at, self.curves[i]) for i in range(3)], axis=-1)

    def linear_of(self, pixels: NDArray[np.uint8] | NDArray[np.uint16]) -> Floats:
        """Return linear values of a file's whole values, shape (..., 3)."""
        if pixels.dtype != np.uint8:
            return self.linear(pixels / 65535)
        if self.table is not None:
            return self.linear(pixels / 255)
        # one channel after the other, which is quicker to make and to work on
        return np.moveaxis(np.stack([self._of_bytes[i].take(pixels[..., i]) for i in range(3)]), 0, -1)

    @cached_property
    def _of_bytes(self) -> Floats:
        return np.ascontiguousarray(self.linear(np.repeat(np.arange(256)[:, None] / 255, 3, axis=1)).T)


def srgb_curve(values: Floats) -> Floats:
    """Return linear values of sRGB's, which are Display P3's too (IEC 61966-2-1)."""
    curve: Floats = np.where(values <= 0.04045, values / 12.92, ((values + 0.055) / 1.055) ** 2.4)
    return curve


def assumed_encoding() -> Encoding:
    """Return what a file without a profile is taken for: sRGB."""
    return Encoding("", np.tile(srgb_curve(np.linspace(0, 1, STEPS)), (3, 1)), trusted=False)


def linear_encoding() -> Encoding:
    """Return the encoding of values that are amounts of light already."""
    return Encoding("linear", np.tile(np.linspace(0, 1, STEPS), (3, 1)), trusted=True)


def read_profile(data: bytes) -> Encoding | None:
    """Return the encoding a profile tells.

    Parameters
    ----------
    data : bytes
        An ICC profile of version 2 or 4, with a curve for each channel or with lookup tables.

    Returns
    -------
    Encoding or None
        None when it is damaged, not for RGB, or of another kind.

    References
    ----------
    ICC.1:2010, sections 7 and 8.3.
    """
    try:
        with np.errstate(all="ignore"):
            return _read(data)
    except (struct.error, ValueError, IndexError, OverflowError, FloatingPointError):
        return None


def _read(data: bytes) -> Encoding | None:
    if len(data) > MAX_PROFILE_BYTES or data[36:40] != b"acsp" or data[16:20] != b"RGB ":
        return None
    count = struct.unpack_from(">I", data, 128)[0]
    tags = {}
    for i in range(min(count, 200)):
        name, offset, size = struct.unpack_from(">4sII", data, 132 + 12 * i)
        tags[name] = data[offset : offset + size]
    if not {b"rTRC", b"gTRC", b"bTRC"} <= set(tags):
        table = read_tables(tags, data[20:24])
        name = _description(tags.get(b"desc", b""))
        return None if table is None else Encoding(name, assumed_encoding().curves, trusted=True, table=table)
    curves = np.array([read_curve(tags[name])[0] for name in (b"rTRC", b"gTRC", b"bTRC")])
    if not np.isfinite(curves).all() or (np.diff(curves) < -1e-6).any() or (curves[:, -1] < 0.2).any():
        return None
    return Encoding(_description(tags.get(b"desc", b"")), np.clip(curves, 0, 1), trusted=True)


def _description(tag: bytes) -> str:
    if tag[:4] == b"mluc":
        size, offset = struct.unpack_from(">II", tag, 20)
        return tag[offset : offset + min(size, 200)].decode("utf-16-be", "replace").strip("\0 ")
    if tag[:4] == b"desc":
        size = struct.unpack_from(">I", tag, 8)[0]
        return tag[12 : 12 + min(size, 200)].decode("latin-1").strip("\0 ")
    return ""
