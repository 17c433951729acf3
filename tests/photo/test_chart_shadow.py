"""A shadow's edge over the chart spoils every colour: it is told, and where it is deep nothing is read."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from booth.photo_booth import Shade
from finishmatch.photo.chart_shadow import shadow_over_chart
from finishmatch.photo.correct.capture import Known
from finishmatch.photo.open.picture import open_picture
from finishmatch.photo.read import PhotoReading, read_photograph
from tests.helpers.photo_frames import frame, write_jpeg


def _edge(turn_deg: float, left: float, soft_mm: float = 2.0) -> Shade:
    """A shadow over one half of the chart, its edge through the middle, turned."""
    middle, along = np.array([270.0, 235.0]), np.radians(turn_deg)
    into, beside = np.array([np.cos(along), np.sin(along)]), np.array([-np.sin(along), np.cos(along)])
    corners = (beside * 900, beside * -900, beside * -900 + into * 900, beside * 900 + into * 900)
    return Shade(
        tuple((float(x), float(y)) for x, y in (middle + corner for corner in corners)),
        (left, left, left),
        soft_mm,
    )


def _read(tmp_path: Path, **changes: object) -> PhotoReading:
    return read_photograph(open_picture(write_jpeg(frame(**changes), tmp_path / "photo.jpg")))


@pytest.mark.parametrize("turn_deg", [0, 70, 200])
@pytest.mark.parametrize("left", [0.7, 0.5])
def test_a_deep_shadow_over_half_of_the_chart_is_told_and_nothing_is_read(
    tmp_path: Path, turn_deg: float, left: float
) -> None:
    reading = _read(tmp_path, shades=(_edge(turn_deg, left),))
    assert "a shadow lies over a part of the chart (about " in reading.why_not
    share = float(reading.why_not.split("about ")[1].split(" %")[0]) / 100
    assert share == pytest.approx(1 - left, abs=0.12)
    assert not reading.regions


def test_a_shallow_one_is_told_of(tmp_path: Path) -> None:
    reading = _read(tmp_path, shades=(_edge(30, 0.8),))
    told = [*reading.warnings, reading.why_not]
    assert any("a shadow lies over a part of the chart" in line for line in told)


@pytest.mark.parametrize(
    "changes",
    [
        {},
        {"camera": "two", "light": "A"},
        {"shading": 0.5, "shading_deg": 100},
        {"glare": 0.5},
        {"tone": 0.15, "encoding": "none"},
        {"light": "F11", "exposure": 0.4},
        {"camera": "two", "flare": 0.06, "noise": 0.02},
    ],
)
def test_no_shadow_is_seen_where_none_is(tmp_path: Path, changes: dict[str, object]) -> None:
    reading = _read(tmp_path, **changes)
    assert not reading.why_not
    assert not any("shadow" in line for line in reading.warnings)


def test_two_dirty_patches_are_no_shadow() -> None:
    x, y = np.meshgrid(np.linspace(-0.2, 0.2, 6), np.linspace(-0.12, 0.12, 4))
    places = np.column_stack([x.ravel(), y.ravel()])
    r = np.random.default_rng(3)
    xyz = np.column_stack([r.uniform(0.03, 0.9, (24, 3))]) * 100
    white = np.array([100.0, 100.0, 100.0])
    linear = xyz / 100 * (1 + places @ np.array([0.3, -0.2]))[:, None]
    clean = _known(linear, places, xyz, white)
    assert shadow_over_chart(clean) is None
    dirty = linear.copy()
    dirty[[0, 6]] *= 0.7
    assert shadow_over_chart(_known(dirty, places, xyz, white)) is None
    shaded = linear * np.where(places[:, :1] > 0.05, 0.7, 1.0)
    found = shadow_over_chart(_known(shaded, places, xyz, white))
    assert found is not None
    assert found.deep
    assert found.missing == pytest.approx(0.3, abs=0.03)


def _known(linear: np.ndarray, places: np.ndarray, xyz: np.ndarray, white: np.ndarray) -> Known:
    return Known(linear, places, xyz, white, np.ones(len(xyz)))
