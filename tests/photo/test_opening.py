"""Photographs are opened as they are seen, by what their profile says; what can't serve is named in one line."""

from __future__ import annotations

import contextlib
import io
import struct
import time
import warnings
import zlib
from pathlib import Path

import cv2
import numpy as np
import pillow_heif
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from PIL import Image, ImageCms, ImageOps

from booth.icc_writer import SRGB_CURVE, display_p3, matrix_profile
from finishmatch.errors import InputError
from finishmatch.photo.open.icc_profile import assumed_encoding, read_profile, srgb_curve
from finishmatch.photo.open.picture import open_picture
from finishmatch.photo.read import read_photograph


@pytest.fixture
def image() -> Image.Image:
    """A smooth picture that looks different from every side."""
    y, x = np.mgrid[0:80, 0:120]
    return Image.fromarray(np.stack([2 * x, 3 * y, x + y], axis=-1).astype(np.uint8))


def test_every_orientation_is_turned_as_pillow_turns_it(image: Image.Image, tmp_path: Path) -> None:
    for orientation in range(1, 9):
        exif = Image.Exif()
        exif[0x0112] = orientation
        for kind in ("png", "jpg", "tif"):
            path = tmp_path / f"{orientation}.{kind}"
            image.save(path, exif=exif)
            with Image.open(path) as turned:
                np.testing.assert_array_equal(open_picture(path).values, np.asarray(ImageOps.exif_transpose(turned)))


def deep_tiff(values: np.ndarray, orientation: int) -> bytes:
    """A plain 16-bit file of one strip (TIFF 6.0, sections 2 and 6)."""
    height, width = values.shape[:2]
    tags = [(256, 3, 1, width), (257, 3, 1, height), (258, 3, 3, 146), (259, 3, 1, 1), (262, 3, 1, 2), (273, 4, 1, 152)]
    tags += [(274, 3, 1, orientation), (277, 3, 1, 3), (278, 3, 1, height), (279, 4, 1, values.nbytes), (284, 3, 1, 1)]
    listed = b"".join(struct.pack("<HHII", *tag) for tag in tags)
    head = struct.pack("<2sHIH", b"II", 42, 8, len(tags)) + listed + bytes(4)
    return head + struct.pack("<3H", 16, 16, 16) + values.astype("<u2").tobytes()


def test_a_file_of_sixteen_bits_is_turned_as_its_eight_bits_are(tmp_path: Path) -> None:
    values = np.random.default_rng(2).integers(0, 65536, (80, 120, 3)).astype(np.uint16)
    plain = Image.fromarray((values >> 8).astype(np.uint8))
    for orientation in range(1, 9):
        exif = Image.Exif()
        exif[0x0112] = orientation
        (tmp_path / "deep.tif").write_bytes(deep_tiff(values, orientation))
        plain.save(tmp_path / "plain.tif", exif=exif)
        ok, encoded = cv2.imencode(".png", values[..., ::-1])
        assert ok
        # the chunk that holds EXIF stands before the pixels (PNG, third edition, 11.3.4.5)
        chunk = b"eXIf" + exif.tobytes().removeprefix(b"Exif\0\0")
        chunk = struct.pack(">I", len(chunk) - 4) + chunk + struct.pack(">I", zlib.crc32(chunk))
        (tmp_path / "deep.png").write_bytes(encoded.tobytes()[:33] + chunk + encoded.tobytes()[33:])
        seen = open_picture(tmp_path / "plain.tif").values
        for name in ("deep.tif", "deep.png"):
            deep = open_picture(tmp_path / name).values
            assert deep.dtype == np.uint16
            np.testing.assert_array_equal(deep >> 8, seen)


def test_a_shrunken_copy_holds_the_mean_of_what_it_stands_for(tmp_path: Path) -> None:
    values = np.random.default_rng(4).integers(0, 256, (203, 307, 3)).astype(np.uint8)
    Image.fromarray(values).save(tmp_path / "a.png")
    picture = open_picture(tmp_path / "a.png")
    for times in (2, 3, 4, 5, 6, 8):
        height, width = 203 // times, 307 // times
        blocks = values[: height * times, : width * times].reshape(height, times, width, times, 3)
        small = picture.small(1 / times)
        assert small.shape == (height, width, 3)
        # it is rounded at every halving
        assert np.abs(small - blocks.mean(axis=(1, 3))).max() <= 2


def test_sixteen_bits_are_kept(tmp_path: Path) -> None:
    values = np.random.default_rng(1).integers(0, 65536, (70, 90, 3)).astype(np.uint16)
    for name in ("deep.png", "deep.tiff"):
        cv2.imwrite(str(tmp_path / name), values[..., ::-1])
        picture = open_picture(tmp_path / name)
        assert picture.values.dtype == np.uint16
        np.testing.assert_array_equal(picture.values, values)


def test_heic_is_read(image: Image.Image, tmp_path: Path) -> None:
    pillow_heif.from_pillow(image).save(str(tmp_path / "a.heic"), quality=95)
    found = open_picture(tmp_path / "a.heic").values.astype(int)
    assert np.abs(found - np.asarray(image).astype(int)).mean() < 4


def test_the_profile_tells_the_curve_as_littlecms_applies_it(image: Image.Image, tmp_path: Path) -> None:
    """Held against LittleCMS: a curve of 1.8, turned into sRGB of the same primaries."""
    colorants = np.array([[0.4361, 0.2225, 0.0139], [0.3851, 0.7169, 0.0971], [0.1431, 0.0606, 0.7141]])
    ours, theirs = matrix_profile("eighteen", colorants, (1.8,)), matrix_profile("srgb", colorants, SRGB_CURVE)
    image.save(tmp_path / "a.png", icc_profile=ours)
    picture = open_picture(tmp_path / "a.png")
    assert (picture.encoding.name, picture.encoding.trusted) == ("eighteen", True)
    turned = ImageCms.profileToProfile(image, *(ImageCms.ImageCmsProfile(io.BytesIO(p)) for p in (ours, theirs)))
    expected = srgb_curve(np.asarray(turned) / 255)
    np.testing.assert_allclose(picture.encoding.linear(picture.values / 255), expected, atol=0.006)


def test_display_p3_and_the_srgb_profile_of_littlecms_have_the_curve_of_the_standard() -> None:
    at = np.linspace(0, 1, 200)
    srgb = ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes()
    for data in (display_p3(), srgb):
        encoding = read_profile(data)
        assert encoding is not None
        found = encoding.linear(np.stack([at] * 3, axis=-1))
        np.testing.assert_allclose(found, srgb_curve(np.stack([at] * 3, axis=-1)), atol=2e-4)


def test_a_file_without_a_profile_is_taken_for_srgb_and_not_trusted(image: Image.Image, tmp_path: Path) -> None:
    image.save(tmp_path / "a.png")
    encoding = open_picture(tmp_path / "a.png").encoding
    assert not encoding.trusted
    np.testing.assert_array_equal(encoding.curves, assumed_encoding().curves)


@settings(max_examples=60, deadline=None)
@given(st.binary(max_size=400), st.integers(0, 500))
def test_a_damaged_profile_is_never_more_than_not_used(rubbish: bytes, at: int) -> None:
    good = display_p3()
    read_profile(rubbish)
    read_profile(good[:at] + rubbish + good[at + len(rubbish) :])


def png_bomb(width: int, height: int) -> bytes:
    """A PNG whose header tells of far more pixels than it has."""

    def chunk(name: bytes, data: bytes) -> bytes:
        return struct.pack(">I", len(data)) + name + data + struct.pack(">I", zlib.crc32(name + data))

    head = struct.pack(">IIBBBBB", width, height, 8, 2, 0, 0, 0)
    return (
        b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", head) + chunk(b"IDAT", zlib.compress(bytes(1000))) + chunk(b"IEND", b"")
    )


def saved(image: Image.Image, form: str, **how: object) -> bytes:
    out = io.BytesIO()
    image.save(out, form, **how)
    return out.getvalue()


def smooth_noise() -> Image.Image:
    """A picture with something everywhere, as a photograph has."""
    return Image.fromarray(np.random.default_rng(5).integers(0, 256, (60, 80, 3), dtype=np.uint8)).resize((640, 480))


def bad_files() -> dict[str, tuple[bytes, str]]:
    """Bytes that can't serve, with what must be said."""
    colour = Image.effect_noise((200, 200), 60).convert("RGB")
    jpeg, tiff = saved(colour, "JPEG"), saved(colour, "TIFF")
    other = ImageOps.invert(colour)
    return {
        "empty.jpg": (b"", "empty"),
        "text.jpg": (b"name,L,a,b\n", "not a photograph"),
        "cut.jpg": (jpeg[: len(jpeg) // 2], "damaged or cut short"),
        "cut.png": (saved(colour, "PNG")[:5000], "damaged or cut short"),
        "cut.tiff": (tiff[: len(tiff) // 2], "damaged or cut short"),
        "cut.heic": (b"\0\0\0\x18ftypheic\0\0\0\0mif1heic" + bytes(64), "not a photograph"),
        "bomb.png": (png_bomb(60_000, 60_000), "pixels"),
        "large.png": (png_bomb(20_000, 10_000), "pixels"),
        "wide.png": (png_bomb(13_000, 10_000), "13000 × 10000 pixels"),
        "dot.png": (saved(Image.new("RGB", (1, 1)), "PNG"), "only 1 × 1 pixels"),
        "cmyk.jpg": (saved(colour.convert("CMYK"), "JPEG"), "CMYK"),
        "grey.jpg": (saved(colour.convert("L"), "JPEG"), "black and white"),
        "moving.png": (saved(colour, "PNG", save_all=True, append_images=[other]), "animated"),
        "pages.tiff": (saved(colour, "TIFF", save_all=True, append_images=[other]), "animated or has several pages"),
        "moving.gif": (saved(colour, "GIF", save_all=True, append_images=[other]), "not a photograph"),
        "raw.dng": (b"II*\0" + bytes(100), "not camera raw"),
    }


@pytest.mark.parametrize("name", bad_files())
def test_what_cannot_serve_is_named_in_one_line(name: str, tmp_path: Path) -> None:
    data, said = bad_files()[name]
    path = tmp_path / name
    path.write_bytes(data)
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        with pytest.raises(InputError, match=said) as raised:
            open_picture(path)
    assert "\n" not in str(raised.value)


@pytest.mark.parametrize("progressive", [False, True])
def test_a_jpeg_damaged_in_its_middle_is_told(tmp_path: Path, progressive: bool) -> None:
    """A block of a disc or a card that was lost: a decoder fills it up, or shifts the colours after it, in silence."""
    good = saved(smooth_noise(), "JPEG", quality=92, progressive=progressive)
    path = tmp_path / "a.jpg"
    path.write_bytes(good)
    assert open_picture(path).size == (640, 480)
    r = np.random.default_rng(7)
    told = 0
    for fill in (0, 255, None):
        for _ in range(20):
            at = int(r.uniform(0.2, 0.8) * (len(good) - 512))
            lost = r.integers(0, 256, 512, dtype=np.uint8).tobytes() if fill is None else bytes([fill]) * 512
            path.write_bytes(good[:at] + lost + good[at + 512 :])
            try:
                open_picture(path)
            except InputError as error:
                told += "is damaged or cut short: a part of it can't be decoded" in str(error)
    assert told >= (54 if progressive else 59)


def test_a_jpeg_is_decoded_as_pillow_decodes_it(tmp_path: Path) -> None:
    for how in ({}, {"quality": 60, "subsampling": 2}, {"subsampling": 0, "progressive": True}):
        path = tmp_path / "a.jpg"
        path.write_bytes(saved(smooth_noise(), "JPEG", **how))
        with Image.open(path) as image:
            np.testing.assert_allclose(open_picture(path).values, np.asarray(image), atol=1)


def test_a_mislabelled_photograph_is_read_by_what_it_is(image: Image.Image, tmp_path: Path) -> None:
    image.save(tmp_path / "a.jpg", "PNG")
    np.testing.assert_array_equal(open_picture(tmp_path / "a.jpg").values, np.asarray(image))


@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(data=st.data())
def test_bytes_changed_at_random_never_end_in_a_traceback(data: st.DataObject, tmp_path: Path) -> None:
    image = Image.fromarray(np.random.default_rng(3).integers(0, 256, (70, 70, 3), dtype=np.uint8))
    good = bytearray(saved(image, data.draw(st.sampled_from(["JPEG", "PNG", "TIFF"]))))
    for _ in range(data.draw(st.integers(1, 8))):
        good[data.draw(st.integers(0, len(good) - 1))] = data.draw(st.integers(0, 255))
    path = tmp_path / "changed.jpg"
    path.write_bytes(bytes(good[: data.draw(st.integers(1, len(good)))]))
    with contextlib.suppress(InputError):
        open_picture(path)


def test_a_strip_is_no_photograph(tmp_path: Path) -> None:
    for size in ((64, 58_400), (60_000, 64)):
        path = tmp_path / "strip.png"
        Image.new("RGB", size).save(path)
        with pytest.raises(InputError, match="too long and narrow"):
            open_picture(path)


@pytest.mark.parametrize(("side", "cell"), [(110, 9), (80, 20)])
def test_a_picture_of_thousands_of_squares_is_searched_in_seconds(tmp_path: Path, side: int, cell: int) -> None:
    path = tmp_path / "floor.png"
    chequer = np.kron(np.indices((side, side)).sum(axis=0) % 2, np.ones((cell, cell)))
    Image.fromarray((chequer * 255).astype(np.uint8)).convert("RGB").save(path)
    begun = time.process_time()
    assert read_photograph(open_picture(path)).why_not
    assert time.process_time() - begun < 6
