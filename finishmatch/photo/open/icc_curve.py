"""The curves of ICC profiles: tables and formulas, one channel each."""

from __future__ import annotations

import struct

import numpy as np

from finishmatch.colour import Floats

STEPS = 4096


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
    told = [value / 65536 for value in struct.unpack_from(f">{n}i", tag, 12)] + [0.0] * (7 - n)
    g, a, b, c, d, e, f = np.array(told)
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
