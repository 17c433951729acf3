"""The usual chart has other colours since November 2014: which is meant counts, is registered once, and is told of."""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import replace
from functools import cache
from pathlib import Path

import numpy as np
import pytest

from booth.photo_booth import Sample, Shot, photograph
from booth.photo_scenes import as_opened, paints
from finishmatch.colour import Floats, de00, reflectance_to_lab, reflectance_to_xyz, white_point, xyz_to_lab
from finishmatch.errors import InputError
from finishmatch.photo.card.chart_kept import register_chart, registered_chart
from finishmatch.photo.find.chart import MADE, PATCHES, SINCE_2014, UNTIL_2014, Chart, chart_named, usual_chart
from finishmatch.photo.find.regions import Region, quad_of
from finishmatch.photo.open.icc_profile import srgb_curve
from finishmatch.photo.read import PhotoReading, read_photograph
from finishmatch.photo.reference import left_by_make
from tests.conftest import Ran
from tests.photo.test_colour_fit import known_by, real_values
from tools.make_chart import NEWER, newer, published_lab

Cli = Callable[..., Ran]
SAMPLES = 6


def lab_of(made: str) -> Floats:
    """CIELAB of a published chart, D50 and 2°."""
    return xyz_to_lab(reflectance_to_xyz(np.asarray(usual_chart(made).spectra), "D50", 2), white_point("D50", 2))


@cache
def photographed(chart: str, off: float = 0.0, again: bool = False) -> tuple[Floats, bytes, list[Region]]:
    """CIELAB of six paints, and a photograph of them beside a chart whose patches are off what is published.

    Taken `again` it is another exposure.
    """
    r = np.random.default_rng(7)
    muted = np.flatnonzero(np.hypot(*reflectance_to_lab(paints()).T[1:]) < 35)
    spectra = paints()[muted[:: len(muted) // SAMPLES][:SAMPLES]]
    samples = [Sample(str(i), spectrum, 30 + i * 86, 42, 68, 50) for i, spectrum in enumerate(spectra)]
    made = np.asarray(usual_chart(chart).spectra) * np.exp(off * r.standard_normal((PATCHES, 1)))
    shot = Shot(width=1200, height=900, noise=0.004, encoding="Display P3")
    found = photograph(samples, replace(shot, exposure=0.96 * shot.exposure, seed=2) if again else shot, made)
    regions = [Region(name, quad_of(*box)) for name, box in found.regions.items()]
    return reflectance_to_lab(spectra), found.jpeg(92), regions


def read(photo: tuple[Floats, bytes, list[Region]], **how: object) -> PhotoReading:
    """What is read of the six."""
    reading = read_photograph(as_opened(photo[1]), photo[2], **how)  # type: ignore[arg-type]
    assert len(reading.regions) == SAMPLES
    return reading


def off(reading: PhotoReading, truth: Floats) -> float:
    """How far the colours are off, ΔE00, in the mean."""
    return float(np.mean([de00(lab, one.lab) for lab, one in zip(truth, reading.regions, strict=True)]))


def test_the_newer_has_the_colours_that_are_published_of_it() -> None:
    """Against the table of the chart's maker that colour-science carries."""
    assert "24" in NEWER
    assert de00(lab_of(SINCE_2014), published_lab()).max() < 0.01
    np.testing.assert_allclose(np.asarray(usual_chart(SINCE_2014).spectra), newer(), atol=1e-6)


def test_it_differs_visibly_from_the_older() -> None:
    apart = de00(lab_of(SINCE_2014), lab_of(UNTIL_2014))
    assert np.median(apart) == pytest.approx(0.8, abs=0.1)
    assert 1.2 < apart.max() < 1.8


@pytest.mark.parametrize("made", MADE)
def test_colours_come_nearer_by_the_chart_that_it_is_and_the_wrong_one_is_told_of(made: str) -> None:
    photo = photographed(made, off=0.01)
    truth = photo[0]
    by = {one: read(photo, chart=usual_chart(one)) for one in MADE}
    (wrong,) = set(MADE) - {made}
    assert off(by[made], truth) < 0.75 * off(by[wrong], truth)
    said = {one: [note for note in reading.warnings if "of photo card" in note] for one, reading in by.items()}
    assert said[made] == []
    assert len(said[wrong]) == 1
    assert f"`chart` {made} of photo card" in said[wrong][0]


@pytest.mark.parametrize("made", MADE)
def test_where_nobody_said_it_is_taken_for_what_it_reads_like(made: str) -> None:
    photo = photographed(made, off=0.01)
    unsaid, said = read(photo), read(photo, chart=usual_chart(made))
    for one, other in zip(unsaid.regions, said.regions, strict=True):
        np.testing.assert_array_equal(one.lab, other.lab)
    assert unsaid.reference is not None
    assert unsaid.reference.chart.made == made
    assert any("is taken as one" in note for note in unsaid.warnings) == (made != UNTIL_2014)


@pytest.mark.parametrize("photo", ["A", "B", "C", "D"])
def test_real_charts_of_the_older_kind_are_never_taken_for_the_newer(photo: str) -> None:
    values, lab, number = real_values(photo)
    linear = photo == "A"  # the others are encoded as sRGB
    seen = values if linear else srgb_curve(values)
    left = left_by_make(known_by(seen, np.ones_like(seen), lab, number), number, linear, ("D50", 2))
    assert left[SINCE_2014] > left[UNTIL_2014]


def test_what_is_registered_is_what_photographs_are_read_by(tmp_path: Path) -> None:
    data = photographed(SINCE_2014)
    register_chart(tmp_path, usual_chart(SINCE_2014), "2026-01-02T03:04:05Z")
    by_home, said = read(data, home=tmp_path), read(data, chart=usual_chart(SINCE_2014))
    otherwise = read(data, home=tmp_path, chart=usual_chart(UNTIL_2014))
    for one, other, wrong in zip(by_home.regions, said.regions, otherwise.regions, strict=True):
        np.testing.assert_array_equal(one.lab, other.lab)
        assert de00(one.lab, wrong.lab) > 0.1


@pytest.mark.parametrize(
    "chart",
    [
        usual_chart(UNTIL_2014),
        usual_chart(SINCE_2014),
        Chart("own.csv", np.linspace(0.1, 0.9, PATCHES * 31).reshape(PATCHES, 31)),
        Chart("own.csv", None, np.linspace(1, 90, PATCHES * 3).reshape(PATCHES, 3), "D65", 10),
    ],
    ids=["older", "newer", "own spectra", "own CIELAB"],
)
def test_what_is_registered_comes_back_and_the_last_counts(chart: Chart, tmp_path: Path) -> None:
    assert registered_chart(tmp_path) is None
    register_chart(tmp_path, usual_chart(SINCE_2014), "2026-01-01T00:00:00Z")
    assert register_chart(tmp_path, chart, "2026-01-02T00:00:00Z").number == 2
    kept = registered_chart(tmp_path)
    assert kept is not None
    assert (kept.number, kept.registered, kept.chart.name, kept.chart.made) == (
        2, "2026-01-02T00:00:00Z", chart.name, chart.made,
    )  # fmt: skip
    if chart.made:
        assert kept.chart is chart
        return
    for ours, its in ((kept.chart.spectra, chart.spectra), (kept.chart.lab, chart.lab)):
        assert (ours is None) == (its is None)
        if ours is not None:
            np.testing.assert_allclose(ours, its, atol=1e-6)
    assert (kept.chart.light, kept.chart.observer) == (chart.light, chart.observer)


@pytest.mark.parametrize(
    "document",
    [
        "{",
        "[]",
        '{"form": 2, "made": "since-2014", "registered": "", "name": ""}',
        '{"form": 1, "made": "since-1914", "registered": "", "name": ""}',
        '{"form": 1, "made": "", "registered": "", "name": "", "patches": [[1]], "light": "D65", "observer": 10}',
        '{"form": 1, "made": "", "registered": "", "name": ""}',
    ],
)
def test_a_damaged_registration_is_one_line(document: str, tmp_path: Path) -> None:
    (tmp_path / "cards").mkdir()
    (tmp_path / "cards/chart-0001.json").write_text(document, encoding="utf-8")
    with pytest.raises(InputError, match="damaged"):
        registered_chart(tmp_path)


def test_it_is_registered_and_shown_by_the_command(cli: Cli, home: Path) -> None:
    assert "taken as made until November 2014, unless" in cli("photo", "card").out
    assert (
        "registered as #1: the usual one, made since November 2014" in cli("photo", "card", "--chart", SINCE_2014).out
    )
    assert "the chart registered as #1" in cli("photo", "card").out
    assert cli("photo", "card", "--json").json["chart"] | {"registered": ""} == {
        "number": 1, "made": SINCE_2014, "name": "the usual chart", "registered": "",
    }  # fmt: skip
    assert sorted(path.name for path in (home / "cards").iterdir()) == ["chart-0001.json"]


def test_a_chart_that_is_none_is_one_line_and_nothing_is_registered(cli: Cli, home: Path) -> None:
    for command in (("photo", "card"), ("photo", "read", "swatches/photo.jpg")):
        error = cli(*command, "--chart", "since-2015").error
        assert "--chart since-2015" in error
        assert SINCE_2014 in error
    assert not (home / "cards").exists()
    with pytest.raises(InputError, match="no such file"):
        chart_named("until 2014")
    with pytest.raises(InputError, match="no such file"):
        chart_named("")


def test_photo_read_says_as_which_the_chart_was_taken(cli: Cli, tmp_path: Path) -> None:
    _, data, _ = photographed(SINCE_2014)
    photo = tmp_path / "beside.jpg"
    photo.write_bytes(data)
    before = cli("photo", "read", photo)
    assert "chart found (as made since November 2014)" in before.out  # as it reads
    assert "say once which yours is (--chart since-2014 of photo card" in " ".join((before.out + before.err).split())
    cli("photo", "card", "--chart", UNTIL_2014)
    assert "chart found (as made until November 2014)" in cli("photo", "read", photo).out  # as is said
    cli("photo", "card", "--chart", SINCE_2014)
    assert "chart found (as made since November 2014)" in cli("photo", "read", photo).out
    told = cli("photo", "read", photo, "--json").json
    assert told["chart"]["made"] == SINCE_2014
    assert not any("photo card" in note for note in told["warnings"])
    own = tmp_path / "own.csv"
    rows = [",".join([str(i), *(f"{v:.5f}" for v in row)]) for i, row in enumerate(newer(), start=1)]
    own.write_text("\n".join([",".join(["name", *map(str, range(400, 701, 10))]), *rows]) + "\n", encoding="utf-8")
    assert json.loads(cli("photo", "read", photo, "--chart", own, "--json").out)["chart"]["made"] is None
