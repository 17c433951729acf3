"""A DNG written anew with the sensor's values and what is needed to read them: no preview, place or maker's notes."""

from __future__ import annotations

import re
import struct

from finishmatch.photo.open.dng_tags import (
    COMPRESSION,
    DNG_VERSION,
    ORIENTATION,
    STRIPS,
    SUBFILE,
    TIFF,
    TILES,
    Dng,
    Table,
    Tag,
    read_dng,
)
from finishmatch.photo.open.gain_map import KNOWN_OPCODES, opcodes

_CAMERA = 50708  # a DNG has to name one
# how the values lie (TIFF 6.0), and what they mean: pattern, levels, area, lens (DNG 1.4 and 1.7; from memory)
_OF_SENSOR = {
    SUBFILE, 256, 257, 258, COMPRESSION, 262, *STRIPS, 277, 278, 284, 317, 322, 323, *TILES, 339, 33421, 33422, *range(
    50710, 50721), 50733, 50738, 50780, 50829, 50830, 51008, 51009, 51022, 51041,
}  # fmt: skip
# its colours, and the way it was held
_OF_WHOLE = {
    ORIENTATION, DNG_VERSION, 50707, 50721, 50722, *range(50725, 50731), 50778, 50779, 50964, 50965,
}  # fmt: skip
_WORDS = 2  # the kind of a tag that holds text
_OPCODES = (51008, 51009, 51022)
_PLAIN, _JPEG = 1, 7
# markers of a JPEG before its scan that hold no words: its frame and tables, and how Adobe's colours are meant
_SCAN = 0xDA
_AFTER_SCAN = re.compile(rb"\xff[^\0\xd0-\xd7\xff]")
_JFIF = b"\xff\xe0\0\x10JFIF\0"  # of a length that has no room for a small picture
_WORDLESS = {*range(0xC0, 0xD0), 0xDB, 0xDD, 0xEE}


def bare_dng(data: bytes) -> bytes:
    """Return a DNG without what says where, when and by whom it was taken; the sensor's values aren't touched.

    Parameters
    ----------
    data : bytes

    Raises
    ------
    ValueError, KeyError, IndexError, struct.error
        It is damaged, or may say more in a way that isn't known.

    References
    ----------
    TIFF 6.0, section 2; Digital Negative (DNG) specification 1.4 (from memory).
    """
    found = read_dng(data)
    packed = found.sensor.whole(COMPRESSION, 1)
    pieces = [data[start:end] for start, end in found.sensor.pieces()]
    if sum(map(len, pieces)) != sum(end - start for start, end in found.sensor.pieces()):
        raise ValueError("cut short")
    if packed not in (_PLAIN, _JPEG):
        raise ValueError("packed in a way that isn't known")
    if packed == _JPEG and not all(map(_is_wordless, pieces)):
        raise ValueError("its pixels come with words")
    for code in _OPCODES:
        tag = found.sensor.tags.get(code)
        if tag is not None and not all(number in KNOWN_OPCODES for number, _ in opcodes(tag.data)):
            raise ValueError("it asks for what isn't known")
    return _written(found, pieces)


def _is_wordless(piece: bytes) -> bool:
    """Whether a JPEG holds frame, tables and one scan alone (ITU-T T.81, B.1)."""
    at = 2
    while piece[at + 1] != _SCAN:
        jfif = piece[at : at + len(_JFIF)] == _JFIF and piece[at + 16 : at + 18] == b"\0\0"
        if piece[at] != 0xFF or not (piece[at + 1] in _WORDLESS or jfif):
            return False
        at += 2 + int.from_bytes(piece[at + 2 : at + 4], "big")
    after = _AFTER_SCAN.search(piece, at + 2)
    return after is None or (after[0] == b"\xff\xd9" and not piece[after.end() :].strip(b"\0"))


def _written(found: Dng, pieces: list[bytes]) -> bytes:
    """Return a file of one table, and the pieces of its picture behind it."""
    order = found.first.order
    tags = {code: tag for code, tag in found.first.tags.items() if code in _OF_WHOLE}
    tags |= {code: tag for code, tag in found.sensor.tags.items() if code in _OF_SENSOR}
    tags = {code: tag for code, tag in tags.items() if tag.kind != _WORDS}
    tags[_CAMERA] = Tag(2, 7, b"camera\0")
    at_code, many_code = TILES if TILES[0] in tags else STRIPS
    for code in {*STRIPS, *TILES} - {at_code, many_code}:
        tags.pop(code, None)
    tags[many_code] = Tag(4, len(pieces), struct.pack(f"{order}{len(pieces)}I", *map(len, pieces)))
    tags[at_code] = Tag(4, len(pieces), bytes(4 * len(pieces)))
    begin = len(_head(order, Table(order, tags)))
    starts = []
    for piece in pieces:
        starts.append(begin)
        begin += len(piece) + len(piece) % 2
    tags[at_code] = Tag(4, len(pieces), struct.pack(f"{order}{len(pieces)}I", *starts))
    return _head(order, Table(order, tags)) + b"".join(piece + bytes(len(piece) % 2) for piece in pieces)


def _head(order: str, table: Table) -> bytes:
    begins = next(begins for begins, its in TIFF.items() if its == order)
    listed, behind = b"", b""
    ends = 8 + 6 + 12 * len(table.tags)
    for code, tag in sorted(table.tags.items()):
        data = tag.data
        if len(data) > 4:
            data, behind = struct.pack(order + "I", ends + len(behind)), behind + data + bytes(len(data) % 2)
        listed += struct.pack(order + "HHI", code, tag.kind, tag.count) + data.ljust(4, b"\0")
    return begins + struct.pack(order + "IH", 8, len(table.tags)) + listed + bytes(4) + behind
