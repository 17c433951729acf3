"""Dew point, window and timetable: ASHRAE's values, the data sheet first, and warmer is never slower."""

from __future__ import annotations

from math import log

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from finishmatch.errors import InputError
from finishmatch.finish.air import air_faults, booth_air, dew_point
from finishmatch.finish.timing import (
    BETWEEN,
    HELD,
    PRACTICE,
    SCALED,
    SHEET,
    PaintCoats,
    at_temperature,
    latest_at,
    time_in_pot,
    timetable,
)
from finishmatch.readings.product_sheet import Product, TimeAt, times_of


@pytest.mark.parametrize(("air", "humidity", "dew"), [(20, 0.5, 9.27), (25, 0.6, 16.70), (30, 0.8, 26.17)])
def test_the_dew_point_is_ashraes(air: float, humidity: float, dew: float) -> None:
    """ASHRAE Handbook, Fundamentals (2017), by its reference library."""
    assert dew_point(air, humidity) == pytest.approx(dew, abs=0.01)


@pytest.mark.parametrize(("air", "humidity"), [(20, 0.5), (25, 0.6), (30, 0.8), (10, 0.9)])
def test_the_dew_point_agrees_with_the_magnus_formula(air: float, humidity: float) -> None:
    """Magnus form with the coefficients of Sonntag 1990 (17.62, 243.12 °C), from memory; within 0.1 °C indoors."""
    gamma = log(humidity) + 17.62 * air / (243.12 + air)
    assert dew_point(air, humidity) == pytest.approx(243.12 * gamma / (17.62 - gamma), abs=0.1)


def test_the_air_may_be_told_by_its_dew_point() -> None:
    by_dew = booth_air(25, dew_point_c=16.70)
    assert by_dew.humidity == pytest.approx(0.6, abs=0.001)
    assert booth_air(25, 0.6).dew_point_c == pytest.approx(16.70, abs=0.01)


def test_the_panel_must_be_three_degrees_above_the_dew_point() -> None:
    """ISO 8502-4."""
    (fault,) = air_faults(booth_air(25, 0.6, surface_c=19.5))
    assert "2.8 °C above the dew point; 3 °C is the least" in fault.what
    assert "19.7 °C" in fault.mend
    assert air_faults(booth_air(25, 0.6, surface_c=19.8)) == ()


@pytest.mark.parametrize(
    ("arguments", "message"),
    [
        ({"temperature_c": 22, "humidity": 0.8, "surface_c": 10}, "below the dew point"),
        ({"temperature_c": 10, "dew_point_c": 12}, "which is impossible"),
        ({"temperature_c": 22}, "needs its humidity or its dew point"),
        ({"temperature_c": 22, "humidity": 0.5, "dew_point_c": 11}, "give one of the two"),
        ({"temperature_c": 22, "humidity": 1.2}, "not a humidity of air"),
        ({"temperature_c": 22, "humidity": 0.0}, "not a humidity of air"),
        ({"temperature_c": 22, "humidity": 1e-15}, "not a humidity of air"),
        ({"temperature_c": 400, "humidity": 0.5}, "not the temperature of a booth"),
        ({"temperature_c": float("nan"), "humidity": 0.5}, "not the temperature of a booth"),
    ],
)
def test_air_that_can_not_be_is_refused(arguments: dict[str, float], message: str) -> None:
    with pytest.raises(InputError, match=message):
        booth_air(**arguments)


def test_the_window_is_the_data_sheets() -> None:
    product = Product("x", "clear", temperature_c=(18, 28), humidity=(0.2, 0.7))
    assert air_faults(booth_air(22, 0.5), product) == ()
    cold = air_faults(booth_air(15, 0.75), product)
    assert [fault.what.split(",")[0] for fault in cold] == ["the air", "the panel", "the humidity"]
    assert cold[0].mend == "warm it"
    assert "18 to 28 °C (x)" in cold[0].what


def test_times_halve_for_ten_degrees_unless_the_sheet_tells() -> None:
    """Halving per 10 °C is «common practice»."""
    one = times_of("x", ["4 h at 20 C"])
    assert at_temperature(one, 20) is not None
    assert [at_temperature(one, t).minutes for t in (10, 20, 30)] == pytest.approx([480, 240, 120])  # type: ignore[union-attr]
    assert [at_temperature(one, t).how for t in (20, 30)] == [SHEET, SCALED]  # type: ignore[union-attr]
    two = times_of("x", ["4 h at 20 C", "1 h at 30 C"])
    middle, beyond = at_temperature(two, 25), at_temperature(two, 40)
    assert middle is not None
    assert beyond is not None
    assert (middle.how, beyond.how) == (BETWEEN, SCALED)
    assert middle.minutes == pytest.approx((240 * 60) ** 0.5)  # evenly in its logarithm
    assert beyond.minutes == pytest.approx(30)
    assert at_temperature((), 20) is None


@given(
    times=st.lists(st.tuples(st.floats(1, 600), st.floats(5, 40)), min_size=1, max_size=4, unique_by=lambda t: t[1]),
    low=st.floats(5, 40),
    warmer=st.floats(0, 20),
)
def test_warmer_is_never_slower(times: list[tuple[float, float]], low: float, warmer: float) -> None:
    minutes = sorted((m for m, _ in times), reverse=True)
    sheet = [TimeAt(m, t) for m, (_, t) in zip(minutes, sorted(times, key=lambda one: one[1]), strict=True)]
    cold, warm = at_temperature(sheet, low), at_temperature(sheet, low + warmer)
    assert cold is not None
    assert warm is not None
    assert warm.minutes <= cold.minutes * 1.01  # within 0.05 °C the sheet's own time is taken as it stands


def test_a_day_worked_by_hand() -> None:
    """20 °C, 10 min a coat: 0, 10 + 15 flash; surfacer dry 2 h after its last coat; colour at 155 and 175."""
    surfacer = Product(
        "surfacer",
        "primer",
        flash_off=(TimeAt(15, 20),),
        recoat_after=(TimeAt(120, 20),),
        recoat_within=(TimeAt(480, 20),),
    )
    colour = Product("colour", "single-stage", flash_off=(TimeAt(10, 20),), dry=(TimeAt(600, 20),))
    events = timetable([PaintCoats(surfacer, 2), PaintCoats(colour, 2)], 20, 10)
    assert [(e.minute, e.what) for e in events] == [
        (0, "coat 1 of 2"),
        (25, "coat 2 of 2"),
        (155, "coat 1 of 2"),
        (175, "coat 2 of 2"),
        (785, "dry to handle"),
    ]
    assert events[2].until == 35 + 480
    assert events[2].how == SHEET
    assert time_in_pot(PaintCoats(surfacer, 2), 20, 10) == 35
    assert timetable([PaintCoats(Product("x", "clear"), 2)], 20, 10)[1].how == PRACTICE


def test_a_latest_time_of_recoating_is_never_stretched() -> None:
    """A window that closes is the sheet's, not the clock's: colder never makes it longer («common practice»)."""
    times = times_of("x", ["24 h at 20 C", "8 h at 30 C"])
    found = {at: latest_at(times, at) for at in (0, 10, 19, 20, 25, 29, 30, 40)}
    assert {at: (span.minutes, span.how) for at, span in found.items() if span is not None} == {
        0: (1440, HELD),
        10: (1440, HELD),
        19: (1440, HELD),
        20: (1440, SHEET),
        25: (480, HELD),
        29: (480, HELD),
        30: (480, SHEET),
        40: (240, SCALED),
    }
    assert latest_at((), 20) is None


@example(times=[(1.0, 19.96875), (2.0, 20.0)])  # two that stand for one temperature
@given(times=st.lists(st.tuples(st.floats(1, 600), st.floats(5, 40)), min_size=1, max_size=4, unique_by=lambda t: t[1]))
def test_no_latest_time_is_later_than_one_on_the_sheet(times: list[tuple[float, float]]) -> None:
    minutes = sorted((m for m, _ in times), reverse=True)
    sheet = [TimeAt(m, t) for m, (_, t) in zip(minutes, sorted(times, key=lambda one: one[1]), strict=True)]
    for at in (-10.0, 0.0, 12.5, 20.0, 27.5, 45.0):
        latest = latest_at(sheet, at)
        assert latest is not None
        colder = [one.minutes for one in sheet if one.temperature_c <= at] or [sheet[0].minutes]
        assert latest.minutes <= colder[-1] + 1e-9


def test_without_a_latest_time_the_timetable_says_it_is_unknown() -> None:
    surfacer, colour = Product("surfacer", "primer"), Product("colour", "single-stage")
    unknown = timetable([PaintCoats(surfacer, 2), PaintCoats(colour, 2)], 20, 10)
    assert [event.latest_unknown for event in unknown] == [False, False, True, False]
    known = Product("surfacer", "primer", recoat_within=(TimeAt(30, 20),))
    late = timetable([PaintCoats(known, 1), PaintCoats(colour, 1)], 20, 10)
    assert [(event.latest_unknown, event.too_late) for event in late] == [(False, False), (False, True)]
    # the warmer of air and panel closes the window
    assert timetable([PaintCoats(known, 1), PaintCoats(colour, 1)], 15, 10, 30)[1].until == 10 + 15


@pytest.mark.parametrize(
    ("texts", "message"),
    [
        (["4 h"], "doesn't give the temperature"),
        (["4 at 20 C"], "has no unit"),
        (["4 h at 20"], "has no unit"),
        (["0 h at 20 C"], "must be above 0"),
        (["4 h at -40 C"], "not a temperature to spray"),
        (["4 h at 20 C", "3 h at 68 F"], "two times for one temperature"),
        (["4 h at 20 C", "5 h at 30 C"], "longer when it is warmer"),
    ],
)
def test_times_of_a_sheet_that_can_not_be_are_refused(texts: list[str], message: str) -> None:
    with pytest.raises(InputError, match=message):
        times_of("sheet", texts)
