"""What an embedded ICC profile says of a photograph's values: a curve for each channel, or tables for all three."""

from __future__ import annotations

import struct
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from finishmatch.colour import Floats, lab_to_xyz

STEPS = 4096
Step = Callable[[Floats], Floats]

_D50 = np.array([0.9642, 1.0, 0.8249])  # white of the profile connection space
# ROMM RGB (ISO 22028-2), whose white is D50 too: wide enough that no paint has a negative value
_TO_ROMM = np.linalg.inv(
    np.array([[0.797675, 0.135192, 0.0313534], [0.288040, 0.711874, 0.000086], [0.0, 0.0, 0.825210]])
)
_XYZ_FULL = 1 + 32767 / 32768
MAX_PROFILE_BYTES = 4_000_000


def read_curve(tag: bytes) -> tuple[Floats, int]:
    """Return a curve at STEPS even places from 0 to 1, and how many bytes it takes.

    Parameters
    ----------
    tag : bytes
        From where the curve starts; more may follow.

    Raises
    ------
    struct.error, ValueError, IndexError
        When it is damaged.

    References
    ----------
    ICC.1:2010, sections 10.5 (curveType) and 10.15 (parametricCurveType).
    """
    at = np.linspace(0, 1, STEPS)
    kind = tag[:4]
    if kind == b"curv":
        count = struct.unpack_from(">I", tag, 8)[0]
        if count == 0:
            return at, 12
        if count == 1:
            power: Floats = at ** (struct.unpack_from(">H", tag, 12)[0] / 256)
            return power, 14
        table = np.frombuffer(tag, ">u2", count, 12) / 65535
        return np.interp(at, np.linspace(0, 1, count), table), 12 + 2 * count
    if kind != b"para":
        raise ValueError(kind)
    form = struct.unpack_from(">H", tag, 8)[0]
    n = (1, 3, 4, 5, 7)[form]
    held = [value / 65536 for value in struct.unpack_from(f">{n}i", tag, 12)]
    g, a, b, c, d, e, f = np.array(held + [0.0] * (7 - n))
    if form == 0:
        whole: Floats = at**g
        return whole, 16
    below: Floats = np.zeros_like(at)
    if form in (1, 2):
        start, added = -b / a, c if form == 2 else 0.0
        below = below + added
    else:
        start, added = d, e if form == 4 else 0.0
        below = c * at + (f if form == 4 else 0.0)
    return np.where(at >= start, np.maximum(a * at + b, 0) ** g + added, below), 12 + 4 * n


@dataclass(frozen=True)
class LookupTable:
    """File values, 0 to 1, to XYZ or CIELAB under D50, step by step."""

    steps: tuple[Step, ...]
    from_lab: bool

    def linear(self, values: Floats) -> Floats:
        """Return linear values of file values 0 to 1, shape (..., 3)."""
        found = np.clip(values.reshape(-1, 3), 0, 1)
        for step in self.steps:
            found = step(found)
        xyz = lab_to_xyz(found, _D50) if self.from_lab else found
        return np.asarray(np.maximum(xyz @ _TO_ROMM.T, 0).reshape(values.shape))


def read_tables(tags: Mapping[bytes, bytes], pcs: bytes) -> LookupTable | None:
    """Return the table of an RGB profile, or None when it has none that makes sense.

    Parameters
    ----------
    tags : mapping of bytes to bytes
        Its tags, by their names.
    pcs : bytes
        Its connection space, as in the header.

    Raises
    ------
    struct.error, ValueError, IndexError
        When it is damaged.

    References
    ----------
    ICC.1:2010, sections 6.3.4 (encodings), 10.8 (lut16Type), 10.9 (lut8Type) and 10.10 (lutAToBType). Of the two the
    colorimetric one, A2B1, is taken first: the other may have a look laid on.
    """
    tag = tags.get(b"A2B1") or tags.get(b"A2B0")
    if tag is None or pcs not in (b"Lab ", b"XYZ "):
        return None
    of_kind = {b"mft1": _lut8, b"mft2": _lut16, b"mAB ": _a_to_b}
    if tag[:4] not in of_kind or tuple(tag[8:10]) != (3, 3):
        return None
    table = LookupTable(of_kind[tag[:4]](tag, pcs == b"Lab "), pcs == b"Lab ")
    ramp = table.linear(np.repeat(np.linspace(0, 1, 33)[:, None], 3, axis=1)).sum(axis=1)
    # greys grow lighter, up to a white
    sound = np.isfinite(ramp).all() and (np.diff(ramp) > -0.01).all() and 0.6 < ramp[-1] < 6
    return table if sound else None


def _lut8(tag: bytes, lab: bool) -> tuple[Step, ...]:
    if not lab:
        raise ValueError("lut8Type holds CIELAB alone")
    return (*_lut(tag, 48, 256, 256, "u1"), lambda v: v * np.array([100.0, 255, 255]) - np.array([0.0, 128, 128]))


def _lut16(tag: bytes, lab: bool) -> tuple[Step, ...]:
    entries, out_entries = struct.unpack_from(">HH", tag, 48)
    steps = _lut(tag, 52, entries, out_entries, ">u2")
    if lab:  # the older encoding, in which 100 is FF00 hexadecimal
        scale = 65535 / 65280
        return (*steps, lambda v: v * scale * np.array([100.0, 255, 255]) - np.array([0.0, 128, 128]))
    return (*steps, lambda v: v * _XYZ_FULL)


def _lut(tag: bytes, start: int, entries: int, out_entries: int, kind: str) -> tuple[Step, ...]:
    grid, size = tag[10], np.dtype(kind).itemsize
    if min(grid, entries, out_entries) < 2:
        raise ValueError("a table of one entry")
    first, many = 3 * entries, 3 * grid**3
    whole = np.frombuffer(tag, kind, first + many + 3 * out_entries, start) / (256**size - 1)
    clut = whole[first : first + many].reshape(grid, grid, grid, 3)
    before, after = whole[:first].reshape(3, entries), whole[first + many :].reshape(3, out_entries)
    return _curved(before), _looked_up(clut), _curved(after)


def _a_to_b(tag: bytes, lab: bool) -> tuple[Step, ...]:
    after, matrix, middle, clut, before = struct.unpack_from(">5I", tag, 12)
    steps: list[Step] = []
    if clut:
        if not before:
            raise ValueError("a table without its curves")
        steps += [_curved(_curves(tag, before)), _looked_up(_clut(tag, clut))]
    if middle:
        steps.append(_curved(_curves(tag, middle)))
    if matrix:
        held = np.array(struct.unpack_from(">12i", tag, matrix)) / 65536
        turn, added = held[:9].reshape(3, 3), held[9:]
        steps.append(lambda v: np.asarray(v @ turn.T + added))
    steps.append(_curved(_curves(tag, after)))
    if lab:
        return (*steps, lambda v: v * np.array([100.0, 255, 255]) - np.array([0.0, 128, 128]))
    return (*steps, lambda v: v * _XYZ_FULL)


def _curves(tag: bytes, start: int) -> Floats:
    """Return three curves that stand one after the other, each padded to four bytes, shape (3, STEPS)."""
    found = []
    for _ in range(3):
        curve, size = read_curve(tag[start:])
        found.append(curve)
        start += size + -size % 4
    return np.array(found)


def _clut(tag: bytes, start: int) -> Floats:
    shape, size = tuple(tag[start : start + 3]), tag[start + 16]
    if size not in (1, 2) or min(shape) < 2:
        raise ValueError("a table of no use")
    kind = "u1" if size == 1 else ">u2"
    whole = np.frombuffer(tag, kind, 3 * int(np.prod(shape, dtype=int)), start + 20)
    return np.asarray(whole.reshape(*shape, 3) / (256**size - 1))


def _curved(curves: Floats) -> Step:
    at = np.linspace(0, 1, curves.shape[1])
    return lambda values: np.stack([np.interp(values[:, i], at, curves[i]) for i in range(3)], axis=1)


def _looked_up(clut: Floats) -> Step:
    """Return a step that looks values up between the eight entries around them, evenly from one to the next."""
    most = np.array(clut.shape[:3]) - 1

    def step(values: Floats) -> Floats:
        place = np.clip(values, 0, 1) * most
        low = np.minimum(place.astype(int), most - 1)
        share = place - low
        found = np.zeros((len(values), 3))
        for corner in np.ndindex(2, 2, 2):
            weight = np.prod(np.where(np.array(corner) == 1, share, 1 - share), axis=1)
            found += weight[:, None] * clut[tuple((low + corner).T)]
        return found

    return step


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
        found = np.empty(values.shape)
        for i in range(3):
            found[..., i] = np.interp(values[..., i], self._at, self.curves[i])
        return found

    def linear_of(self, pixels: NDArray[np.uint8] | NDArray[np.uint16]) -> Floats:
        """Return linear values of a file's whole values, shape (..., 3)."""
        if pixels.dtype != np.uint8:
            return self.linear(pixels / 65535)
        if self.table is not None:
            return self.linear(pixels / 255)
        # one channel after the other, which is quicker to make and to work on
        return np.moveaxis(np.stack([self._of_bytes[i].take(pixels[..., i]) for i in range(3)]), 0, -1)

    @cached_property
    def _at(self) -> Floats:
        return np.linspace(0, 1, self.curves.shape[1])

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
    """Return the encoding a profile describes.

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
