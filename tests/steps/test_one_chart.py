"""Photographs that are read together are read by one chart: one that shows which it is tells for all."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

import finishmatch.steps.photo.seen_in_photos as seen_steps
from finishmatch.photo.find.chart import MADE, SINCE_2014, UNTIL_2014, Chart, usual_chart
from finishmatch.photo.open.icc_profile import linear_encoding
from finishmatch.photo.open.picture import Picture
from finishmatch.photo.read import PhotoReading
from finishmatch.photo.reference import Reference
from finishmatch.steps.photo.one_chart import read_by_one_chart
from finishmatch.steps.photo.read_photo import PhotoRequest, read_photo
from finishmatch.steps.photo.seen_in_photos import SeenRequest, read_seen
from finishmatch.steps.progress import quiet
from tests.photo.test_chart_made import photographed

PICTURE = Picture(np.zeros((1, 1, 3), np.uint8), linear_encoding(), Path("x.jpg"))
PRINT = Reference(Chart("a print", None), np.zeros((0, 4, 2)), (), (), printed=True)


def taken(*shown: str, said: Chart | None = None) -> list[str]:
    """As which charts photographs are taken of which each shows one, or "" where a print served."""
    empty = PhotoReading(PICTURE, None, None, (), "D65", 10)

    def read(place: int, chart: Chart | None) -> PhotoReading:
        if not shown[place]:
            return replace(empty, reference=PRINT)
        its = chart or usual_chart(shown[place])
        return replace(empty, reference=replace(PRINT, chart=its, printed=False, assumed=chart is None))

    found = read_by_one_chart([Path(f"{i}.jpg") for i in range(len(shown))], said, read, quiet)
    return [one.reference.chart.made for one in found if one.reference is not None]


@pytest.mark.parametrize(
    ("shown", "expected"),
    [
        ((UNTIL_2014, UNTIL_2014), (UNTIL_2014, UNTIL_2014)),
        ((UNTIL_2014, SINCE_2014, UNTIL_2014), (SINCE_2014,) * 3),
        (("", SINCE_2014, ""), ("", SINCE_2014, "")),
        (("", UNTIL_2014, SINCE_2014), ("", SINCE_2014, SINCE_2014)),
    ],
)
def test_one_that_shows_the_newer_tells_for_all(shown: tuple[str, ...], expected: tuple[str, ...]) -> None:
    assert taken(*shown) == list(expected)


@pytest.mark.parametrize("made", MADE)
def test_what_was_said_stays(made: str) -> None:
    assert taken(UNTIL_2014, SINCE_2014, said=usual_chart(made)) == [made, made]


def test_what_cannot_be_read_tells_nothing() -> None:
    found = read_by_one_chart(
        [Path("a.jpg")],
        None,
        lambda _at, _chart: PhotoReading(PICTURE, None, None, (), "D65", 10, why_not="dark"),
        quiet,
    )
    assert [one.why_not for one in found] == ["dark"]


def test_real_photographs_of_one_newer_chart_are_all_read_by_it(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Of two photographs one is kept from showing it; samples and pairs are read as where it was said."""
    _, data, regions = photographed(SINCE_2014)
    paths = [tmp_path / "first.jpg", tmp_path / "second.jpg"]
    for i, path in enumerate(paths):
        path.write_bytes(photographed(SINCE_2014, off=0.002, again=True)[1] if i else data)
    marked = [
        f"{r.name}={x0:.0f},{y0:.0f},{x1 - x0:.0f},{y1 - y0:.0f}" for r in regions for x0, y0, x1, y1 in [_box(r)]
    ]
    said = read_photo(paths, PhotoRequest(region=tuple(marked), chart=SINCE_2014))
    unsaid = read_photo(paths, PhotoRequest(region=tuple(marked)))
    for one, other in zip(unsaid.regions, said.regions, strict=True):
        np.testing.assert_allclose(one.lab, other.lab, atol=1e-9)
    assert unsaid.chart.made == SINCE_2014
    request = SeenRequest(seen=paths, region=tuple(marked[:2]), called=("0", "1"))
    asked: list[str | None] = []
    own = seen_steps._read

    def read(path: Path, marks: object, chart: Chart | None, light: str, observer: int) -> PhotoReading:
        asked.append(None if chart is None else chart.made)
        hidden = usual_chart(UNTIL_2014) if chart is None and path == paths[1] else chart
        reading = own(path, marks, hidden, light, observer)  # type: ignore[arg-type]
        if hidden is chart or reading.reference is None:
            return reading
        return replace(reading, reference=replace(reading.reference, assumed=True))

    monkeypatch.setattr(seen_steps, "_read", read)
    mixed = read_seen(request)
    assert asked == [None, None, SINCE_2014]
    monkeypatch.setattr(seen_steps, "_read", own)
    whole = read_seen(replace(request, chart=SINCE_2014))
    np.testing.assert_allclose(mixed.seen[0].delta, whole.seen[0].delta, atol=1e-9)


def _box(region: object) -> tuple[float, float, float, float]:
    quad = np.asarray(region.quad)  # type: ignore[attr-defined]
    return (*quad.min(axis=0), *quad.max(axis=0))
