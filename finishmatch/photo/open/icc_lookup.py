"""ICC profiles that hold lookup tables in place of a curve and a matrix: file values become light by A2B1 or A2B0."""

from __future__ import annotations

import struct
from collections.abc import Callable, Mapping
from dataclasses import dataclass

import numpy as np

from finishmatch.colour import Floats, lab_to_xyz
from finishmatch.photo.open.icc_curve import read_curve

Step = Callable[[Floats], Floats]

_D50 = np.array([0.9642, 1.0, 0.8249])  # white of the profile connection space
# ROMM RGB (ISO 22028-2), whose white is D50 too: wide enough that no paint has a negative value
_TO_ROMM = np.linalg.inv(
    np.array([[0.797675, 0.135192, 0.0313534], [0.288040, 0.711874, 0.000086], [0.0, 0.0, 0.825210]])
)
_XYZ_FULL = 1 + 32767 / 32768


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
        told = np.array(struct.unpack_from(">12i", tag, matrix)) / 65536
        turn, added = told[:9].reshape(3, 3), told[9:]
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
