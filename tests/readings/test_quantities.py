"""Quantities at the edge: every unit by its factor, and what could be either is refused."""

from __future__ import annotations

from collections.abc import Callable

import pint
import pytest
from hypothesis import given
from hypothesis import strategies as st

from finishmatch.errors import InputError
from finishmatch.readings.quantities import (
    AREA,
    BUILD,
    CONTENT,
    DENSITY,
    DIMENSIONS,
    TEMPERATURE,
    TIME,
    VOLUME,
    WEIGHT,
    Dimension,
    converted,
    quantity,
    share,
)

# NIST Special Publication 811, appendix B (2008); those marked exact are definitions
NIST = [
    (AREA, "1 ft2", 0.09290304),  # exact
    (AREA, "1 sq in", 6.4516e-4),  # exact
    (AREA, "1 yd²", 0.83612736),  # exact
    (BUILD, "1 mil", 25.4),  # exact
    (BUILD, "2 thou", 50.8),  # exact
    (VOLUME, "1 gal", 3.785411784),  # 231 in³, exact
    (VOLUME, "1 qt", 0.946352946),
    (VOLUME, "1 pt", 0.473176473),
    (VOLUME, "1 fl oz", 0.0295735295625),
    (VOLUME, "1 imp gal", 4.54609),  # exact
    (WEIGHT, "1 oz", 28.349523125),  # exact
    (WEIGHT, "1 lb", 453.59237),  # exact
    (DENSITY, "1 lb/gal", 0.1198264),
    (CONTENT, "1 lb / gal", 119.8264),
    (TEMPERATURE, "68 F", 20.0),  # exact
    (TEMPERATURE, "-40 °F", -40.0),  # exact
    (TEMPERATURE, "293.15 K", 20.0),  # exact
]


@pytest.mark.parametrize(("kind", "text", "value"), NIST, ids=[text for _, text, _ in NIST])
def test_units_are_brought_over_by_the_factors_of_nist(kind: Dimension, text: str, value: float) -> None:
    assert quantity("--x", text, kind) == pytest.approx(value, rel=5e-7)


@pytest.mark.parametrize("kind", DIMENSIONS, ids=[kind.meaning for kind in DIMENSIONS])
def test_every_spelling_of_a_unit_is_known_to_the_library_of_units(kind: Dimension) -> None:
    registry = pint.UnitRegistry()
    for spelling, unit in kind.units.items():
        expected = registry.Quantity(3.0, unit).to(kind.house).magnitude
        assert quantity("--x", f"3 {spelling.upper()}", kind) == pytest.approx(expected, rel=1e-12), spelling


@pytest.mark.parametrize(
    ("kind", "text", "value"),
    [
        (AREA, "2.1m2", 2.1),
        (AREA, "2.1 m²", 2.1),
        (AREA, "22 sq. ft", 22 * 0.09290304),
        (BUILD, "25µm", 25),
        (BUILD, ".5 mils", 12.7),
        (TIME, "1 h 30 min", 90),
        (TIME, "1h30min", 90),
        (TEMPERATURE, "−5 °C", -5),
    ],
)
def test_a_quantity_is_read_as_a_painter_writes_it(kind: Dimension, text: str, value: float) -> None:
    assert quantity("--x", text, kind) == pytest.approx(value, rel=1e-9)


@pytest.mark.parametrize(
    ("kind", "text", "told"),
    [
        (AREA, "2.1", "has no unit and could be m2 or ft2"),
        (AREA, 2.1, "has no unit and could be m2 or ft2"),
        (TEMPERATURE, "20", "has no unit and could be C or F"),
        (AREA, "2 hectares", "the unit 'hectares' is not known"),
        (AREA, "2 m", "is not known"),
        (AREA, "25 um", "is of a film build, and this is an area"),
        (VOLUME, "3 oz", "oz is a weight"),
        (AREA, "0 m2", "must be above 0"),
        (AREA, "-1 m2", "must be above 0"),
        (AREA, "1,500 m2", "decimal point"),
        (AREA, "about 2 m2", "is not an area"),
        (AREA, "2 m2 3 m2", "the unit 'm2 3 m2' is not known"),
        (AREA, "", "is not an area"),
        (AREA, True, "is not an area"),
        (AREA, "1.2.3 m2", "is not a number"),
        (AREA, "1e999 m2", "is not a finite number"),
        (TIME, "5 m", "metres or minutes"),
        (TIME, "99999999 h", "too much for a time"),
        (TEMPERATURE, "-300 C", "colder than is possible"),
        (TEMPERATURE, "1e9 C", "too much for a temperature"),
    ],
)
def test_what_is_no_quantity_is_refused_in_one_line(kind: Dimension, text: object, told: str) -> None:
    with pytest.raises(InputError, match=told):
        quantity("--x", text, kind, above=0)


def _read_or_refused(read: Callable[[], float]) -> None:
    try:
        value = read()
    except InputError as error:
        told = str(error)
    else:
        told = f"{value:g}"
    assert told
    assert "\n" not in told


@pytest.mark.slow
@given(st.text(max_size=30) | st.from_regex(r"[-0-9. ]{1,6} ?[a-zµ°²/ ]{0,6}", fullmatch=True))
def test_any_text_is_a_quantity_or_refused(text: str) -> None:
    for kind in DIMENSIONS:
        _read_or_refused(lambda kind=kind: quantity("--x", text, kind))  # type: ignore[misc]
    _read_or_refused(lambda: share("--x", text))


@given(st.floats(1e-3, 1e3))
def test_a_quantity_survives_the_way_there_and_back(value: float) -> None:
    for kind in DIMENSIONS:
        for unit in set(kind.units.values()):
            back = converted(converted(value, unit, kind.house), kind.house, unit)
            assert back == pytest.approx(value, rel=1e-9, abs=1e-9)


@pytest.mark.parametrize(("text", "value"), [("0.42", 0.42), ("42 %", 0.42), (0.42, 0.42), ("100%", 1.0)])
def test_a_share_is_a_fraction_or_percent(text: object, value: float) -> None:
    assert share("--x", text) == pytest.approx(value)


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("42", "42 % is written 0.42"),
        ("1.2", "over 1"),
        ("120%", "over 1"),
        ("0", "too small"),
        ("-0.1", "too small"),
        ("half", "not a share"),
        (True, "not a share"),
    ],
)
def test_what_is_no_share_is_refused(text: object, told: str) -> None:
    with pytest.raises(InputError, match=told):
        share("--x", text)
