"""Several samples, and several photographs of them: what of a doubt is a sample's own, and what more photographs do."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import numpy as np
import pytest

from booth.photo_booth import Sample, Shot, photograph
from booth.photo_scenes import as_opened
from finishmatch.photo.combine import SHOWN_ALL_TO, combine_differences, combine_regions, own_u95
from finishmatch.photo.find.regions import Region, quad_of
from finishmatch.photo.read import PhotoReading, PhotoRegion, read_photograph
from tests.helpers.photo_frames import PAINTS, SMALL

WITHIN = 0.5


@cache
def blue_and_greys() -> PhotoReading:
    """A blue, and seven greys that are alike."""
    spectra = [PAINTS["blue"], *[np.full(31, 0.25)] * 7]
    samples = [Sample(f"{i}", one, x_mm=20 + 61 * i, y_mm=30, w_mm=48, h_mm=60) for i, one in enumerate(spectra)]
    photo = photograph(samples, Shot(**SMALL))  # type: ignore[arg-type]
    regions = [Region(name, quad_of(*box)) for name, box in photo.regions.items()]
    return read_photograph(as_opened(photo.jpeg(92)), regions)


def owns(*readings: PhotoReading) -> dict[str, float | None]:
    found = combine_regions(readings, WITHIN)
    shown = combine_differences(readings, found)
    return {region.name: own_u95(region.name, region.u95, shown) for region in found}


def test_a_samples_own_doubt_is_told_by_all_pairs_however_few_are_shown() -> None:
    reading = blue_and_greys()
    shown = combine_differences([reading], combine_regions([reading], WITHIN))
    assert [(one.standard, one.trial) for one in shown] == [("0", f"{i}") for i in range(1, 8)]
    grey = reading.regions[3]
    own = owns(reading)["3"]
    assert own is not None
    assert own < 0.5 * grey.u95
    six = replace(reading, regions=reading.regions[:SHOWN_ALL_TO])
    names = {one.name for one in six.regions}
    few = replace(six, differences=tuple(one for one in six.differences if {one.standard, one.trial} <= names))
    assert own == pytest.approx(owns(few)["3"], rel=0.2)  # as where all pairs are shown
    by_two = owns(reading, reading)["3"]
    assert by_two is not None
    assert 0.5 * own < by_two <= own


def test_samples_that_were_not_listed_first_are_held_against_each_other_too() -> None:
    """As the windows of a sheet of which the first isn't named."""
    reading = blue_and_greys()
    of_two = [one for one in reading.differences if {one.standard, one.trial} == {"5", "6"}]
    assert len(of_two) == 1
    assert of_two[0].u95 < 0.5 * reading.regions[5].u95


def again(reading: PhotoReading, *moved: tuple[float, float, float]) -> list[PhotoReading]:
    """The photograph, and further ones of the same samples, each read so much elsewhere."""

    def elsewhere(one: PhotoRegion, by: tuple[float, float, float]) -> PhotoRegion:
        return replace(one, lab=one.lab + np.array(by))

    return [
        replace(reading, regions=tuple(elsewhere(one, by) for one in reading.regions)) for by in ((0, 0, 0), *moved)
    ]


def a_tenth_less_sure(one: PhotoRegion) -> PhotoRegion:
    certainty = replace(one.certainty, correction=1.1 * one.certainty.correction)
    return replace(one, u95=1.1 * one.u95, certainty=certainty)


def test_a_second_photograph_that_agrees_makes_no_colour_less_sure() -> None:
    reading = blue_and_greys()
    for of, one in zip(reading.regions, combine_regions(again(reading, (0.1, 0.1, 0)), WITHIN), strict=True):
        assert one.u95 < of.u95
        assert one.needed is not None
        assert one.needed <= 8
    worse = replace(reading, regions=tuple(a_tenth_less_sure(one) for one in reading.regions))
    for of, one in zip(reading.regions, combine_regions([reading, worse], WITHIN), strict=True):
        assert one.u95 < of.u95
    three = combine_regions(again(reading, (0.1, 0.1, 0), (0, 0.1, 0.1)), WITHIN)
    assert all(one.u95 < of.u95 for one, of in zip(three, reading.regions, strict=True))


def test_photographs_that_disagree_leave_a_colour_less_sure() -> None:
    reading = blue_and_greys()
    for of, one in zip(reading.regions, combine_regions(again(reading, (4, 3, 3)), WITHIN), strict=True):
        assert one.u95 > of.u95
        assert one.needed is not None
        assert one.needed > 10
