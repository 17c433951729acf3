"""A photograph is read: colours near the truth, glare and dirt set aside, differences surer, trouble reported."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from booth.photo_booth import CHART_MM, Photograph, Sample, Shot, chart_spectra, profile_bytes
from booth.photo_booth import photograph as render
from finishmatch.colour import de00, reflectance_to_lab
from finishmatch.errors import InputError
from finishmatch.photo.combine import combine_differences, combine_regions, photographs_needed
from finishmatch.photo.find.chart import read_chart
from finishmatch.photo.find.find_chart import find_chart
from finishmatch.photo.find.regions import Region, quad_of, typed_region
from finishmatch.photo.find.spot import sample
from finishmatch.photo.open.icc_profile import assumed_encoding, linear_encoding, read_profile
from finishmatch.photo.open.picture import Picture
from finishmatch.photo.quality import edge_width
from finishmatch.photo.read import PhotoReading, read_photograph
from tests.helpers.photo_frames import PAINTS, SMALL, frame, samples

TRUTH = {name: reflectance_to_lab(spectrum) for name, spectrum in PAINTS.items()}


def picture_of(photo: Photograph, values: np.ndarray | None = None) -> Picture:
    data = profile_bytes(photo.encoding)
    encoding = (read_profile(data) if data else None) or assumed_encoding()
    return Picture(photo.uint8() if values is None else values, encoding, Path("picture.jpg"))


def regions_of(photo: Photograph) -> list[Region]:
    return [Region(name, quad_of(*box)) for name, box in photo.regions.items()]


def read(photo: Photograph, **how: object) -> PhotoReading:
    return read_photograph(picture_of(photo), regions_of(photo), **how)  # type: ignore[arg-type]


def errors(reading: PhotoReading) -> list[float]:
    return [float(de00(TRUTH[region.name], region.lab)) for region in reading.regions]


@pytest.mark.parametrize(
    "how",
    [
        {"encoding": "sRGB"},
        {"encoding": "Display P3", "shading": 0.3, "shading_deg": 100.0},
        {"encoding": "none", "tone": 0.15},
        {"light": "A", "flare": 0.04},
        {"glare": 0.3, "tilt_deg": 20.0},
    ],
    ids=" ".join,
)
def test_colours_are_near_the_truth_and_within_what_is_stated(how: dict[str, object]) -> None:
    reading = read(frame(**how))
    assert reading.why_not == ""
    # given for D65: two paints that look alike by the light of a lamp differ in daylight, and no chart shows which
    assert np.median(errors(reading)) < (2.5 if how.get("light") == "A" else 1.5)
    assert all(error <= region.u95 for error, region in zip(errors(reading), reading.regions, strict=True))
    blues = reading.differences[0]
    assert (blues.standard, blues.trial) == ("blue", "blue again")
    assert blues.de00 == pytest.approx(float(de00(TRUTH["blue"], TRUTH["blue again"])), abs=0.3)
    assert blues.u95 < reading.regions[0].u95 / 1.5


def test_sixteen_bit_linear_values_are_read_with_or_without_a_word_of_it() -> None:
    photo = frame(encoding="linear", matrixed=False)
    deep = np.rint(photo.values * 65535).astype(np.uint16)
    for encoding in (linear_encoding(), assumed_encoding()):
        reading = read_photograph(Picture(deep, encoding, Path("deep.tiff")), regions_of(photo))
        assert np.median(errors(reading)) < 1.5


def test_the_samples_beside_the_chart_are_found_in_reading_order() -> None:
    reading = read_photograph(picture_of(frame()))
    assert [region.name for region in reading.regions] == [f"sample {i}" for i in range(1, 5)]
    assert all(
        error < 3 for error in (de00(TRUTH[name], one.lab) for name, one in zip(PAINTS, reading.regions, strict=True))
    )


def test_glare_and_dust_are_set_aside_and_their_share_is_reported() -> None:
    photo = frame(seed=3)
    values = photo.uint8().copy()
    x, y, w, h = photo.regions["blue"]
    values[y : y + h // 3, x : x + w // 2] = 235
    values[y + h // 2 : y + h // 2 + 2, x : x + w] = 20
    region = Region("blue", quad_of(x, y, w, h))
    dirty, clean = (sample(picture_of(photo, one), region.quad) for one in (values, photo.uint8()))
    assert dirty.rejected > 0.15
    assert clean.rejected < 0.1
    np.testing.assert_allclose(dirty.linear, clean.linear, rtol=0.02)


def test_a_dirty_patch_is_named_and_leaving_it_out_helps() -> None:
    spectra = chart_spectra().copy()
    spectra[13] = 0.5 * spectra[13] + 0.1
    photo = render(samples(), Shot(**SMALL), spectra)  # type: ignore[arg-type]
    reading = read(photo)
    assert any("`skip_patch` 14" in warning for warning in reading.warnings)
    better = read(photo, skip=[14])
    assert 14 not in better.patches
    assert not any("`skip_patch`" in warning for warning in better.warnings)
    assert better.fit is not None
    assert reading.fit is not None
    assert better.fit.left_out.mean() < reading.fit.left_out.mean()


@pytest.mark.parametrize(
    ("how", "said"),
    [
        ({"exposure": 0.12}, "underexposed"),
        ({"exposure": 1.6, "matrixed": False}, "burnt out"),
        ({"blur_px": 5.0}, "blurred"),
        ({"light": "F11"}, "metamerism"),
        ({"shading": 0.75, "shading_deg": 90.0}, "uneven"),
        ({"width": 320, "height": 240, "scene_mm": (1500.0, 1125.0), "chart_at_mm": (500.0, 400.0)}, "small"),
    ],
    ids=lambda how: " ".join(how) if isinstance(how, dict) else how,
)
def test_trouble_is_reported(how: dict[str, object], said: str) -> None:
    photo = frame(**how)
    reading = read_photograph(picture_of(photo), [Region("bench", quad_of(4, 4, 12, 12))])
    assert any(said in warning for warning in (*reading.warnings, reading.why_not)), reading.warnings


LARGE = {"width": 1400, "height": 1050, "scene_mm": (900.0, 675.0), "chart_at_mm": (300.0, 200.0)}
BLACK, GREY, WHITE = (np.full(31, level) for level in (0.035, 0.2, 0.8))


def beside(*things: Sample, **how: object) -> PhotoReading:
    """A photograph of things beside a chart, read without a word of where they lie."""
    return read_photograph(picture_of(render(things, Shot(**{**LARGE, **how}))))  # type: ignore[arg-type]


def taped(x: float, y: float, w: float, h: float, tape: float = 4.0) -> list[Sample]:
    """A part of the bench with tape around it."""
    sides = [(x, y, w, tape), (x, y + h, w + tape, tape), (x, y, tape, h), (x + w, y, tape, h)]
    return [Sample(f"tape {i}", WHITE, *side) for i, side in enumerate(sides)]


def test_a_chart_smaller_than_its_patches_can_be_read_is_refused() -> None:
    for share, refused in ((3.0, True), (1.9, False)):
        wide, high = 520.0 * share, 390.0 * share
        photo = frame(width=320, height=240, scene_mm=(wide, high), chart_at_mm=(0.3 * wide, 0.4 * high))
        reading = read_photograph(picture_of(photo), [Region("blue", quad_of(10, 10, 12, 12))])
        told = "the chart is too small in the picture, a patch is" in reading.why_not
        assert told is refused, reading.why_not
        assert not refused or "go closer, until it is 16 or more" in reading.why_not
        assert not refused or not reading.regions


@pytest.mark.parametrize("colour", [BLACK, GREY], ids=["black", "grey"])
@pytest.mark.parametrize(
    "place", [(300 + CHART_MM[0] + 25, 200.0), (300.0, 200 + CHART_MM[1] + 25)], ids=["right", "below"]
)
def test_the_charts_own_case_is_no_sample(colour: np.ndarray, place: tuple[float, float]) -> None:
    lid = Sample("lid", colour, *place, *CHART_MM)
    alone = beside(lid)
    assert not alone.regions
    assert alone.why_not.startswith("beside the chart there is only the chart's own case: lay painted samples")
    with_paint = beside(lid, Sample("blue", PAINTS["blue"], 60, 40, 90, 70))
    assert [region.name for region in with_paint.regions] == ["sample 1"]
    assert de00(TRUTH["blue"], with_paint.regions[0].lab) < 3
    assert "left out, since it seems to be the chart's own case and no sample" in with_paint.warnings


def test_a_card_of_black_or_grey_paint_beside_the_chart_is_a_sample() -> None:
    for colour in (BLACK, GREY):
        reading = beside(Sample("card", colour, 300, 70, 150, 100))
        assert len(reading.regions) == 1
        assert de00(reflectance_to_lab(colour), reading.regions[0].lab) < 3


def test_the_bench_is_no_sample() -> None:
    alone = beside(*taped(80, 60, 120, 90))
    assert not alone.regions
    assert alone.why_not.startswith("beside the chart there is only the bench: lay painted samples of another colour")
    with_paint = beside(*taped(80, 60, 120, 90), Sample("green", PAINTS["green"], 300, 60, 100, 80))
    assert len(with_paint.regions) == 1
    assert de00(TRUTH["green"], with_paint.regions[0].lab) < 3
    assert "left out, since it seems to be the bench and no sample" in with_paint.warnings


def test_a_good_photograph_has_no_warnings() -> None:
    assert read(frame(shading=0.15, flare=0.01)).warnings == ()


def test_light_of_two_colours_is_reported() -> None:
    warm, cold = (frame(light=light, encoding="sRGB").values for light in ("D65", "D65"))
    side = np.linspace(0, 1, warm.shape[1])[None, :, None]
    tinted = warm * (1 - side) + cold * side * np.array([0.86, 1.0, 1.12])
    values = np.rint(np.clip(tinted, 0, 1) * 255).astype(np.uint8)
    reading = read_photograph(picture_of(frame(), values), regions_of(frame()))
    assert any("two colours" in warning for warning in reading.warnings)


def test_a_photograph_without_a_chart_says_what_to_change() -> None:
    empty = Picture(np.full((300, 400, 3), 128, np.uint8), assumed_encoding(), Path("empty.jpg"))
    assert "no 24-patch chart" in read_photograph(empty).why_not


def test_a_chart_the_shop_has_read_is_used_in_place_of_the_usual_one(tmp_path: Path) -> None:
    columns = ",".join(str(nm) for nm in range(400, 701, 10))
    rows = [f"{i},{','.join(f'{v:.5f}' for v in row)}" for i, row in enumerate(0.9 * chart_spectra(), start=1)]
    (tmp_path / "chart.csv").write_text(f"name,{columns}\n" + "\n".join(rows) + "\n", encoding="utf-8")
    own = read(frame(), chart=read_chart(tmp_path / "chart.csv"))
    for region in own.regions:
        darker = reflectance_to_lab(0.9 * PAINTS[region.name])
        assert de00(darker, region.lab) < region.u95
    (tmp_path / "short.csv").write_text("name,L,a,b\n1,40,10,10\n", encoding="utf-8")
    with pytest.raises(InputError, match="no reading of patch 2"):
        read_chart(tmp_path / "short.csv")


def test_photographs_are_combined_and_one_that_strays_is_set_aside() -> None:
    readings = [read(frame(seed=seed)) for seed in range(4)]
    strange = read(frame(seed=9, light="A", tone=0.4, encoding="none"))
    blue = strange.regions[0]
    moved = [type(blue)(blue.name, blue.lab + np.array([9, 6, 0]), *(getattr(blue, f) for f in FIELDS))]
    stray = PhotoReading(strange.picture, strange.chart, strange.fit, strange.patches, "D65", 10, tuple(moved))
    found = {region.name: region for region in combine_regions([*readings, stray], within=0.5)}
    assert found["blue"].set_aside == (4,)
    assert len(found["blue"].labs) == 4
    assert found["green"].set_aside == ()
    assert de00(TRUTH["blue"], found["blue"].lab) < found["blue"].u95
    assert found["blue"].spread_de00 < 0.5
    pairs = combine_differences(readings, combine_regions(readings, 0.5))
    assert pairs[0].u95 <= np.mean([reading.differences[0].u95 for reading in readings])


FIELDS = ("u95", "spot", "certainty", "quad")


def test_the_number_needed_is_that_of_the_standard() -> None:
    """By hand: t(0.975, 9) = 2.262; (2.262 × 0.6 / 0.4)² = 11.5."""
    assert photographs_needed(0.6, 0.4, 10) == 12
    assert photographs_needed(0.01, 0.5, 3) == 1


@pytest.mark.parametrize("text", ["", "tin", "=1,2,3,4", "tin=1,2,3", "tin=a,b,c,d", "tin=1,2,nan,4", "tin=1,2,3,4"])
def test_a_region_that_is_none_is_named(text: str) -> None:
    with pytest.raises(InputError):
        typed_region(text)


def test_a_region_outside_the_frame_and_patches_that_are_none_are_named() -> None:
    for box in ((-3, 0, 20, 20), (630, 100, 20, 20), (10, 470, 20, 20)):
        with pytest.raises(InputError, match="outside the picture of 640 × 480"):
            read_photograph(picture_of(frame()), [Region("a", quad_of(*box))])
    with pytest.raises(InputError, match="not a patch of the chart"):
        read(frame(), skip=[25])
    with pytest.raises(InputError, match="at least 14"):
        read(frame(), skip=range(1, 12))


def test_a_picture_that_went_black_where_the_chart_was_has_no_edges() -> None:
    shown = picture_of(frame())
    chart = find_chart(shown)
    assert chart is not None
    assert edge_width(shown, chart) is not None
    assert edge_width(Picture(np.zeros_like(frame().uint8()), assumed_encoding(), Path("black.jpg")), chart) is None
