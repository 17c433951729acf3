"""What a DNG says of itself: its tables of tags, and which of them holds the sensor's own values and no preview."""

from __future__ import annotations

import struct
from collections.abc import Iterator
from dataclasses import dataclass, field

TIFF = {b"II*\0": "<", b"MM\0*": ">"}
MOST_TABLES, MOST_TAGS = 64, 1000
SUBFILE, WIDTH, HEIGHT, COMPRESSION, PHOTOMETRIC, ORIENTATION = 254, 256, 257, 259, 262, 274
STRIPS, TILES = (273, 279), (324, 325)  # where they lie, and how many bytes each has
SUB_TABLES, DNG_VERSION = 330, 50706
ACTIVE_AREA, BLACK, BLACK_BY_ROW, BLACK_BY_COLUMN = 50829, 50714, 50715, 50716
CROP_ORIGIN, CROP_SIZE, GAINS_OF_MOSAIC, GAINS_OF_COLOURS = 50719, 50720, 51009, 51022
SENSOR = (32803, 34892)  # photometric: a mosaic of colours, and three colours in each place
_FORMS = {1: "B", 2: "s", 3: "H", 4: "I", 5: "II", 6: "b", 7: "s", 8: "h", 9: "i", 10: "ii", 11: "f", 12: "d", 13: "I"}


@dataclass(frozen=True)
class Tag:
    """A tag: the number of its kind of value, how many there are, and their bytes."""

    kind: int
    count: int
    data: bytes


@dataclass(frozen=True)
class Table:
    """A table of tags of a file whose numbers stand in an order, "<" or ">"."""

    order: str
    tags: dict[int, Tag] = field(default_factory=dict)

    def numbers(self, code: int) -> tuple[float, ...]:
        """Return the numbers of a tag, fractions worked out; none where it is missing or holds none."""
        tag = self.tags.get(code)
        if tag is None or _FORMS[tag.kind] == "s":
            return ()
        form = _FORMS[tag.kind]
        found = struct.unpack(f"{self.order}{tag.count * len(form)}{form[0]}", tag.data)
        if len(form) == 1:
            return found
        return tuple(over / under if under else 0.0 for over, under in zip(found[::2], found[1::2], strict=True))

    def whole(self, code: int, otherwise: int) -> int:
        """Return the first number of a tag as a whole one."""
        found = self.numbers(code)
        return int(found[0]) if found else otherwise

    def pieces(self) -> list[tuple[int, int]]:
        """Return where the strips or tiles of its picture lie: start and end."""
        at, many = (self.numbers(code) for code in (TILES if TILES[0] in self.tags else STRIPS))
        if len(at) != len(many):
            raise ValueError("its tags don't fit each other")
        return [(int(start), int(start) + int(count)) for start, count in zip(at, many, strict=True)]


@dataclass(frozen=True)
class Dng:
    """The first table of a DNG, and the one of the sensor's values, which may be the same."""

    first: Table
    sensor: Table


def is_dng(data: bytes) -> bool:
    """Return whether bytes are those of a DNG, whatever the file is called: a TIFF that gives a version of DNG."""
    try:
        return DNG_VERSION in _read(data, _start(data))[0].tags
    except (ValueError, struct.error):
        return False


def read_dng(data: bytes) -> Dng:
    """Return the tables of a DNG that matter.

    Parameters
    ----------
    data : bytes
        The whole file.

    Raises
    ------
    ValueError, struct.error
        It is damaged, or holds no sensor's values.

    References
    ----------
    TIFF 6.0, section 2; Digital Negative (DNG) specification 1.4 (from memory).
    """
    tables = list(_tables(data))
    own = [one for one in tables if one.whole(PHOTOMETRIC, 0) in SENSOR and one.whole(SUBFILE, 0) == 0]
    if not own or DNG_VERSION not in tables[0].tags:
        raise ValueError("it holds no values of a sensor")
    return Dng(tables[0], max(own, key=lambda one: one.whole(WIDTH, 0) * one.whole(HEIGHT, 0)))


def _start(data: bytes) -> int:
    if data[:4] not in TIFF:
        raise ValueError("no TIFF")
    return int(struct.unpack_from(TIFF[data[:4]] + "I", data, 4)[0])


def _tables(data: bytes) -> Iterator[Table]:
    """Yield the first table, those that follow it, and those that stand in them."""
    waiting, seen = [_start(data)], set[int]()
    while waiting:
        at = waiting.pop(0)
        if at in seen or not at:
            continue
        seen.add(at)
        if len(seen) > MOST_TABLES:
            raise ValueError("too many tables")
        table, after = _read(data, at)
        yield table
        waiting += [*(int(one) for one in table.numbers(SUB_TABLES)[:MOST_TABLES]), after]


def _read(data: bytes, at: int) -> tuple[Table, int]:
    """Return a table, and where the next one stands."""
    order = TIFF[data[:4]]
    (count,) = struct.unpack_from(order + "H", data, at)
    if count > MOST_TAGS:
        raise ValueError("too many tags")
    tags = {}
    for i in range(count):
        place = at + 2 + 12 * i
        code, kind, many = struct.unpack_from(order + "HHI", data, place)
        if kind not in _FORMS:
            continue
        size = struct.calcsize("=" + _FORMS[kind]) * many
        start = place + 8 if size <= 4 else struct.unpack_from(order + "I", data, place + 8)[0]
        if start + size > len(data):
            raise ValueError("a tag points beyond its end")
        tags[code] = Tag(kind, many, data[start : start + size])
    return Table(order, tags), int(struct.unpack_from(order + "I", data, at + 2 + 12 * count)[0])
