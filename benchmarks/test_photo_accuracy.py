"""Rendered photographs: how near the colours are read, and how often what is stated holds.

The tests take a part of the frames, so as not to be long; `python -m benchmarks.test_photo_accuracy` measures them all.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from typing import Any
from unittest.mock import patch

import numpy as np
import pytest

from booth.photo_booth import CAMERAS
from booth.photo_scenes import OF_EACH, as_linear, as_mosaic, as_opened, paints, scene
from finishmatch.colour import de00, reflectance_to_lab
from finishmatch.photo import read
from finishmatch.photo.find.regions import Region, quad_of
from finishmatch.photo.open.picture import Picture
from finishmatch.photo.read import PhotoReading, read_photograph

GROUPS = {"daylight and A": ("D50", "D65", "A"), "F11 and LED-B3": ("F11", "LED-B3")}
CLOSE = ("0", "10", "1", "11")
QUALITY = 90  # of the JPEG
OFTEN, RAW, ALL = range(4), range(4), range(12)  # frames of each camera and light


@dataclass
class Found:
    """What was measured in some frames: errors and stated u95 of colours, of close pairs and of pairs far apart."""

    colours: list[tuple[float, float]] = field(default_factory=list)
    close: list[tuple[float, float]] = field(default_factory=list)
    apart: list[tuple[float, float]] = field(default_factory=list)
    lost: int = 0  # samples the file's colour space cuts off, named by the program as lost

    def __add__(self, other: Found) -> Found:
        return Found(
            self.colours + other.colours,
            self.close + other.close,
            self.apart + other.apart,
            self.lost + other.lost,
        )


def median(pairs: list[tuple[float, float]]) -> float:
    return float(np.median([error for error, _ in pairs]))


def held(pairs: list[tuple[float, float]]) -> float:
    return 100 * float(np.mean([error <= u95 for error, u95 in pairs]))


@contextmanager
def _of_one_frame() -> Iterator[None]:
    """Find the chart and fit its patches once, however many readings are taken of a frame."""

    def once(does: Callable[..., Any]) -> Callable[..., Any]:
        results: list[Any] = []

        def first(*given: Any) -> Any:
            if not results:
                results.append(does(*given))
            return results[0]

        return first

    with patch.multiple(read, find_chart=once(read.find_chart), fit_reference=once(read.fit_reference)):
        yield


def measure(
    camera: str,
    light: str,
    numbers: Iterable[int],
    raw: Callable[[np.ndarray], Picture] | None = None,
    told_in: str = "D65",
) -> Found:
    """Read photographs by one camera in one light: as JPEG, or what `raw` makes of the sensor's own linear values."""
    found = Found()
    for number in numbers:
        here = scene(camera, light, number, raw is not None)
        truth = {str(i): lab for i, lab in enumerate(reflectance_to_lab(here.spectra, told_in))}
        picture = raw(here.photo.values) if raw else as_opened(here.photo.jpeg(QUALITY))
        regions = {name: Region(name, quad_of(*box)) for name, box in here.photo.regions.items()}
        with _of_one_frame():
            close = read_photograph(picture, [regions[name] for name in CLOSE], light=told_in)
            rest = [one for name, one in regions.items() if name not in CLOSE]
            others = read_photograph(picture, rest, light=told_in)
        for reading in (close, others):
            assert len(reading.regions) + len(reading.lost) in (4, 8), reading.why_not
            found.lost += len(reading.lost)
            found.colours += [(float(de00(truth[one.name], one.lab)), one.u95) for one in reading.regions]
        _add_differences(found, close, truth)
    return found


def _add_differences(found: Found, reading: PhotoReading, truth: dict[str, np.ndarray]) -> None:
    for pair in reading.differences:
        off = abs(pair.de00 - float(de00(truth[pair.standard], truth[pair.trial])))
        near = (pair.standard, pair.trial) in (CLOSE[:2], CLOSE[2:])
        (found.close if near else found.apart).append((off, pair.u95))


def told(name: str, found: Found) -> str:
    colours, close, apart = found.colours, found.close, found.apart
    worst = np.percentile([error for error, _ in colours], 95)
    return (
        f"{name}: {len(colours)} colours off by {median(colours):.2f} (median) and "
        f"{worst:.1f} (95 in 100), u95 {np.median([u for _, u in colours]):.1f} "
        f"holds {held(colours):.1f} %; {len(close)} close differences off by {median(close):.2f}, "
        f"u95 {np.median([u for _, u in close]):.2f} holds {held(close):.1f} %; "
        f"{len(apart)} large ones off by {median(apart):.2f}, hold {held(apart):.1f} %; {found.lost} lost"
    )


@pytest.fixture(scope="module")
def found() -> dict[str, Found]:
    whole = {
        name: sum((measure(camera, light, OFTEN) for camera in CAMERAS for light in lights), Found())
        for name, lights in GROUPS.items()
    }
    print()
    for name, one in whole.items():
        print(told(name, one))
    return whole


def test_the_paints_are_many_and_of_all_colours() -> None:
    lab = reflectance_to_lab(paints())
    assert len(lab) == 2 * OF_EACH
    assert np.ptp(lab[:, 0]) > 50
    assert np.ptp(lab[:, 1:], axis=0).min() > 60


@pytest.mark.parametrize(("group", "limit"), [("daylight and A", 1.0), ("F11 and LED-B3", 2.0)])
def test_colours_are_read_to_a_median(found: dict[str, Found], group: str, limit: float) -> None:
    """docs/accuracy.md tells what all the frames come to, and by which camera."""
    assert median(found[group].colours) <= limit
    assert found[group].lost < 0.08 * (len(found[group].colours) + found[group].lost)


def test_close_samples_of_one_frame_are_told_apart_to_a_median_of_0_3(found: dict[str, Found]) -> None:
    assert median(sum(found.values(), Found()).close) <= 0.3


def test_what_is_stated_holds_90_to_99_times_in_100(found: dict[str, Found]) -> None:
    whole = sum(found.values(), Found())
    assert 90 <= held(whole.colours) <= 99
    assert 90 <= held(whole.close) <= 99


def main() -> None:
    """Measure all the frames."""
    for name, lights in GROUPS.items():
        for how, made in {"linear in 16 bits": as_linear, "mosaics of 12 bits": as_mosaic}.items():
            raw = sum((measure(camera, light, RAW, raw=made) for light in lights for camera in CAMERAS), Found())
            print(told(f"{name}, {how}", raw), flush=True)
        own = sum((measure(camera, light, ALL, told_in=light) for light in lights for camera in CAMERAS), Found())
        print(told(f"{name}, told in the light of the photograph", own), flush=True)
        parts = {(camera, light): measure(camera, light, ALL) for light in lights for camera in CAMERAS}
        for (camera, light), part in parts.items():
            print(told(f"{light}, camera {camera}", part), flush=True)
        print(told(name, sum(parts.values(), Found())), flush=True)


if __name__ == "__main__":
    main()
