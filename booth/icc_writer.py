"""Write small profiles (ICC.1:2010, version 4) for tests, so that no profile has to be bundled."""

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
        b"rXYZ": _xyz(tuple(colorants[0])),
        b"gXYZ": _xyz(tuple(colorants[1])),
        b"bXYZ": _xyz(tuple(colorants[2])),
        b"rTRC": para,
        b"gTRC": para,
        b"bTRC": para,
    }
    return _profile(name, b"mntr", b"XYZ ", tags)


def _profile(name: str, kind: bytes, pcs: bytes, tags: dict[bytes, bytes]) -> bytes:
    tags = {
        b"desc": _text(name),
        b"cprt": _text("no copyright"),
        b"wtpt": _xyz((0.9642, 1.0, 0.8249)),
        **tags,
    }
    offset = 128 + 4 + 12 * len(tags)
    table, body = struct.pack(">I", len(tags)), b""
    for tag, data in tags.items():
        padded = data + bytes(-len(data) % 4)
        table += tag + struct.pack(">II", offset + len(body), len(data))
        body += padded
    size = offset + len(body)
    head = struct.pack(">I4sI4s4s4s", size, bytes(4), 0x04000000, kind, b"RGB ", pcs)
    head += struct.pack(">6H", 2026, 1, 1, 0, 0, 0) + b"acsp" + bytes(4) + bytes(4) + bytes(4) + bytes(4) + bytes(8)
    head += struct.pack(">I", 0) + _fixed(0.9642) + _fixed(1.0) + _fixed(0.8249)
    return head.ljust(128, b"\0") + table + body


def lut_profile(name: str, kind: str, colorants: np.ndarray, gamma: float, grid: int = 33) -> bytes:
    """Return the bytes of an RGB camera profile that holds a table alone.

    Parameters
    ----------
    name : str
    kind : str
        "mft1", "mft2": of that type, to CIELAB; "mAB Lab": with all its steps; "mAB XYZ": with curves and matrix alone.
    colorants : ndarray, shape (3, 3)
        XYZ (D50) of red, green and blue, one a row.
    gamma : float
        Of every channel.
    grid : int
    """
    at = np.stack(np.meshgrid(*[np.linspace(0, 1, grid)] * 3, indexing="ij"), axis=-1).reshape(-1, 3)
    if kind == "mAB XYZ":
        curves = 3 * (b"para" + bytes(4) + struct.pack(">HH", 0, 0) + _fixed(gamma))
        to_pcs = colorants.T / (1 + 32767 / 32768)
        matrix = b"".join(_fixed(v) for v in (*to_pcs.ravel(), 0.0, 0.0, 0.0))
        flat = 3 * (b"curv" + bytes(4) + struct.pack(">I", 0))
        places = struct.pack(">5I", 32, 32 + len(flat), 32 + len(flat) + len(matrix), 0, 0)
        tag = b"mAB " + bytes(4) + bytes([3, 3, 0, 0]) + places + flat + matrix + curves
        return _profile(name, b"scnr", b"XYZ ", {b"A2B0": tag})
    # the curves before the table bend the places a little, so that the table has to undo it
    bend = 1.25
    lab = _lab((at ** (gamma / bend)) @ colorants)
    if kind == "mAB Lab":
        clut = np.rint((lab + np.array([0, 128, 128])) / np.array([100, 255, 255]) * 65535).astype(">u2").tobytes()
        before = 3 * (b"para" + bytes(4) + struct.pack(">HH", 0, 0) + _fixed(bend))
        flat = 3 * (b"curv" + bytes(4) + struct.pack(">I", 0))
        table = bytes([grid] * 3).ljust(16, b"\0") + bytes([2, 0, 0, 0]) + clut
        table += bytes(-len(table) % 4)
        matrix = b"".join(_fixed(v) for v in (*np.eye(3).ravel(), 0.0, 0.0, 0.0))
        starts = np.cumsum([32, len(flat), len(matrix), len(flat), len(table)]).tolist()
        tag = b"mAB " + bytes(4) + bytes([3, 3, 0, 0]) + struct.pack(">5I", *starts)
        return _profile(name, b"scnr", b"Lab ", {b"A2B0": tag + flat + matrix + flat + table + before})
    deep = kind == "mft2"
    full, form = (65535, ">u2") if deep else (255, "u1")
    hundred = 65280 if deep else 255
    clut = np.rint((lab + np.array([0, 128, 128])) / np.array([100, 255, 255]) * hundred)
    before = np.rint(np.linspace(0, 1, 256) ** bend * full)
    after = np.linspace(0, full, 256)
    tables = [np.tile(before, 3), np.clip(clut, 0, full).ravel(), np.tile(np.rint(after), 3)]
    tag = kind.encode() + bytes(4) + bytes([3, 3, grid, 0]) + b"".join(_fixed(v) for v in np.eye(3).ravel())
    tag += (struct.pack(">HH", 256, 256) if deep else b"") + b"".join(one.astype(form).tobytes() for one in tables)
    return _profile(name, b"scnr", b"Lab ", {b"A2B0": tag})


def _lab(xyz: np.ndarray) -> np.ndarray:
    ratio = xyz / np.array([0.9642, 1.0, 0.8249])
    f = np.where(ratio > (6 / 29) ** 3, np.cbrt(ratio), ratio / (3 * (6 / 29) ** 2) + 4 / 29)
    return np.stack([116 * f[:, 1] - 16, 500 * (f[:, 0] - f[:, 1]), 200 * (f[:, 1] - f[:, 2])], axis=1)


SRGB_CURVE = (2.4, 1 / 1.055, 0.055 / 1.055, 1 / 12.92, 0.04045)  # IEC 61966-2-1


def display_p3() -> bytes:
    """Return a Display P3 profile (SMPTE EG 432-1 primaries, D65 adapted to D50, the curve of IEC 61966-2-1)."""
    colorants = np.array([[0.5151, 0.2412, -0.0011], [0.2920, 0.6922, 0.0419], [0.1571, 0.0666, 0.7841]])
    return matrix_profile("Display P3", colorants, SRGB_CURVE)
