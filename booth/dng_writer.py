"""A photograph as a phone's raw file: DNG 1.4, a mosaic or three colours in each place (TIFF 6.0; from memory)."""

from __future__ import annotations

import io
import struct
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np
from numpy.typing import NDArray
from PIL import Image

from booth.lossless_jpeg import lossless_jpeg

RGGB, BGGR, GRBG, GBRG = (0, 1, 1, 2), (2, 1, 1, 0), (1, 0, 2, 1), (1, 2, 0, 1)
_FORMS = {1: "B", 2: "B", 3: "H", 4: "I", 5: "I", 7: "B", 10: "i", 12: "d"}
Tag = tuple[int, int, Any]  # its code, the kind of its values, the values
Counted = NDArray[np.uint16]


@dataclass(frozen=True)
class Sensor:
    """How a camera writes what its sensor counts.

    Parameters
    ----------
    black : tuple of int
        Counted without light: one number, or one for each of the four places of a mosaic or three colours.
    white : int
        From where on nothing more is counted.
    pattern : tuple of int
        The colours of the first two by two places.
    orientation : int
        As in EXIF.
    balance : tuple of float
        By what red, green and blue are to be multiplied for white to look white.
    packed : int
        The tiles, so many places wide and high, in which values are packed as lossless JPEG; 0 where they lie plain.
    preview : bool
        Whether a small, wrong JPEG of it stands first in the file, as a phone puts one.
    more : tuple of Tag
        Further tags of the sensor's table, which replace those of their code.
    place : tuple of Tag
        Further tags of the first table.
    """

    black: tuple[int, ...] = (512,)
    white: int = 16000
    pattern: tuple[int, int, int, int] = RGGB
    orientation: int = 1
    balance: tuple[float, float, float] = (1.0, 1.0, 1.0)
    packed: int = 0
    preview: bool = False
    more: tuple[Tag, ...] = ()
    place: tuple[Tag, ...] = field(default=())


def counted(linear: NDArray[np.float64], sensor: Sensor) -> Counted:
    """Return what a sensor counts of linear values 0 to 1, shape (height, width, 3)."""
    black = np.array(sensor.black, float).max()
    return np.rint(black + np.clip(linear, 0, 1) * (sensor.white - black)).astype(np.uint16)


def mosaic(colours: Counted, sensor: Sensor) -> Counted:
    """Return the one colour that each place of a sensor has, shape (height, width)."""
    found = np.empty(colours.shape[:2], np.uint16)
    for place, colour in enumerate(sensor.pattern):
        row, column = divmod(place, 2)
        found[row::2, column::2] = colours[row::2, column::2, colour]
    return found


def dng(values: Counted, sensor: Sensor = Sensor()) -> bytes:
    """Return a DNG of values: a mosaic, shape (height, width), or colours, shape (height, width, 3)."""
    whole = [
        (271, 2, b"Invented\0"),
        (272, 2, b"Booth\0"),
        (274, 3, [sensor.orientation]),
        (50706, 1, [1, 4, 0, 0]),
        (50707, 1, [1, 1, 0, 0]),
        (50708, 2, b"Invented booth\0"),
        (50721, 10, [one for row in np.eye(3, dtype=int) for value in row for one in (int(value), 1)]),
        (50728, 5, [one for times in sensor.balance for one in (round(10_000 / times), 10_000)]),
        (50778, 3, [21]),
    ]
    own, pixels = _sensor_tags(values, sensor), values.astype("<u2").tobytes()
    if sensor.packed:
        own, pixels = _in_tiles(own, values, sensor.packed)
    whole, own = _merged(whole, sensor.place), _merged(own, sensor.more)
    if not sensor.preview:
        return _tiff([(_merged(whole, own), pixels)])
    out = io.BytesIO()
    Image.new("RGB", (96, 72), (250, 20, 20)).save(out, "JPEG")
    small = [
        *[(254, 4, [1]), (256, 4, [96]), (257, 4, [72]), (258, 3, [8, 8, 8]), (259, 3, [7]), (262, 3, [6])],
        *[(273, 4, [0]), (277, 3, [3]), (278, 4, [72]), (279, 4, [len(out.getvalue())]), (330, 4, [0])],
    ]
    return _tiff([(_merged(whole, small), out.getvalue()), (own, pixels)])


def _sensor_tags(values: Counted, sensor: Sensor) -> list[Tag]:
    height, width = values.shape[:2]
    flat = values.ndim == 2
    many = 1 if flat else 3
    tags: list[Tag] = [
        *[(254, 4, [0]), (256, 4, [width]), (257, 4, [height]), (258, 3, [16] * many), (259, 3, [1])],
        *[(262, 3, [32803 if flat else 34892]), (273, 4, [0]), (277, 3, [many]), (278, 4, [height])],
        *[(279, 4, [values.nbytes]), (284, 3, [1]), (50717, 4, [sensor.white] * many)],
    ]
    black = sensor.black if flat or len(sensor.black) == 3 else sensor.black * 3
    tags.append((50714, 4, list(black)))
    if flat:
        tags += [(33421, 3, [2, 2]), (33422, 1, list(sensor.pattern)), (50710, 1, [0, 1, 2]), (50711, 3, [1])]
        tags += [(50713, 3, [2, 2])] if len(black) == 4 else []
    return tags


def _in_tiles(tags: Sequence[Tag], values: Counted, side: int) -> tuple[list[Tag], bytes]:
    """Return the tags and the pixels of values that are packed in tiles; two places of a mosaic go in pairs."""
    rows, columns = (-(-size // side) for size in values.shape[:2])
    beyond = [(0, rows * side - values.shape[0]), (0, columns * side - values.shape[1]), *[(0, 0)] * (values.ndim - 2)]
    padded = np.pad(values, beyond, "edge").reshape(rows * side, columns * side, -1)
    tiles = []
    for row, column in np.ndindex(rows, columns):
        tile = padded[row * side : (row + 1) * side, column * side : (column + 1) * side]
        packed = lossless_jpeg(tile.reshape(side, side // 2, 2) if values.ndim == 2 else tile)
        tiles.append(packed + bytes(len(packed) % 2))
    starts = np.concatenate([[0], np.cumsum([len(tile) for tile in tiles])[:-1]])
    plain = [tag for tag in tags if tag[0] not in (273, 278, 279)]
    told = [(322, 4, [side]), (323, 4, [side]), (324, 4, starts.tolist()), (325, 4, [len(tile) for tile in tiles])]
    return _merged(plain, [(259, 3, [7]), *told]), b"".join(tiles)


def _merged(tags: Sequence[Tag], more: Sequence[Tag]) -> list[Tag]:
    return list({tag[0]: tag for tag in (*tags, *more)}.values())


def _tiff(tables: Sequence[tuple[Sequence[Tag], bytes]]) -> bytes:
    """Return a file whose second table stands in the first one, each with the pixels it points at."""
    starts = [8]
    for tags, pixels in tables:
        starts.append(starts[-1] + len(_table(tags, starts[-1], 0, 0)[0]) + len(pixels) + len(pixels) % 2)
    parts = [struct.pack("<2sHI", b"II", 42, 8)]
    for number, (tags, pixels) in enumerate(tables):
        head, after = _table(tags, starts[number], 0, starts[-2])
        head, _ = _table(tags, starts[number], after, starts[-2])
        parts += [head, pixels, bytes(len(pixels) % 2)]
    return b"".join(parts)


def _table(tags: Sequence[Tag], start: int, pixels_at: int, sub_table_at: int) -> tuple[bytes, int]:
    """Return a table with the values behind it, and where it ends."""
    listed, behind = b"", b""
    ends = start + 6 + 12 * len(tags)
    for code, kind, values in sorted(tags, key=lambda tag: tag[0]):
        told = {273: [pixels_at], 330: [sub_table_at]}.get(code, values)
        if code == 324:  # where tiles begin, from the first of them on
            told = [pixels_at + start for start in values]
        data = bytes(told) if kind in (1, 2, 7) else struct.pack(f"<{len(told)}{_FORMS[kind]}", *told)
        count = len(told) // (2 if kind in (5, 10) else 1)
        if len(data) > 4:
            data, behind = struct.pack("<I", ends + len(behind)), behind + data + bytes(len(data) % 2)
        listed += struct.pack("<HHI", code, kind, count) + data.ljust(4, b"\0")
    whole = struct.pack("<H", len(tags)) + listed + bytes(4) + behind
    return whole, start + len(whole)


def gain_map(points: NDArray[np.float64], area: tuple[int, int, int, int], pitch: tuple[int, int] = (1, 1)) -> bytes:
    """Return a list of one opcode that multiplies gains, shape (down, across), into a plane of a picture."""
    down, across = points.shape
    head = struct.pack(
        ">10I4dI", *area, 0, 1, *pitch, down, across, 1 / (down - 1), 1 / (across - 1), 0.0, 0.0, 1
    )  # fmt: skip
    body = head + points.astype(">f4").tobytes()
    return struct.pack(">I", 1) + struct.pack(">IIII", 9, 0x01030000, 0, len(body)) + body
