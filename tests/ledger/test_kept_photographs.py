"""A photograph is kept without where it was taken, unless that is wished."""

from __future__ import annotations

import io
import struct
import zlib
from pathlib import Path

import numpy as np
import pillow_heif
import pytest
from PIL import Image

from finishmatch.errors import InputError
from finishmatch.ledger import NoteEntry, open_ledger
from finishmatch.photo.open.picture import open_picture
from finishmatch.photo.without_place import place_kept, without_place

GPS = 0x8825


def _photograph(folder: Path) -> Path:
    """A photograph whose file says where it was taken."""
    exif = Image.Exif()
    exif.get_ifd(GPS)[1] = "N"
    exif.get_ifd(GPS)[2] = (51.0, 28.0, 38.0)
    path = folder / "shed.jpg"
    Image.fromarray(np.arange(64 * 80 * 3, dtype=np.uint8).reshape(64, 80, 3)).save(path, exif=exif)
    return path


def _kept(home: Path, photograph: Path) -> bytes:
    """What a new job keeps of a photograph."""
    with open_ledger(home) as ledger:
        job = ledger.new_job("Roof")
        ledger.record(job, NoteEntry("as found"), sources=[photograph])
        ((_, sha256),) = ledger.entries(job)[0].sources
        return ledger.source_bytes(sha256)


def test_what_is_kept_of_a_photograph_does_not_say_where_it_was_taken(tmp_path: Path) -> None:
    photograph = _photograph(tmp_path)
    kept = _kept(tmp_path / "home", photograph)
    with Image.open(photograph) as before, Image.open(io.BytesIO(kept)) as after:
        assert before.getexif().get_ifd(GPS)
        assert not after.getexif().get_ifd(GPS)
        assert np.array_equal(np.asarray(before), np.asarray(after))


def test_it_is_kept_as_it_is_where_that_is_wished(tmp_path: Path) -> None:
    photograph = _photograph(tmp_path)
    with place_kept():
        assert _kept(tmp_path / "home", photograph) == photograph.read_bytes()


def _png_with(chunk: bytes, body: bytes, behind: bool) -> bytes:
    """A PNG with a chunk more, before or behind its picture."""
    out = io.BytesIO()
    Image.fromarray(np.arange(64 * 80 * 3, dtype=np.uint8).reshape(64, 80, 3)).save(out, "PNG")
    data = out.getvalue()
    at = len(data) - 12 if behind else data.index(b"IDAT") - 4
    more = struct.pack(">I", len(body)) + chunk + body + struct.pack(">I", zlib.crc32(chunk + body))
    return data[:at] + more + data[at:]


XMP = b'<x:xmpmeta><rdf:Description tiff:Orientation="6" exif:GPSLatitude="51,28.6N"/></x:xmpmeta>'
TURNED = b"MM\0*" + struct.pack(">IHHHIHHI", 8, 1, 0x0112, 3, 1, 6, 0, 0)


@pytest.mark.parametrize("behind", [False, True])
@pytest.mark.parametrize(
    ("chunk", "body"), [(b"eXIf", TURNED), (b"iTXt", b"XML:com.adobe.xmp\0\0\0\0\0" + XMP)], ids=["Exif", "XMP"]
)
def test_how_a_png_was_held_stays_wherever_its_file_says_so(
    tmp_path: Path, chunk: bytes, body: bytes, behind: bool
) -> None:
    (tmp_path / "held.png").write_bytes(_png_with(chunk, body, behind))
    kept = without_place("held.png", (tmp_path / "held.png").read_bytes())
    assert kept is not None
    assert b"GPS" not in kept
    (tmp_path / "kept.png").write_bytes(kept)
    before, after = (open_picture(tmp_path / name) for name in ("held.png", "kept.png"))
    assert before.size == after.size == (64, 80)
    assert np.array_equal(before.values, after.values)


@pytest.mark.parametrize(("exif", "size"), [(False, (64, 80)), (True, (80, 64))])
def test_how_a_jpeg_was_held_is_told_by_xmp_where_no_exif_says_so(
    tmp_path: Path, exif: bool, size: tuple[int, int]
) -> None:
    _photograph(tmp_path)
    bare = without_place("shed.jpg", (tmp_path / "shed.jpg").read_bytes())
    assert bare is not None
    upright = b"MM\0*" + struct.pack(">IHHHIHHI", 8, 1, 0x0112, 3, 1, 1, 0, 0)
    bodies = [b"http://ns.adobe.com/xap/1.0/\0" + XMP, *([b"Exif\0\0" + upright] if exif else [])]
    segments = b"".join(b"\xff\xe1" + struct.pack(">H", len(body) + 2) + body for body in bodies)
    (tmp_path / "held.jpg").write_bytes(bare[:2] + segments + bare[2:])
    kept = without_place("held.jpg", (tmp_path / "held.jpg").read_bytes())
    assert kept is not None
    assert b"GPS" not in kept
    (tmp_path / "kept.jpg").write_bytes(kept)
    before, after = (open_picture(tmp_path / name) for name in ("held.jpg", "kept.jpg"))
    assert before.size == after.size == size
    assert np.array_equal(before.values, after.values)


SAYS = b"a film of \xa9xyz+51.4772-000.0005/"


@pytest.mark.parametrize(
    ("more", "long"), [(b"mpvd", False), (b"mpvd", True), (b"uuid", False), (b"moov", False), (b"free", False)]
)
def test_of_a_heic_only_what_the_picture_needs_is_kept(tmp_path: Path, more: bytes, long: bool) -> None:
    image = Image.fromarray(np.arange(64 * 80 * 3, dtype=np.uint8).reshape(64, 80, 3))
    pillow_heif.from_pillow(image).save(str(tmp_path / "a.heic"), quality=95)
    data = (tmp_path / "a.heic").read_bytes()
    head = struct.pack(">I4sQ", 1, more, 16 + len(SAYS)) if long else struct.pack(">I4s", 8 + len(SAYS), more)
    kept = without_place("a.heic", data + head + SAYS)
    assert kept is not None
    assert SAYS[12:] not in kept
    assert kept[: len(data)] == without_place("a.heic", data)
    (tmp_path / "kept.heic").write_bytes(kept)
    before, after = (open_picture(tmp_path / name).values for name in ("a.heic", "kept.heic"))
    assert np.array_equal(before, after)


@pytest.mark.parametrize("name", ["cut.jpg", "camera.dng"])
def test_a_photograph_from_which_the_place_can_not_be_taken_is_not_kept(tmp_path: Path, name: str) -> None:
    photograph = tmp_path / name
    photograph.write_bytes(_photograph(tmp_path).read_bytes()[:900])
    with open_ledger(tmp_path / "home") as ledger:
        job = ledger.new_job("Roof")
        with pytest.raises(InputError, match="may say where it was taken"):
            ledger.record(job, NoteEntry("as found"), sources=[photograph])
        assert ledger.entries(job) == []
    with place_kept():
        assert _kept(tmp_path / "home", photograph) == photograph.read_bytes()
