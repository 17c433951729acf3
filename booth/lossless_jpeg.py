"""A lossless JPEG (ITU-T T.81, annex H; from memory), as cameras pack the values of a sensor in their raw files."""

from __future__ import annotations

import struct

import numpy as np
from numpy.typing import NDArray

_CODE_BITS = 5  # of each of the 17 kinds of difference: a plain table, of codes of one length


def lossless_jpeg(values: NDArray[np.uint16]) -> bytes:
    """Return the stream of values of 16 bits, shape (height, width, components), each foretold by the one before it."""
    height, width, many = values.shape
    plain = values.astype(np.int64)
    foretold = np.empty_like(plain)
    foretold[:, 1:] = plain[:, :-1]
    foretold[1:, 0] = plain[:-1, 0]
    foretold[0, 0] = 1 << 15
    frame = struct.pack(">BHHB", 16, height, width, many) + b"".join(bytes([i + 1, 0x11, 0]) for i in range(many))
    table = bytes([0, *(17 if bits == _CODE_BITS else 0 for bits in range(1, 17)), *range(17)])
    scan = bytes([many, *(byte for i in range(many) for byte in (i + 1, 0)), 1, 0, 0])
    packed = _packed((plain - foretold).ravel())
    marked = ((0xC3, frame), (0xC4, table), (0xDA, scan))
    heads = b"".join(bytes([0xFF, marker]) + struct.pack(">H", len(body) + 2) + body for marker, body in marked)
    return b"\xff\xd8" + heads + packed + b"\xff\xd9"


def _packed(differences: NDArray[np.int64]) -> bytes:
    """Return differences as codes of how many bits they have, and these bits."""
    bits = []
    for difference in ((differences + (1 << 15)) % (1 << 16) - (1 << 15)).tolist():
        length = abs(difference).bit_length()
        bits.append(f"{length:0{_CODE_BITS}b}")
        if 0 < length < 16:  # of 32768 nothing more is said
            bits.append(f"{difference if difference > 0 else difference + (1 << length) - 1:0{length}b}")
    whole = "".join(bits)
    whole += "1" * (-len(whole) % 8)
    return int(whole, 2).to_bytes(len(whole) // 8, "big").replace(b"\xff", b"\xff\x00")
