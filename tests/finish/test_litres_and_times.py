"""Litres, grams and times of the day by hand, at their limits."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from finishmatch.errors import InputError
from finishmatch.finish.quantity import (
    Share,
    coverage_m2_l,
    mixed_solids,
    paint_needed,
    total_area,
    volume_parts,
)
from finishmatch.finish.timing import (
    BETWEEN,
    HELD,
    PRACTICE,
    SCALED,
    SHEET,
    Event,
    PaintCoats,
    Span,
    at_temperature,
    latest_at,
    lots_needed,
    time_in_pot,
    timetable,
    wait_of,
)
from finishmatch.readings.product_sheet import Component, Product, TimeAt


def test_the_area_of_panels_is_added_up() -> None:
    areas = {"bonnet": 1.5, "door": 0.9}
    assert total_area((("bonnet", 1), ("door", 2.5)), areas) == pytest.approx(3.75)
    for panels, told in (
        ((("dor", 1),), "`panels`: the table of panels has no 'dor'; did you mean door?"),
        ((("q" * 50, 1),), f"`panels`: the table of panels has no '{'q' * 40}'; the table has bonnet, door"),
        ((("door", 0),), "`panels`: 0 × door can't be painted; give a number above 0, up to 1000"),
        ((("door", 1001),), "`panels`: 1001 × door can't be painted; give a number above 0, up to 1000"),
    ):
        with pytest.raises(InputError) as caught:
            total_area(panels, areas)
        assert str(caught.value) == told
    assert total_area((("door", 1000),), areas) == pytest.approx(900)


def test_paint_is_lost_in_the_air_and_in_the_cup() -> None:
    """2 m² at 50 µm are 0.1 L dry: 0.25 L of 40 % solids, half of it on the panel, a fifth left in the cup: 0.625 L."""
    assert coverage_m2_l(50.0, 0.4) == pytest.approx(8.0)
    assert coverage_m2_l(50.0) == 20.0
    paint, hardener = Component("paint", 4.0, 1.2), Component("hardener", 1.0, 1.0)
    found = paint_needed(2.0, 50.0, 0.4, 0.5, 0.2, (paint, hardener))
    assert (found.area_m2, found.build_um) == (2.0, 50.0)
    assert (found.on_panel_l, found.sprayed_l, found.mixed_l) == pytest.approx((0.25, 0.5, 0.625))
    assert found.coverage_m2_l == pytest.approx(3.2)
    one, other = found.shares
    assert one == Share("paint", pytest.approx(0.5), pytest.approx(600))
    assert other == Share("hardener", pytest.approx(0.125), pytest.approx(125))
    assert found.grams == pytest.approx(725)
    assert paint_needed(2.0, 50.0, 0.4, 0.5, 0.2, (paint, hardener), density_kg_l=1.1).grams == pytest.approx(687.5)
    assert paint_needed(2.0, 50.0, 0.4, 0.5, 0.2).shares == ()
    assert paint_needed(2.0, 50.0, 0.4, 0.5, 0.2).grams is None
    unknown = replace(hardener, density_kg_l=None)
    half = paint_needed(2.0, 50.0, 0.4, 0.5, 0.2, (paint, unknown))
    assert half.grams is None
    assert half.shares[1].grams is None
    by_weight = paint_needed(2.0, 50.0, 0.4, 0.5, 0.2, (paint, unknown), "weight", 1.1)
    assert [share.grams for share in by_weight.shares] == pytest.approx([550.0, 137.5])
    assert [share.litres for share in by_weight.shares] == pytest.approx([0.55 / 1.2, 0.1375 / 1.1])
    weighed = paint_needed(2.0, 50.0, 0.4, 0.5, 0.2, (paint, hardener), "weight", 1.1)
    assert weighed.shares[0].litres == pytest.approx(0.625 * (4 / 1.2) / (4 / 1.2 + 1))


def test_parts_by_volume_and_by_weight() -> None:
    paint, thinner = Component("paint", 3.0, 1.5, 0.6), Component("thinner", 1.0, 1.0, 0.0)
    assert volume_parts((paint, thinner), "volume") == pytest.approx((0.75, 0.25))
    assert volume_parts((paint, thinner), "weight") == pytest.approx((2 / 3, 1 / 3))
    assert mixed_solids((paint, thinner), "volume") == pytest.approx(0.45)
    assert mixed_solids((paint, replace(thinner, volume_solids=None)), "volume") is None
    assert mixed_solids((), "volume") is None
    with pytest.raises(InputError) as caught:
        volume_parts((paint, replace(thinner, density_kg_l=None)), "weight")
    assert str(caught.value) == (
        "thinner: is mixed by weight and its density isn't known; give the density of each component"
    )


@pytest.mark.parametrize(
    ("changed", "told"),
    [
        ({"area_m2": 0.0}, "`area_m2`: 0 m² can't be painted; give an area above 0, up to 1000 m²"),
        ({"area_m2": 1000.1}, "`area_m2`: 1000.1 m² can't be painted; give an area above 0, up to 1000 m²"),
        ({"build_um": 0.0}, "`build_um`: 0 µm can't be sprayed; give a dry build above 0, up to 5000 µm"),
        ({"build_um": 5001.0}, "`build_um`: 5001 µm can't be sprayed; give a dry build above 0, up to 5000 µm"),
        ({"volume_solids": 0.0}, "`volume_solids`: 0 is not a share above 0, up to 1; write 0.42 for 42 %"),
        ({"transfer": 1.1}, "`transfer`: 1.1 is not a share above 0, up to 1; write 0.42 for 42 %"),
        ({"waste": 1.0}, "`waste`: 1 is not a share of 0 to below 1; write 0.1 for a tenth"),
        ({"waste": -0.1}, "`waste`: -0.1 is not a share of 0 to below 1; write 0.1 for a tenth"),
    ],
)
def test_figures_that_cant_be_are_told(changed: dict[str, float], told: str) -> None:
    usual = {"area_m2": 1000.0, "build_um": 5000.0, "volume_solids": 1.0, "transfer": 1.0, "waste": 0.0}
    assert paint_needed(**usual).mixed_l == pytest.approx(5000)
    with pytest.raises(InputError) as caught:
        paint_needed(**{**usual, **changed})
    assert str(caught.value) == told


SHEET_TIMES = (TimeAt(40.0, 15.0), TimeAt(20.0, 20.0), TimeAt(10.0, 40.0))


def test_times_are_the_sheets_or_lie_between_or_halve_every_ten_degrees() -> None:
    assert at_temperature((), 20.0) is None
    assert at_temperature(SHEET_TIMES, 20.04) == Span(20.0, SHEET)
    between = at_temperature(SHEET_TIMES, 30.0)
    assert between == Span(pytest.approx(np.sqrt(200)), BETWEEN)
    assert at_temperature(SHEET_TIMES, 5.0) == Span(pytest.approx(80.0), SCALED)
    assert at_temperature(SHEET_TIMES, 50.0) == Span(pytest.approx(5.0), SCALED)
    assert latest_at(SHEET_TIMES, 20.0) == Span(20.0, SHEET)
    assert latest_at(SHEET_TIMES, 18.0) == Span(20.0, HELD)
    assert latest_at(SHEET_TIMES, 10.0) == Span(40.0, HELD)
    assert latest_at(SHEET_TIMES, 50.0) == Span(pytest.approx(5.0), SCALED)
    assert latest_at((), 20.0) is None
    twice = (TimeAt(60.0, 20.0), TimeAt(50.0, 20.0))
    assert latest_at(twice, 20.0) == Span(50.0, SHEET)
    assert wait_of((), 30.0, 60.0) == Span(pytest.approx(30.0), PRACTICE)
    assert wait_of((), 20.0, 60.0) == Span(60.0, PRACTICE)
    assert wait_of(SHEET_TIMES, 20.0, 60.0) == Span(20.0, SHEET)


def test_the_day_goes_coat_by_coat() -> None:
    """10 minutes a coat: base 0 and 30, an hour to clear at 100 by the sheet, at 115 the latest; then dry."""
    at = lambda minutes: (TimeAt(minutes, 20.0),)  # noqa: E731
    base = Product("Base", "basecoat", flash_off=at(20.0), recoat_after=at(60.0), recoat_within=at(75.0))
    clear = Product("Clear", "clear", dry=at(300.0))
    day = timetable((PaintCoats(base, 2), PaintCoats(clear, 2)), 20.0, 10.0)
    assert day == (
        Event(0.0, "Base", "coat 1 of 2", None, "", False),
        Event(30.0, "Base", "coat 2 of 2", None, SHEET, False),
        Event(100.0, "Clear", "coat 1 of 2", 115.0, SHEET, False),
        Event(125.0, "Clear", "coat 2 of 2", None, PRACTICE, False),
        Event(435.0, "Clear", "dry to handle", None, SHEET, False),
    )
    assert not any(event.too_late for event in day)
    assert Event(116.0, "x", "y", 115.0).too_late
    assert not Event(115.0, "x", "y", 115.0).too_late
    silent = timetable((PaintCoats(replace(base, recoat_within=()), 1), PaintCoats(clear, 1)), 20.0, 10.0)
    assert [event.latest_unknown for event in silent] == [False, True, False]
    warm = timetable((PaintCoats(replace(base, recoat_within=(TimeAt(75.0, 20.0), TimeAt(62.0, 30.0))), 1),
                      PaintCoats(clear, 1)), 20.0, 10.0, 30.0)  # fmt: skip
    assert warm[1].until == 72.0
    assert timetable((PaintCoats(base, 1),), 20.0, 10.0)[-1].what == "coat 1 of 1"


def test_as_many_lots_are_mixed_as_the_pot_life_asks_for() -> None:
    paint = Product("Clear", "clear", flash_off=(TimeAt(15.0, 20.0),), pot_life=(TimeAt(60.0, 20.0),))
    assert time_in_pot(PaintCoats(paint, 3), 20.0, 10.0) == 60.0
    assert lots_needed(PaintCoats(paint, 3), 20.0, 10.0) == 1
    assert lots_needed(PaintCoats(paint, 4), 20.0, 10.0) == 2
    assert lots_needed(PaintCoats(paint, 7), 20.0, 10.0) == 3
    assert lots_needed(PaintCoats(paint, 2), 20.0, 90.0) == 4
    assert lots_needed(PaintCoats(paint, 0), 20.0, 10.0) == 1
    assert lots_needed(PaintCoats(replace(paint, pot_life=()), 9), 20.0, 10.0) == 1
