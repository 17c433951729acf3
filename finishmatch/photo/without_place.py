"""A photograph's file without what it says of where, when and by whom it was taken; the picture itself isn't touched.

Only the way it was held and its colour profile stay; of a DNG the sensor's values and what they mean.
"""

from __future__ import annotations

import re
import struct
import zlib
from collections.abc import Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from pathlib import Path

from finishmatch.photo.bare_dng import bare_dng
from finishmatch.photo.heif_items import further_boxes, heif_items
from finishmatch.photo.open.dng_tags import TIFF, is_dng
from finishmatch.photo.raw_suffixes import RAW_SUFFIXES

JPEG, PNG, HEIF = b"\xff\xd8\xff", b"\x89PNG\r\n\x1a\n", b"ftyp"
_ORIENTATION = 0x0112
_XMP_ORIENTATION = re.compile(rb"""tiff:Orientation\s*(?:=\s*["']|>)\s*([1-8])""")
# of a JPEG: JFIF, the colour profile, and how Adobe's colours are meant
_KEPT_SEGMENTS = {0xE0: b"JFIF\0", 0xE2: b"ICC_PROFILE\0", 0xEE: b"Adobe"}
# of a PNG: what is needed to see it, and its colours
_KEPT_CHUNKS = {
    b"IHDR", b"PLTE", b"IDAT", b"IEND", b"tRNS", b"cHRM", b"gAMA", b"iCCP", b"sBIT", b"sRGB", b"cICP", b"bKGD", b"pHYs",
}  # fmt: skip
# of a TIFF: what says how its pixels lie and what their colours are (TIFF 6.0, and its supplements)
_KEPT_TAGS = {
    254, 255, 256, 257, 258, 259, 262, 266, 273, _ORIENTATION, 277, 278, 279, 280, 281, 282, 283, 284, 292, 293, 296,
    301, 317, 318, 319, 320, 322, 323, 324, 325, 332, 334, 336, 338, 339, 340, 341, 347, 529, 530, 531, 532, 34675,
}  # fmt: skip
_SAYS_WHERE = ("application/rdf+xml", "text/xml", "application/xml")  # XMP, as a HEIC holds it
# what a HEIC's Exif item is when it says nothing: where its TIFF begins, and a TIFF of no tags
_NO_EXIF = bytes(4) + b"II*\0" + struct.pack("<IHI", 8, 0, 0)
_SIZES = {1: 1, 2: 1, 3: 2, 4: 4, 5: 8, 6: 1, 7: 1, 8: 2, 9: 4, 10: 8, 11: 4, 12: 8, 13: 4}

_place_kept: ContextVar[bool] = ContextVar("place_kept", default=False)


@contextmanager
def place_kept(kept: bool = True) -> Iterator[None]:
    """Keep photographs in the record as they are, with what their files say of where and when they were taken."""
    was = _place_kept.set(kept)
    try:
        yield
    finally:
        _place_kept.reset(was)


def place_is_kept() -> bool:
    """Return whether photographs are kept as they are; without that they are kept without their place."""
    return _place_kept.get()


def is_picture(name: str, data: bytes) -> bool:
    """Return whether a file is a photograph, by how it begins, or is named as a camera's raw one."""
    begins = data.startswith((JPEG, PNG, *TIFF)) or data[4:8] == HEIF
    return begins or Path(name).suffix.lower() in RAW_SUFFIXES


def without_place(name: str, data: bytes) -> bytes | None:
    """Return a photograph's file without its metadata, orientation and colour profile aside.

    Parameters
    ----------
    name : str
    data : bytes
        JPEG, PNG, TIFF, HEIC or DNG.

    Returns
    -------
    bytes or None
        None where it can't be taken out with certainty: a camera's raw file other than DNG, a damaged one.

    References
    ----------
    ITU-T T.81 (JPEG); ISO/IEC 15948 (PNG); TIFF 6.0; Exif 2.32 (from memory); HEIC by `heif_items`.
    """
    try:
        if is_dng(data):
            return bare_dng(data)
        if Path(name).suffix.lower() in RAW_SUFFIXES and not data.startswith((JPEG, PNG)):
            return None
        if data.startswith(JPEG):
            return _jpeg(data)
        if data.startswith(PNG):
            return _png(data)
        if data[:4] in TIFF:
            return _tiff(data)
        if data[4:8] == HEIF:
            return _heif(data)
    except (ValueError, IndexError, struct.error, zlib.error, OSError, KeyError):
        pass
    return None


def _exif_of(orientation: int) -> bytes:
    """Return Exif that holds the orientation alone."""
    return b"II*\0" + struct.pack("<IHHHIHHI", 8, 1, _ORIENTATION, 3, 1, orientation, 0, 0)


def _orientation(exif: bytes) -> int | None:
    """Return how a picture was held, by its Exif; 1 is upright, None unsaid."""
    order = TIFF.get(exif[:4])
    if order is None:
        return None
    (first,) = struct.unpack_from(order + "I", exif, 4)
    (count,) = struct.unpack_from(order + "H", exif, first)
    for i in range(count):
        tag, _, _, value = struct.unpack_from(order + "HHIH", exif, first + 2 + 12 * i)
        if tag == _ORIENTATION and 1 <= value <= 8:
            return int(value)
    return None


def _orientation_of_xmp(text: bytes, otherwise: int = 1) -> int:
    """Return how a picture was held by what XMP says, which counts where no Exif says so."""
    found = _XMP_ORIENTATION.search(text)
    return int(found[1]) if found else otherwise


def _jpeg(data: bytes) -> bytes:
    kept, said, turned = list[bytes](), list[int | None](), 1
    for marker, start, end in _segments(data):
        body = data[start + 4 : end]
        if marker == 0xE1 and body.startswith(b"Exif\0\0"):
            said.append(_orientation(body[6:]))
        elif marker == 0xE1:
            turned = _orientation_of_xmp(body, turned)
        is_data = not (0xE0 <= marker <= 0xEF or marker == 0xFE)
        if is_data or (marker in _KEPT_SEGMENTS and body.startswith(_KEPT_SEGMENTS[marker])):
            kept.append(data[start:end])
    orientation = (said[-1] if said else None) or turned
    if orientation != 1:
        exif = b"Exif\0\0" + _exif_of(orientation)
        at = 1 if kept and kept[0][1:2] == b"\xe0" else 0
        kept.insert(at, b"\xff\xe1" + struct.pack(">H", len(exif) + 2) + exif)
    return b"\xff\xd8" + b"".join(kept) + b"\xff\xd9"


def _segments(data: bytes) -> Iterator[tuple[int, int, int]]:
    """Yield marker, start and end of the segments of a JPEG up to its end; what hangs on behind that isn't of it."""
    at = 2
    while True:
        start = at
        if data[at] != 0xFF:
            raise ValueError("no marker")
        while data[at] == 0xFF:
            at += 1
        marker = data[at]
        if marker == 0xD9:
            return
        start = at - 1
        end = start + 2 + int.from_bytes(data[at + 1 : at + 3], "big")
        if end > len(data):
            raise ValueError("cut short")
        if marker == 0xDA:  # the scan itself follows, to the next marker that is none of its own
            while True:
                end = data.index(b"\xff", end)
                if data[end + 1] == 0 or 0xD0 <= data[end + 1] <= 0xD7:
                    end += 2
                elif data[end + 1] == 0xFF:
                    end += 1
                else:
                    break
        yield marker, start, end
        at = end


def _png(data: bytes) -> bytes:
    kept, said, turned = [PNG], list[int | None](), 1
    chunks = list(_chunks(data))
    for kind, start, end in chunks:  # Exif may stand behind the picture, where it is to be kept before it
        if kind == b"eXIf":
            said.append(_orientation(data[start + 8 : end - 4]))
        elif kind in (b"iTXt", b"tEXt"):
            turned = _orientation_of_xmp(data[start + 8 : end - 4], turned)
    orientation = (said[-1] if said else None) or turned
    for kind, start, end in chunks:
        if kind == b"IDAT" and orientation != 1:
            kept.append(_chunk(b"eXIf", _exif_of(orientation)))
            orientation = 1
        if kind in _KEPT_CHUNKS:
            kept.append(data[start:end])
    return b"".join(kept)


def _chunks(data: bytes) -> Iterator[tuple[bytes, int, int]]:
    """Yield kind, start and end of the chunks of a PNG up to its end; what hangs on behind that isn't of it."""
    at, kind = len(PNG), b""
    while kind != b"IEND":
        (length,) = struct.unpack_from(">I", data, at)
        kind, end = data[at + 4 : at + 8], at + 12 + length
        if end > len(data):
            raise ValueError("cut short")
        yield kind, at, end
        at = end


def _chunk(kind: bytes, body: bytes) -> bytes:
    return struct.pack(">I", len(body)) + kind + body + struct.pack(">I", zlib.crc32(kind + body))


def _tiff(data: bytes) -> bytes:
    """Return a TIFF in which only the tags of the picture are left; what the others pointed at is blanked."""
    order, out = TIFF[data[:4]], bytearray(data)
    (at,) = struct.unpack_from(order + "I", data, 4)
    seen: set[int] = set()
    while at and at not in seen:
        seen.add(at)
        (count,) = struct.unpack_from(order + "H", data, at)
        entries = [data[at + 2 + 12 * i : at + 14 + 12 * i] for i in range(count)]
        after = data[at + 2 + 12 * count : at + 6 + 12 * count]
        kept = [entry for entry in entries if struct.unpack_from(order + "H", entry)[0] in _KEPT_TAGS]
        for entry in entries:
            if entry not in kept:
                _blank(out, order, entry)
        table = struct.pack(order + "H", len(kept)) + b"".join(kept) + after
        out[at : at + 6 + 12 * count] = table.ljust(6 + 12 * count, b"\0")
        (at,) = struct.unpack(order + "I", after)
    return bytes(out)


def _blank(out: bytearray, order: str, entry: bytes) -> None:
    """Blank what a tag points at; the tables of Exif and of the place with all they point at."""
    tag, kind, count, value = struct.unpack(order + "HHII", entry)
    size = _SIZES.get(kind, 1) * count
    if tag in (34665, 34853, 40965):  # Exif, GPS, interoperability: each is a table of its own
        (many,) = struct.unpack_from(order + "H", out, value)
        for i in range(many):
            _blank(out, order, bytes(out[value + 2 + 12 * i : value + 14 + 12 * i]))
        out[value : value + 2 + 12 * many] = bytes(2 + 12 * many)
    elif size > 4:
        if value + size > len(out):
            raise ValueError("points beyond its end")
        out[value : value + size] = bytes(size)


def _heif(data: bytes) -> bytes:
    """Return a HEIC whose Exif and XMP are blanked where they lie, so that nothing else of it moves.

    So are boxes that its picture doesn't need, such as the film of a moving photograph, which says where it was taken
    by itself. The way it was held is no part of these: a HEIC says it beside its picture.
    """
    out = bytearray(data)
    for kind, start, end in further_boxes(data):
        out[kind : kind + 4] = b"free"
        out[start:end] = bytes(end - start)
    for item in heif_items(data):
        exif = item.kind == "Exif"
        if not exif and (item.kind != "mime" or item.content not in _SAYS_WHERE):
            continue
        blank = _NO_EXIF if exif else b""
        for start, end in item.places:
            out[start:end] = blank[: end - start].ljust(end - start, b"\0" if exif else b" ")
            blank = b""
    return bytes(out)
