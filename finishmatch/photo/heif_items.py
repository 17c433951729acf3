"""Where the items of a HEIC lie: Exif, XMP and the like, by the boxes of the file."""

from __future__ import annotations

import struct
from collections.abc import Iterator
from dataclasses import dataclass

# What a picture of a HEIC needs, at the top and in its box of items.
_OF_PICTURE = {b"ftyp", b"meta", b"mdat"}
_OF_ITEMS = {b"hdlr", b"pitm", b"iinf", b"iloc", b"iprp", b"iref", b"idat", b"dinf", b"grpl", b"ipro"}
_IN_FILE, _IN_META = 0, 1  # how the place of an item is meant


@dataclass(frozen=True)
class HeifItem:
    """An item of a HEIC: its kind ("Exif", "mime", "hvc1"), of a "mime" its type, and where it lies: (start, end)."""

    kind: str
    content: str
    places: tuple[tuple[int, int], ...]


def heif_items(data: bytes) -> list[HeifItem]:
    """Return the items of a HEIC.

    Raises
    ------
    ValueError, struct.error, IndexError
        When its boxes aren't those of a HEIC, or point beyond its end.

    References
    ----------
    ISO/IEC 14496-12 (boxes iinf, iloc, idat); ISO/IEC 23008-12. From memory.
    """
    meta = next((box for box in _boxes(data, 0, len(data)) if box[0] == b"meta"), None)
    if meta is None:
        raise ValueError("no items")
    inside = {kind: (start, end) for kind, start, end in _boxes(data, meta[1] + 4, meta[2])}
    if b"iinf" not in inside or b"iloc" not in inside:
        raise ValueError("no items")
    idat = inside.get(b"idat", (0, 0))[0]
    places = dict(_places(data, *inside[b"iloc"], idat))
    return [HeifItem(kind, content, places.get(number, ())) for number, kind, content in _infos(data, *inside[b"iinf"])]


def further_boxes(data: bytes) -> Iterator[tuple[int, int, int]]:
    """Yield, of each box that the picture doesn't need, where its kind stands, and start and end of its content.

    Padding counts among these, and a second box of items.

    Raises
    ------
    ValueError, struct.error
        When its boxes aren't those of a HEIC.
    """
    items = None
    for kind, start, end in _boxes(data, 0, len(data)):
        if kind == b"meta" and items is None:
            items = start
            for inner, first, last in _boxes(data, start + 4, end):
                if inner not in _OF_ITEMS:
                    yield _kind_at(data, inner, first), first, last
        elif kind == b"meta" or kind not in _OF_PICTURE:
            yield _kind_at(data, kind, start), start, end


def _kind_at(data: bytes, kind: bytes, start: int) -> int:
    """Return where the kind of a box stands: before its content, or before a size of eight bytes in between."""
    return start - 4 if data[start - 4 : start] == kind else start - 12


def _boxes(data: bytes, start: int, end: int) -> Iterator[tuple[bytes, int, int]]:
    """Yield kind, and start and end of the content, of the boxes within a stretch of a file."""
    at = start
    while at + 8 <= end:
        size, kind = struct.unpack_from(">I4s", data, at)
        head = 8
        if size == 1:
            (size,), head = struct.unpack_from(">Q", data, at + 8), 16
        elif size == 0:
            size = end - at
        if size < head or at + size > end:
            raise ValueError("a box beyond its end")
        yield kind, at + head, at + size
        at += size


def _infos(data: bytes, start: int, end: int) -> Iterator[tuple[int, str, str]]:
    """Yield number, kind and type of the items that a box iinf tells of."""
    for kind, first, until in _boxes(data, start + (6 if data[start] == 0 else 8), end):
        version = data[first]
        if kind != b"infe" or version < 2:
            raise ValueError("items of an older form")
        number, at = _number(data, first + 4, 2 if version == 2 else 4)
        what = data[at + 2 : at + 6].decode("latin-1")
        texts = data[at + 6 : until].split(b"\0")
        yield number, what, texts[1].decode("latin-1") if what == "mime" and len(texts) > 1 else ""


def _places(data: bytes, start: int, end: int, idat: int) -> Iterator[tuple[int, tuple[tuple[int, int], ...]]]:
    """Yield number and places of the items that a box iloc tells of; `idat` is where the data in the box itself lie."""
    version, sizes = data[start], data[start + 4 : start + 6]
    of_offset, of_length, of_base = sizes[0] >> 4, sizes[0] & 15, sizes[1] >> 4
    of_index = sizes[1] & 15 if version in (1, 2) else 0
    wide = 4 if version == 2 else 2
    count, at = _number(data, start + 6, wide)
    for _ in range(count):
        number, at = _number(data, at, wide)
        way = _IN_FILE
        if version in (1, 2):
            way, at = _number(data, at, 2)
        base, at = _number(data, at + 2, of_base)
        extents, at = _number(data, at, 2)
        found = []
        for _ in range(extents):
            offset, at = _number(data, at + of_index, of_offset)
            length, at = _number(data, at, of_length)
            first = base + offset + (idat if way & 15 == _IN_META else 0)
            if way & 15 > _IN_META or not length or first + length > len(data) or at > end:
                raise ValueError("an item that lies elsewhere")
            found.append((first, first + length))
        yield number, tuple(found)


def _number(data: bytes, at: int, size: int) -> tuple[int, int]:
    """Return a number of so many bytes, 0 for none, and where it ends."""
    if at + size > len(data):
        raise ValueError("cut short")
    return int.from_bytes(data[at : at + size], "big"), at + size
