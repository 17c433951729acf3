"""A raw file is the sensor's own values: linear, whole, never its preview; what is hostile in one ends in one line."""

from __future__ import annotations

import io
import struct
import warnings
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
import rawpy
from PIL import Image, ImageOps

from booth.dng_writer import BGGR, GBRG, GRBG, RGGB, Counted, Sensor, counted, dng, gain_map, mosaic
from finishmatch.errors import InputError
from finishmatch.photo.find.regions import quad_of
from finishmatch.photo.find.spot import sample
from finishmatch.photo.open import raw, unpack_raw
from finishmatch.photo.open.demosaic import FULL, from_mosaic
from finishmatch.photo.open.picture import Picture, open_picture
from finishmatch.photo.without_place import without_place

SENSOR = Sensor(black=(512,), white=16000)
PERSON = b"A person, 51 N 28 E\0"


def smooth(height: int = 80, width: int = 120) -> Counted:
    """Colours that change evenly over the picture: a mean of neighbours is what stands between them."""
    y, x = np.mgrid[0:height, 0:width]
    return counted(np.stack([0.1 + x / 400, 0.2 + y / 300, 0.6 - (x + y) / 500], axis=-1), SENSOR)


def opened(data: bytes, folder: Path, name: str = "a.dng") -> Picture:
    (folder / name).write_bytes(data)
    return open_picture(folder / name)


def linear(colours: Counted, sensor: Sensor = SENSOR) -> np.ndarray:
    """What a file of these counts holds, 0 to 1."""
    return (colours.astype(float) - sensor.black[0]) / (sensor.white - sensor.black[0])


@pytest.mark.parametrize("pattern", [RGGB, BGGR, GRBG, GBRG])
def test_the_values_that_went_into_a_mosaic_come_out(pattern: tuple[int, int, int, int]) -> None:
    colours = smooth()
    flat = mosaic(colours, Sensor(pattern=pattern))
    found = from_mosaic(flat, np.reshape(pattern, (2, 2)).tolist(), [[512, 512], [512, 512]], 16000)
    inside = np.s_[2:-2, 2:-2]
    np.testing.assert_allclose(found[inside] / 65534, linear(colours)[inside], atol=1e-4)


def test_colours_between_places_are_those_of_the_librarys_own_plain_means() -> None:
    """Held against LibRaw's linear interpolation, of noise, black and white laid on by it too."""
    values = np.random.default_rng(3).integers(512, 16000, (140, 90)).astype(np.uint16)
    with rawpy.imread(io.BytesIO(dng(values, SENSOR))) as file:
        theirs = file.postprocess(
            demosaic_algorithm=rawpy.DemosaicAlgorithm.LINEAR, user_wb=[1, 1, 1, 1], gamma=(1, 1), output_bps=16,
            output_color=rawpy.ColorSpace.raw, no_auto_bright=True, adjust_maximum_thr=0.0,
        )  # fmt: skip
    ours = from_mosaic(values, [[0, 1], [3, 2]], [[512, 512], [512, 512]], 16000)
    assert np.abs(ours[2:-2, 2:-2].astype(int) - theirs[2:-2, 2:-2]).max() <= 6


def test_a_file_is_cut_levelled_and_turned_by_its_tags_and_its_preview_is_never_read(tmp_path: Path) -> None:
    """The sensor's area begins at an odd place, the picture within it at another, and four blacks are a place's own."""
    colours = smooth()
    blacks = (500, 530, 540, 520)
    for orientation in (1, 6):
        sensor = Sensor(
            black=blacks, orientation=orientation, preview=True, balance=(2.0, 1.0, 1.5),
            more=((50829, 4, [3, 1, 75, 119]), (50719, 4, [4, 2]), (50720, 4, [100, 60])),
        )  # fmt: skip
        flat = np.full(colours.shape[:2], 505, np.uint16)  # the covered rim
        flat[3:75, 1:119] = mosaic(colours[3:75, 1:119], sensor)  # which the pattern begins in
        flat[3:75, 1:119] += np.tile(np.reshape(blacks, (2, 2)), (36, 59)).astype(np.uint16) - 512
        picture = opened(dng(flat, sensor), tmp_path)
        assert (picture.kind, picture.encoding.trusted) == ("raw", True)
        assert picture.balance == pytest.approx((2.0, 1.0, 1.5), abs=1e-3)
        upright = picture.values if orientation == 1 else np.rot90(picture.values)
        seen = linear(colours)[5:65, 5:105] * (16000 - 512) / (16000 - max(blacks))
        np.testing.assert_allclose(upright / 65534, seen, atol=2e-4)


@pytest.mark.parametrize("side", [16, 48])
def test_what_is_packed_as_lossless_jpeg_is_what_lies_plain(side: int, tmp_path: Path) -> None:
    """As phones write it, in tiles: a mosaic with differences of every length, and colours in each place."""
    r = np.random.default_rng(9)
    flat = np.clip(mosaic(smooth(), SENSOR) + r.normal(0, 40, (80, 120)), 0, 65535).astype(np.uint16)
    flat[20:24, 30:34], flat[40, 50:54] = 0, (0, 65535, 0, 32768)
    for values in (flat, smooth(70, 90)):
        plain = opened(dng(values, SENSOR), tmp_path).values
        packed = dng(values, replace(SENSOR, packed=side, preview=True))
        np.testing.assert_array_equal(opened(packed, tmp_path).values, plain)


def test_a_lossless_jpeg_that_is_cut_or_spoilt_ends_in_one_line_or_in_a_picture(tmp_path: Path) -> None:
    whole = dng(mosaic(smooth(), SENSOR), replace(SENSOR, packed=64))
    r = np.random.default_rng(4)
    refused = 0
    for _ in range(40):
        spoilt = bytearray(whole[: int(r.integers(len(whole) // 3, len(whole) + 1))])
        for at in r.integers(0, len(spoilt), 3):
            spoilt[at] = int(r.integers(256))
        said = ""
        try:
            assert opened(bytes(spoilt), tmp_path).values.dtype == np.uint16
        except InputError as error:
            said = str(error)
        refused += bool(said)
        assert "\n" not in said
    assert refused > 3


def test_three_colours_in_each_place_are_taken_as_they_are_and_turned_as_pillow_turns(tmp_path: Path) -> None:
    colours = smooth(70, 90)
    for orientation in (2, 5, 7, 8):
        exif = Image.Exif()
        exif[0x0112] = orientation
        Image.fromarray((colours >> 6).astype(np.uint8)).save(tmp_path / "plain.png", exif=exif)
        with Image.open(tmp_path / "plain.png") as plain:
            turned = np.asarray(ImageOps.exif_transpose(plain)).astype(int)
        # a raw file is known by what it holds, whatever it is called
        found = opened(dng(colours, Sensor(orientation=orientation)), tmp_path, "a.tif")
        assert found.kind == "raw"
        back = np.rint(found.values / 65534 * (16000 - 512) + 512).astype(int) >> 6
        assert np.abs(back - turned).max() <= 1


@pytest.mark.parametrize("flat", [True, False])
def test_light_that_the_lens_lost_is_given_back_and_no_colour_runs_over(flat: bool, tmp_path: Path) -> None:
    colours = np.full((100, 140, 3), 6000, np.uint16)
    gains = np.array([[3.0, 1.5, 3.0], [2.0, 1.0, 2.0], [3.0, 1.5, 3.0]])
    place = [((np.arange(size) + 0.5) / size * 2) for size in (100, 140)]
    rows = np.array([np.interp(place[1], range(3), row) for row in gains])
    lost = np.array([np.interp(place[0], range(3), column) for column in rows.T]).T
    dimmed = np.rint(512 + (colours - 512.0) / lost[..., None]).astype(np.uint16)
    dimmed[40:60, 60:80] = 16000
    if flat:
        parts = [gain_map(gains, (row, column, 100, 140), (2, 2)) for row in (0, 1) for column in (0, 1)]
        listed = struct.pack(">I", 4) + b"".join(one[4:] for one in parts)
        data = dng(mosaic(dimmed, SENSOR), Sensor(more=((51009, 7, listed),)))
    else:
        planes = [gain_map(gains, (0, 0, 100, 140))[4:] for _ in range(3)]
        listed = struct.pack(">I", 3) + b"".join(
            one[:32] + struct.pack(">I", plane) + one[36:] for plane, one in enumerate(planes)
        )
        data = dng(dimmed, Sensor(more=((51022, 7, listed),)))
    found = opened(data, tmp_path).values
    assert (found[42:58, 62:78] == FULL).all()
    around = np.ones((100, 140), bool)
    around[38:62, 58:82] = False
    np.testing.assert_allclose(found[around] / found[5, 5].astype(float), 1, atol=0.002)


def test_what_the_sensor_could_count_no_more_is_burnt_out_and_not_averaged_away(tmp_path: Path) -> None:
    r = np.random.default_rng(5)
    light = np.full((100, 140, 3), 0.5)
    light[:50] = 0.97 + r.normal(0, 0.03, (50, 140, 1))  # noise about the white level: half of the places are full
    picture = opened(dng(mosaic(counted(light, SENSOR), SENSOR), SENSOR), tmp_path)
    assert sample(picture, quad_of(10, 55, 100, 40)).clipped == 0
    assert sample(picture, quad_of(10, 5, 100, 40)).clipped > 0.5


def test_dark_and_pure_colours_of_a_sensor_are_no_colours_outside_its_file(tmp_path: Path) -> None:
    light = np.full((100, 140, 3), 0.5)
    light[:50] = (0.4, 0.02, 0.002)
    light[50:, :70] = 0.006
    picture = opened(dng(mosaic(counted(light, SENSOR), SENSOR), SENSOR), tmp_path)
    pure, dark = sample(picture, quad_of(10, 5, 100, 40)), sample(picture, quad_of(5, 55, 60, 40))
    assert (pure.clipped, dark.dark) == (0, 0)
    assert pure.linear == pytest.approx([0.4, 0.02, 0.002], abs=1e-4)


def hostile() -> dict[str, tuple[bytes, str]]:
    """Raw files that can't serve, with what must be said."""
    values = mosaic(smooth(), SENSOR)
    good = dng(values, SENSOR)
    small = io.BytesIO()
    Image.new("RGB", (96, 72), (250, 20, 20)).save(small, "TIFF")

    def more(*tags: tuple[int, int, object]) -> bytes:
        return dng(values, Sensor(more=tags))

    return {
        "rubbish.dng": (b"II*\0" + bytes(100), "not camera raw"),
        "text.nef": (b"name,L,a,b\n", "not camera raw"),
        "plain.dng": (small.getvalue(), "not camera raw"),
        "cut.dng": (good[: len(good) // 2], "damaged or cut short: some of the sensor's values are missing"),
        "head.dng": (good[:200], "not camera raw"),
        "xl.dng": (more((259, 3, [52546])), "JPEG XL"),
        "loss.dng": (more((259, 3, [34892])), "with loss"),
        "own.dng": (more((259, 3, [34713])), "packed in a way that isn't read"),
        "preview.dng": (more((262, 3, [2])), "no values of a sensor"),
        "mask.dng": (more((254, 4, [4])), "no values of a sensor"),
        "huge.dng": (more((256, 4, [60_000]), (257, 4, [60_000])), "pixels"),
        "small.dng": (dng(values[:40], SENSOR), "only 120 × 40 pixels"),
        "strip.dng": (dng(np.full((64, 1400), 900, np.uint16), SENSOR), "too long and narrow"),
        "white.dng": (more((50717, 4, [512])), "black and white make no sense"),
        "gains.dng": (more((51009, 7, b"\0\0\0\1" + bytes(12) + b"\xff" * 8)), "an opcode is cut short"),
        "nan.dng": (more((51009, 7, gain_map(np.full((2, 2), np.nan), (0, 0, 9, 9)))), "gains that make no sense"),
        "loop.dng": (more((330, 4, [8, 8, 8])), ""),
    }


@pytest.mark.parametrize("name", [name for name in hostile() if name != "loop.dng"])
def test_what_cannot_serve_is_named_in_one_line(name: str, tmp_path: Path) -> None:
    data, said = hostile()[name]
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        with pytest.raises(InputError, match=said) as told:
            opened(data, tmp_path, name)
    assert "\n" not in str(told.value)


def test_tables_that_point_at_each_other_end(tmp_path: Path) -> None:
    assert opened(hostile()["loop.dng"][0], tmp_path).size == (120, 80)


@pytest.mark.parametrize(
    "does",
    ["os.abort()", "sys.stdout.write('{}')", "x = bytes(1 << 31)", "[None for _ in iter(int, 1)]", "print([1, 2])"],
)
def test_an_unpacking_that_dies_hangs_or_lies_is_one_line_too(
    does: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    program = tmp_path / "program.py"
    bounds = "import resource\nresource.setrlimit(resource.RLIMIT_AS, (1 << 30, 1 << 30))\n"
    program.write_text(f"import os, sys\n{bounds}{does}\n")
    monkeypatch.setattr(unpack_raw, "__file__", str(program))
    monkeypatch.setattr(raw, "LONGEST_S", 0.5)
    with pytest.raises(InputError, match="unpacking it fails"):
        opened(dng(smooth(), SENSOR), tmp_path)


def test_the_unpacking_program_is_bounded() -> None:
    assert unpack_raw.MOST_BYTES <= 1 << 30
    assert unpack_raw.MOST_SECONDS < 10


def test_a_raw_file_is_kept_with_its_values_alone(tmp_path: Path) -> None:
    gains = gain_map(np.array([[1.0, 2.0], [1.0, 2.0]]), (0, 0, 80, 120))
    sensor = Sensor(
        orientation=6, preview=True, balance=(2.0, 1.0, 1.5), place=((315, 2, PERSON), (34853, 4, [8])),
        more=((51009, 7, gains), (50719, 4, [2, 2]), (50720, 4, [100, 70]), (270, 2, PERSON)),
    )  # fmt: skip
    for values in (mosaic(smooth(), sensor), smooth()):
        whole = dng(values, sensor) + PERSON
        bare = without_place("a.dng", whole)
        assert bare is not None
        assert len(bare) < len(whole)
        assert all(word in whole and word not in bare for word in (b"person", b"Invented", b"JFIF"))
        assert without_place("a.dng", bare) == bare
        before, after = opened(whole, tmp_path), opened(bare, tmp_path, "b.dng")
        np.testing.assert_array_equal(before.values, after.values)
        assert (before.size, before.balance) == (after.size, after.balance)


def test_a_raw_file_that_may_say_more_is_not_kept() -> None:
    values = mosaic(smooth(), SENSOR)
    assert without_place("a.dng", dng(values, Sensor(more=((259, 3, [7]),)))) is None  # no JPEG after all
    unknown = struct.pack(">I", 1) + struct.pack(">IIII", 99, 0x01030000, 0, len(PERSON)) + PERSON
    assert without_place("a.dng", dng(values, Sensor(more=((51009, 7, unknown),)))) is None
    assert (
        without_place("a.nef", dng(values, SENSOR).replace(struct.pack("<H", 50706), struct.pack("<H", 50705))) is None
    )
    assert without_place("a.dng", dng(values, SENSOR)[:-10]) is None


def test_bytes_of_the_tags_changed_at_random_are_read_or_named_in_one_line(tmp_path: Path) -> None:
    """Some of many: 440 such files, opened each in a process without rights, ended so within bounds of memory."""
    r = np.random.default_rng(11)
    sensor = Sensor(preview=True, more=((50829, 4, [0, 0, 80, 120]), (50719, 4, [2, 2]), (50720, 4, [100, 70])))
    good = dng(mosaic(smooth(), sensor), sensor)
    for _ in range(12):
        changed = bytearray(good)
        for at in r.integers(4, 1300, 3):
            changed[at] = r.choice([0, 1, 2, 0x7F, 0x80, 0xFF, int(r.integers(256))])
        said = ""
        try:
            opened(bytes(changed), tmp_path)
        except InputError as error:
            said = str(error)
        assert "\n" not in said
        without_place("a.dng", bytes(changed))


def test_what_only_bears_the_name_of_a_raw_file_is_told_plainly(tmp_path: Path) -> None:
    (tmp_path / "roof.dng").write_text("hello\n")
    with pytest.raises(InputError) as told:
        open_picture(tmp_path / "roof.dng")
    assert told.value.what == "is not camera raw that can be read"
