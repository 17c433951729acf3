"""Air, gloss, flop and hiding at their limits, by hand, and the words where one is passed."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from scipy.interpolate import PchipInterpolator

from finishmatch.colour import cielab_delta, de00, difference_words
from finishmatch.errors import InputError
from finishmatch.finish.air import AirFault, BoothAir, air_faults, booth_air, dew_point
from finishmatch.finish.flop import FlopComparison, compare_angles, flop_index, flop_words
from finishmatch.finish.hiding import build_that_hides, too_dark_for_ratio
from finishmatch.finish.sheen import angle_besides, flattening_for, ladder_curve, sheen_called, sheen_of
from finishmatch.readings.ladder_file import Rung
from finishmatch.readings.product_sheet import Product


def test_the_panel_is_as_warm_as_the_air_where_it_wasnt_read() -> None:
    air = booth_air(20.0, 0.5)
    assert (air.surface_c, air.humidity) == (20.0, 0.5)
    assert air.dew_point_c == pytest.approx(dew_point(20.0, 0.5))
    assert air.margin_c == pytest.approx(20 - air.dew_point_c)
    known = booth_air(20.0, None, 12.0, 9.0)
    assert (known.dew_point_c, known.margin_c) == (9.0, 3.0)
    assert dew_point(20.0, known.humidity) == pytest.approx(9.0, abs=0.01)
    assert booth_air(20.0, 1.0).margin_c == pytest.approx(0, abs=0.01)
    assert booth_air(-20.0, 0.5).temperature_c == -20
    assert booth_air(90.0, 0.1).temperature_c == 90
    assert booth_air(20.0, None, None, 20.0).humidity == pytest.approx(1.0)
    assert booth_air(20.0, None, 9.0, 9.0).margin_c == 0


@pytest.mark.parametrize(
    ("given", "told"),
    [
        ((-20.1, 0.5), "`temperature_c`: -20.1 °C is not the temperature of a booth; it must be -20 to 90 °C"),
        ((20.0, 0.5, 90.1), "`surface_c`: 90.1 °C is not the temperature of a booth; it must be -20 to 90 °C"),
        ((20.0, None, None, 91.0), "`dew_point_c`: 91.0 °C is not the temperature of a booth; it must be -20 to 90 °C"),
        ((20.0,), "`humidity`: the air needs its humidity or its dew point; give one of the two"),
        ((20.0, 0.5, None, 9.0), "`humidity`: the air needs its humidity or its dew point; give one of the two"),
        ((20.0, None, None, 20.5), "`temperature_c`: 20.0 °C is below the dew point, 20.5 °C: which is "
                                   "impossible; read both "
         "again"),
        ((20.0, 0.0), "`humidity`: 0 % is not a humidity of air; it is 0.1 to 100 %"),
        ((20.0, 1.01), "`humidity`: 101 % is not a humidity of air; it is 0.1 to 100 %"),
        ((20.0, None, 8.5, 9.0), "`surface_c`: the panel, 8.5 °C, is below the dew point, 9.0 °C: water stands "
                                 "on it; warm it "
         "to 12 °C, or dry the air"),
    ],
)  # fmt: skip
def test_air_that_cant_be_is_told(given: tuple[float | None, ...], told: str) -> None:
    with pytest.raises(InputError) as caught:
        booth_air(*given)  # type: ignore[arg-type]
    assert str(caught.value) == told


def test_what_keeps_a_product_from_being_sprayed_is_told_with_the_mend() -> None:
    air = BoothAir(20.0, 0.5, 20.0, 9.0)
    assert air_faults(air) == ()
    assert air_faults(replace(air, surface_c=12.0)) == ()
    assert air_faults(replace(air, surface_c=11.5)) == (
        AirFault(
            "the panel is only 2.5 °C above the dew point; 3 °C is the least (ISO 8502-4)",
            "warm the panel to 12.0 °C, or dry the air",
        ),
    )
    sheet = Product("Clear", "clear", temperature_c=(18.0, 25.0), humidity=(0.3, 0.7))
    for temperature in (18.0, 25.0):
        assert air_faults(replace(air, temperature_c=temperature, surface_c=temperature), sheet) == ()
    for humidity in (0.3, 0.7):
        assert air_faults(replace(air, humidity=humidity), sheet) == ()
    outside = "is outside the data sheet's 18 to 25 °C (Clear)"
    assert air_faults(replace(air, temperature_c=17.5, surface_c=25.5), sheet) == (
        AirFault(f"the air, 17.5 °C, {outside}", "warm it"), AirFault(f"the panel, 25.5 °C, {outside}", "cool it"),
    )  # fmt: skip
    assert air_faults(replace(air, humidity=0.25), sheet) == (
        AirFault("the humidity, 25 %, is outside the data sheet's 30 to 70 % (Clear)", "wet the floor or wait"),
    )
    (damp,) = air_faults(replace(air, humidity=0.75), sheet)
    assert (damp.what[:18], damp.mend) == ("the humidity, 75 %", "dry or warm the air")
    assert air_faults(replace(air, humidity=0.75), Product("Clear", "clear")) == ()


LADDER = (Rung(0.0, (90.0,)), Rung(10.0, (60.0,)), Rung(20.0, (40.0,)), Rung(40.0, (10.0,)))


@pytest.mark.parametrize(
    ("gloss", "name", "besides"),
    [(0.0, "flat", 85), (9.9, "flat", 85), (10.0, "eggshell", None), (24.9, "eggshell", None), (25.0, "satin", None),
     (40.0, "semi-gloss", None), (70.0, "gloss", None), (70.1, "gloss", 20), (120.0, "gloss", 20)],
)  # fmt: skip
def test_a_gloss_has_its_name_and_the_angle_it_is_read_at_besides(gloss: float, name: str, besides: int | None) -> None:
    assert (sheen_of(gloss), angle_besides(gloss)) == (name, besides)


def test_a_sheen_is_known_by_its_other_names() -> None:
    satin = sheen_called("satin")
    assert (satin.low, satin.high, satin.aim, satin.also, satin.elsewhere) == (
        25,
        40,
        32,
        ("silk", "silk matt"),
        (20, 35),
    )
    assert sheen_called("Silk-Matt") == satin
    assert sheen_called("flat").elsewhere == ()
    with pytest.raises(InputError) as caught:
        sheen_called("q" * 50)
    assert str(caught.value) == f"`sheen`: '{'q' * 40}' is not known; use flat, eggshell, satin, semi-gloss, gloss"


def test_a_ladder_tells_the_parts_of_a_gloss_and_how_surely() -> None:
    """One reading a rung, so 1 gloss unit each: 1.96 of them both ways; and as much again at the next reading."""
    found = flattening_for(LADDER, 60.0)
    assert (found.parts, found.gloss, found.reading_sd, found.between, found.uneven) == (
        10.0,
        60.0,
        1.0,
        (10.0, 10.0),
        False,
    )
    assert found.gloss_u95 == pytest.approx(1.96 * np.sqrt(2))
    curve = PchipInterpolator([0.0, 10, 20, 40], [90.0, 60, 40, 10])
    assert float(curve(found.low)) == pytest.approx(61.96)
    assert float(curve(found.high)) == pytest.approx(58.04)
    between = flattening_for(LADDER, 50.0)
    assert between.between == (10.0, 20.0)
    assert float(curve(between.parts)) == pytest.approx(50.0)
    for gloss, parts in ((90.0, 0.0), (10.0, 40.0)):
        end = flattening_for(LADDER, gloss)
        assert end.parts == end.low == parts if gloss == 90 else end.parts == end.high == parts
    for wrong in (90.1, 9.9):
        with pytest.raises(InputError) as caught:
            flattening_for(LADDER, wrong)
        assert str(caught.value) == (
            f"`gloss`: {wrong:g} lies outside the ladder, which goes from 90 down to 10; spray another step of it"
        )
    with pytest.raises(InputError) as caught:
        flattening_for((Rung(0.0, (50.0,)), Rung(10.0, (50.0,))), 50.0)
    assert str(caught.value) == "ladder: its gloss doesn't fall with more flattening base; check its columns"


def test_repeats_tell_the_scatter_and_rises_are_pooled() -> None:
    """Squares of 18 + 8 of two free readings each: 3.61; a rung of three that rises by one pools 46 and 50 to 49."""
    rungs = (Rung(0.0, (87.0, 93.0)), Rung(10.0, (46.0,)), Rung(20.0, (48.0, 52.0, 50.0)), Rung(40.0, (10.0,)))
    found = flattening_for(rungs, 30.0)
    assert found.reading_sd == pytest.approx(np.sqrt((18 + 8) / 3))
    assert not found.uneven
    assert ladder_curve(rungs)[1] == pytest.approx([90.0, 49.0, 49.0, 10.0])
    flat = flattening_for(rungs, 49.0)
    assert (flat.parts, flat.between) == (10.0, (10.0, 20.0))
    steep = (Rung(0.0, (90.0,)), Rung(10.0, (30.0,)), Rung(20.0, (50.0,)), Rung(40.0, (10.0,)))
    assert flattening_for(steep, 20.0).uneven
    barely = (Rung(0.0, (90.0,)), Rung(10.0, (44.0,)), Rung(20.0, (49.9,)), Rung(40.0, (10.0,)))
    assert not flattening_for(barely, 20.0).uneven


def test_the_flop_index_is_that_of_its_formula_and_its_words() -> None:
    assert flop_index(100.0, 50.0, 20.0) == pytest.approx(2.69 * 80**1.11 / 50**0.86)
    assert flop_index(20.0, 50.0, 100.0) == 0
    with pytest.raises(InputError) as caught:
        flop_index(100.0, 0.0, 20.0)
    assert str(caught.value) == "L*: the flop index needs some lightness at 45°; check the reading"
    assert flop_words(None, 3.0) == flop_words(3.0, None) == ""
    assert flop_words(10.0, 10.49) == "the flop is alike"
    assert flop_words(10.0, 10.5) == "the trial falls off more: its flake lies flatter"
    assert flop_words(10.0, 9.5) == "the trial falls off less: its flake lies less flat"


def test_angles_that_both_were_read_at_are_compared() -> None:
    labs = np.array([[90.0, 1, 2], [50.0, 0, 1], [20.0, -1, 0]])
    found = compare_angles(
        ([15.3, 45.0, 110.0], labs), ([45.0, 110.2, 15.0, 25.0], np.array([*labs[[1, 2]], [85.0, 1, 5], [0, 0, 0]]))
    )
    assert isinstance(found, FlopComparison)
    assert [one.angle for one in found.angles] == [15.0, 45.0, 110.0]
    assert found.left_out == (25.0,)
    assert found.worst is found.angles[0]
    trial = np.array([85.0, 1, 5])
    assert found.worst.de00 == pytest.approx(float(de00(labs[0], trial)))
    delta = cielab_delta(labs[0], trial)
    assert found.worst.delta == pytest.approx({name: float(getattr(delta, name)) for name in ("L", "a", "b", "C", "H")})
    assert found.worst.words == tuple(difference_words(labs[0], trial))
    assert found.standard_flop == pytest.approx(flop_index(90.0, 50.0, 20.0))
    assert found.trial_flop == pytest.approx(flop_index(85.0, 50.0, 20.0))
    two = compare_angles(([15.0, 45.0], labs[:2]), ([15.0, 45.0], labs[:2]))
    assert (two.standard_flop, two.trial_flop, two.left_out) == (None, None, ())
    with pytest.raises(InputError) as caught:
        compare_angles(([15.0], labs[:1]), ([15.6, 45.0], labs[:2]))
    assert str(caught.value) == (
        "angles: the two were read at different angles: 15° and 15.6°, 45°; read both at 15°, 45° and 110°"
    )


def test_a_contrast_ratio_that_cant_be_is_told() -> None:
    chart = (100.0, 0.01, 0.8, 0.98)
    read_at = "give the dry build it was read at, 1 to 2000 µm"
    for contrast, at, told in (
        (1.0, 30.0, "`contrast`: 1 is not a contrast ratio; it is above 0 and below 1, as 0.93 or 93%"),
        (0.0, 30.0, "`contrast`: 0 is not a contrast ratio; it is above 0 and below 1, as 0.93 or 93%"),
        (0.9, 0.9, f"`at_um`: 0.9 µm is not the build of a drawdown; {read_at}"),
        (0.9, 2001.0, f"`at_um`: 2001 µm is not the build of a drawdown; {read_at}"),
        (0.01, 30.0, "`contrast`: any film has more than 0.01, however thin; read it again"),
    ):
        with pytest.raises(InputError) as caught:
            build_that_hides(contrast, at, *chart[1:])
        assert str(caught.value) == told
    with pytest.raises(InputError, match=r"a film of that colour has more than 0\.01, however thin"):
        build_that_hides(0.01, 30.0, *chart[1:], colour=np.full(31, 0.5))
    # Y of 15 and less
    assert too_dark_for_ratio(45.6)
    assert not too_dark_for_ratio(45.8)
    # what was read at the wanted ratio is the build, twice as thick a drawdown twice the build
    grey = np.full(31, 0.5)
    itself = build_that_hides(0.95, 30.0, 0.01, 0.8, 0.95, grey)
    assert itself.build_um == pytest.approx(30.0)
    assert itself.low_um < 30.0 < itself.high_um
    doubled = build_that_hides(0.95, 60.0, 0.01, 0.8, 0.95, grey)
    assert (doubled.build_um, doubled.low_um, doubled.high_um) == pytest.approx(
        (60.0, 2 * itself.low_um, 2 * itself.high_um)
    )
