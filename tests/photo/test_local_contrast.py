"""What a phone adds where light meets dark is found in the patches of the chart, and taken out of every colour."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from functools import cache

import numpy as np
import pytest

from booth.phone_look import PLAIN, PhoneLook
from booth.photo_booth import Shade, photograph
from booth.photo_scenes import Scene, as_linear, as_mosaic, as_opened, drawn_shot, scene
from finishmatch.colour import de00, reflectance_to_lab
from finishmatch.photo import read
from finishmatch.photo.added_contrast import RADII, SURE, _told_by_patches, added_contrast, blurred, light_of
from finishmatch.photo.find.chart import NEUTRALS, usual_chart
from finishmatch.photo.find.find_chart import find_chart
from finishmatch.photo.find.regions import Region, quad_of
from finishmatch.photo.local_contrast import Evened, without
from finishmatch.photo.open.picture import Picture
from finishmatch.photo.read import PhotoReading, read_photograph
from finishmatch.photo.reference import Reference, ReferenceFit, find_reference, fit_reference
from tests.photo.test_colour_fit import real_values

ADDED = PhoneLook(contrast=0.3)
WIDE = PhoneLook(contrast=0.25, reach=(1 / 10,))  # wider than a patch, within which it hardly changes
SCENES = (1, 2)  # with a glare and without; of each one a shading
TOLD = "the camera set light and dark off against each other by some"


@cache
def _photographed(number: int, look: PhoneLook) -> tuple[Scene, Picture]:
    photographed = scene("one", "D65", number, look=look)
    return photographed, as_opened(photographed.photo.jpeg(90))


def _read(number: int, look: PhoneLook) -> tuple[PhotoReading, list[float]]:
    """Return a reading, and how far off its colours are, ΔE00."""
    photographed, picture = _photographed(number, look)
    truth = dict(zip(map(str, range(12)), reflectance_to_lab(photographed.spectra), strict=True))
    reading = read_photograph(picture, [Region(n, quad_of(*box)) for n, box in photographed.photo.regions.items()])
    return reading, [float(de00(truth[one.name], one.lab)) for one in reading.regions]


def _patches(number: int, look: PhoneLook) -> np.ndarray:
    reading, _ = _read(number, look)
    assert reading.reference is not None
    return reading.reference.quads


@pytest.mark.parametrize("number", SCENES)
def test_it_is_found_where_it_is_and_nowhere_else(number: int) -> None:
    quads = _patches(number, PLAIN)
    found = added_contrast(_photographed(number, ADDED)[1], quads)
    assert found is not None
    assert found.sum() == pytest.approx(0.3, abs=0.12)
    assert added_contrast(_photographed(number, PLAIN)[1], quads) is None


def _fit(picture: Picture) -> ReferenceFit:
    """Return the correction by the chart as the picture is."""
    reference, _ = find_reference(find_chart(picture), None, None, None)
    assert reference is not None
    fit, _ = fit_reference(picture, reference, None, (), "D65", 10)
    assert fit is not None
    return fit


@pytest.mark.parametrize("number", [*SCENES, 3])
def test_what_is_added_over_a_wide_radius_is_found_by_what_patches_are_to_the_camera(number: int) -> None:
    quads, found = _patches(number, PLAIN), list[float]()
    for look in (WIDE, PLAIN):
        picture = _photographed(number, look)[1]
        told = added_contrast(picture, quads, _fit(picture))
        found.append(0.0 if told is None else float(told.sum()))
    assert found[0] == pytest.approx(0.22, abs=0.04)  # the blurred picture has some of it too, which makes it less
    assert found[1] == 0


def test_a_real_phones_chart_is_off_for_other_reasons_than_that_by_its_patches_alone() -> None:
    """Its patches drawn as they were read, each one colour all over: nothing was added within them."""
    values, _, number = real_values("B")
    side, drawn = 100, np.full((600, 800, 3), 0.15)
    corners = np.array([[100 + number % 6 * side, 100 + number // 6 * side]]).T.reshape(len(number), 2)
    for (x, y), value in zip(corners, values, strict=True):
        drawn[y + 8 : y + side - 8, x + 8 : x + side - 8] = value
    drawn += 0.004 * np.random.default_rng(1).standard_normal(drawn.shape)
    picture = replace(_photographed(SCENES[0], PLAIN)[1], values=np.rint(255 * np.clip(drawn, 0, 1)).astype(np.uint8))
    inner = side * np.array([[0.25, 0.25], [0.75, 0.25], [0.75, 0.75], [0.25, 0.75]])
    names = tuple(f"patch {one + 1}" for one in number)
    reference = Reference(usual_chart(), corners[:, None] + inner, names, NEUTRALS)
    fit, _ = fit_reference(picture, reference, None, (), "D50", 2)
    assert fit is not None
    light = light_of(picture)
    by_patches = _told_by_patches(picture, fit, light, [blurred(light, radius) for radius in RADII])
    assert by_patches is not None
    assert by_patches.saves(by_patches.amounts) > SURE
    assert by_patches.amounts.sum() > 0.3
    assert added_contrast(picture, reference.quads, fit) is None


def test_of_a_small_chart_it_is_found_too() -> None:
    for contrast in (0.0, 0.1):
        small = {"width": 700, "height": 525, "look": PhoneLook(contrast=contrast)}
        shots = [replace(drawn_shot(np.random.default_rng(n), "one", "D65"), seed=n, **small) for n in range(4)]
        pictures = [as_opened(photograph([], shot).jpeg(90)) for shot in shots]
        told = [added_contrast(one, fit.reference.quads, fit) for one in pictures for fit in [_fit(one)]]
        sizes = [0.0 if one is None else float(one.sum()) for one in told]
        assert sizes == pytest.approx(len(shots) * [contrast], abs=0.035), contrast


@pytest.mark.parametrize(
    "changes", [{"tone": 0.3}, {"look": PhoneLook(saturation=1.2)}, {"shading": 0.6}, {"noise": 0.03}]
)
def test_other_habits_and_uneven_light_are_not_taken_for_it(changes: dict[str, object]) -> None:
    shot = replace(drawn_shot(np.random.default_rng(3), "one", "D65"), **changes)  # type: ignore[arg-type]
    picture = as_opened(photograph([], shot).jpeg(90))
    reading = read_photograph(picture)
    assert reading.reference is not None
    assert added_contrast(picture, reading.reference.quads) is None
    assert added_contrast(picture, reading.reference.quads, _fit(picture)) is None


def test_colours_are_read_nearly_as_without_it(monkeypatch: pytest.MonkeyPatch) -> None:
    off: dict[str, list[float]] = {"plain": [], "taken out": [], "left in": []}
    for number in SCENES:
        off["plain"] += _read(number, PLAIN)[1]
        reading, found = _read(number, ADDED)
        off["taken out"] += found
        assert any(note.startswith(TOLD) for note in reading.warnings)
    monkeypatch.setattr(read, "without_local_contrast", _left_in)
    for number in SCENES:
        off["left in"] += _read(number, ADDED)[1]
    plain, taken_out, left_in = (float(np.median(each)) for each in off.values())
    print(f"\nplain {plain:.2f}, taken out {taken_out:.2f}, left in {left_in:.2f}")
    assert left_in > 1.7 * plain
    assert taken_out < 1.35 * plain


def _left_in(picture: Picture, fit: object, again: Callable[[Picture], object]) -> Evened:
    return Evened(picture, fit)  # type: ignore[arg-type]


def test_of_a_plain_picture_nothing_is_said_and_nothing_changes(monkeypatch: pytest.MonkeyPatch) -> None:
    reading, off = _read(SCENES[0], PLAIN)
    assert not any(note.startswith(TOLD) for note in reading.warnings)
    monkeypatch.setattr(read, "without_local_contrast", _left_in)
    assert _read(SCENES[0], PLAIN)[1] == off


def test_what_is_cut_off_stays_so_and_no_other_value_becomes_so() -> None:
    _, picture = _photographed(SCENES[0], ADDED)
    values = picture.values.copy()
    values[:40, :40], values[:40, 40:80, 1] = 255, 0
    evened = without(replace(picture, values=values), np.linspace(0, 0.1, len(RADII))).values
    ends = (values == 0) | (values == 255)
    assert ((evened == 0) | (evened == 255))[ends].all()
    assert not ((evened == 0) | (evened == 255))[~ends].any()
    assert (evened[ends] == values[ends]).all()
    assert np.abs(evened.astype(int) - values)[~ends].mean() > 1


@pytest.mark.parametrize("made", [as_linear, as_mosaic])
def test_of_a_raw_file_it_is_not_looked_for(
    made: Callable[[np.ndarray], Picture], monkeypatch: pytest.MonkeyPatch
) -> None:
    photographed = scene("one", "D65", 2, raw=True)
    monkeypatch.setattr("finishmatch.photo.local_contrast.added_contrast", lambda *_: pytest.fail("looked for"))
    regions = [Region(name, quad_of(*box)) for name, box in photographed.photo.regions.items()]
    assert read_photograph(made(photographed.photo.values), regions[:2]).regions


def test_a_shadow_over_half_of_the_chart_is_not_taken_for_it() -> None:
    half = Shade(((0.0, 0.0), (300.0, 0.0), (300.0, 450.0), (0.0, 450.0)), (0.7, 0.7, 0.72), 9.0)
    picture = as_opened(scene("one", "D65", 2, shades=(half,)).photo.jpeg(90))
    assert added_contrast(picture, _patches(2, PLAIN)) is None
    assert added_contrast(picture, _patches(2, PLAIN), _fit(picture)) is None


def test_areas_that_lie_outside_the_picture_or_reach_over_its_edge_bring_nothing_down() -> None:
    _, picture = _photographed(SCENES[0], ADDED)
    quads, (width, height) = _patches(SCENES[0], PLAIN), picture.size
    outside = [quads[0] + [2 * width, 0], quads[0] + [0, 2 * height], quads[0] - quads[0].mean(axis=0)]
    assert added_contrast(picture, outside) is None
    assert added_contrast(picture, [*quads, *outside[:2]]) == pytest.approx(added_contrast(picture, quads))
