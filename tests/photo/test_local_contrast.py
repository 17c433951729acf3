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
from finishmatch.photo.find.regions import Region, quad_of
from finishmatch.photo.local_contrast import RADII, Evened, added_contrast, without
from finishmatch.photo.open.picture import Picture
from finishmatch.photo.read import PhotoReading, read_photograph

ADDED = PhoneLook(contrast=0.3)
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


@pytest.mark.parametrize(
    "changes", [{"tone": 0.3}, {"look": PhoneLook(saturation=1.2)}, {"shading": 0.6}, {"noise": 0.03}]
)
def test_other_habits_and_uneven_light_are_not_taken_for_it(changes: dict[str, object]) -> None:
    shot = replace(drawn_shot(np.random.default_rng(3), "one", "D65"), **changes)  # type: ignore[arg-type]
    picture = as_opened(photograph([], shot).jpeg(90))
    reading = read_photograph(picture)
    assert reading.reference is not None
    assert added_contrast(picture, reading.reference.quads) is None


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


def test_areas_that_lie_outside_the_picture_or_reach_over_its_edge_bring_nothing_down() -> None:
    _, picture = _photographed(SCENES[0], ADDED)
    quads, (width, height) = _patches(SCENES[0], PLAIN), picture.size
    outside = [quads[0] + [2 * width, 0], quads[0] + [0, 2 * height], quads[0] - quads[0].mean(axis=0)]
    assert added_contrast(picture, outside) is None
    assert added_contrast(picture, [*quads, *outside[:2]]) == pytest.approx(added_contrast(picture, quads))
