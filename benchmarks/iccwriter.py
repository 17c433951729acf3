"""Write small matrix profiles (ICC.1:2010, version 4) for tests, so that no profile has to be bundled."""

from __future__ import annotations

import struct

import numpy as np


def _fixed(value: float) -> bytes:
    return struct.pack(">i", round(value * 65536))


def _text(value: str) -> bytes:
    encoded = value.encode("utf-16-be")
    return b"mluc" + bytes(4) + struct.pack(">II2s2sII", 1, 12, b"en", b"GB", len(encoded), 28) + encoded


def _xyz(values: tuple[float, float, float]) -> bytes:
    return b"XYZ " + bytes(4) + b"".join(_fixed(v) for v in values)


def matrix_profile(name: str, colorants: np.ndarray, curve: tuple[float, ...]) -> bytes:
    """Return the bytes of an RGB display profile.

    Parameters
    ----------
    name : str
    colorants : ndarray, shape (3, 3)
        XYZ (D50) of red, green and blue, one a row.
    curve : tuple of float
        (gamma,), or the five parameters g, a, b, c, d of the parametric curve of type 3.
    """
    para = b"para" + bytes(4) + struct.pack(">HH", 3 if len(curve) == 5 else 0, 0) + b"".join(map(_fixed, curve))
    tags = {
        b"desc": _text(name),
        b"cprt": _text("no copyright"),
        b"wtpt": _xyz((0.9642, 1.0, 0.8249)),
        b"rXYZ": _xyz(tuple(colorants[0])),
        b"gXYZ": _xyz(tuple(colorants[1])),
        b"bXYZ": _xyz(tuple(colorants[2])),
        b"rTRC": para,
        b"gTRC": para,
        b"bTRC": para,
    }
    offset = 128 + 4 + 12 * len(tags)
    table, body = struct.pack(">I", len(tags)), b""
    for tag, data in tags.items():
        padded = data + bytes(-len(data) % 4)
        table += tag + struct.pack(">II", offset + len(body), len(data))
        body += padded
    size = offset + len(body)
    head = struct.pack(">I4sI4s4s4s", size, bytes(4), 0x04000000, b"mntr", b"RGB ", b"XYZ ")
    head += struct.pack(">6H", 2026, 1, 1, 0, 0, 0) + b"acsp" + bytes(4) + bytes(4) + bytes(4) + bytes(4) + bytes(8)
    head += struct.pack(">I", 0) + _fixed(0.9642) + _fixed(1.0) + _fixed(0.8249)
    return head.ljust(128, b"\0") + table + body


SRGB_CURVE = (2.4, 1 / 1.055, 0.055 / 1.055, 1 / 12.92, 0.04045)  # IEC 61966-2-1


def display_p3() -> bytes:
    """Return a Display P3 profile (SMPTE EG 432-1 primaries, D65 adapted to D50, the curve of IEC 61966-2-1)."""
    colorants = np.array([[0.5151, 0.2412, -0.0011], [0.2920, 0.6922, 0.0419], [0.1571, 0.0666, 0.7841]])
    return matrix_profile("Display P3", colorants, SRGB_CURVE)
