"""How much paint: the handbook's coverage, sums by hand, and nothing lost between litres and grams."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from finishmatch.errors import InputError
from finishmatch.finish.quantity import coverage_m2_l, mixed_solids, paint_needed, total_area
from finishmatch.finish.spraying_figures import common_areas
from finishmatch.readings.product_sheet import Component, parts_of
from finishmatch.readings.quantities import converted

TWO_PACK = (
    Component("colour", 4, 1.2, 0.5),
    Component("hardener", 1, 1.0, 0.6),
    Component("thinner", 1, 0.9, 0.0),
)


def test_coverage_is_the_figure_of_the_handbooks() -> None:
    """1,604 ft² per US gallon at 1 mil of 100 % solids: 231 in³ spread at 0.001 in, over 144 in²/ft² (geometry)."""
    us = converted(coverage_m2_l(25.4), "meter**2/liter", "foot**2/US_liquid_gallon")
    assert us == pytest.approx(231 / 0.001 / 144, rel=1e-9)
    assert us == pytest.approx(1604, abs=0.5)


def test_a_job_worked_by_hand() -> None:
    """3 m² at 50 µm dry is 0.150 L of film; at 50 % solids 0.300 L wet; half stays on, a tenth of the mix is left."""
    found = paint_needed(3.0, 50.0, 0.5, 0.5, 0.1)
    assert found.on_panel_l == pytest.approx(0.300)
    assert found.sprayed_l == pytest.approx(0.600)
    assert found.mixed_l == pytest.approx(0.600 / 0.9)
    assert found.coverage_m2_l == pytest.approx(3.0 / found.mixed_l)
    assert found.shares == ()
    assert found.grams is None


def test_a_ratio_by_volume_worked_by_hand() -> None:
    """0.6 L at 4:1:1 is 0.4, 0.1 and 0.1 L; times their densities 480, 100 and 90 g."""
    found = paint_needed(3.0, 50.0, 0.5, 0.5, 0.0, TWO_PACK, "volume")
    assert [share.litres for share in found.shares] == pytest.approx([0.4, 0.1, 0.1])
    assert [share.grams for share in found.shares] == pytest.approx([480, 100, 90])
    assert found.grams == pytest.approx(670)


def test_a_ratio_by_weight_worked_by_hand() -> None:
    """Six parts by weight at 1.2, 1.0 and 0.9 kg/L fill 4/1.2 + 1/1.0 + 1/0.9 = 5.4444 parts of volume."""
    found = paint_needed(3.0, 50.0, 0.5, 0.5, 0.0, TWO_PACK, "weight")
    assert found.grams == pytest.approx(600 * 6 / (4 / 1.2 + 1 + 1 / 0.9))
    colour, hardener, thinner = (share.grams or 0 for share in found.shares)
    assert colour == pytest.approx(4 * hardener)
    assert thinner == pytest.approx(hardener)
    assert sum(share.litres for share in found.shares) == pytest.approx(0.6)


def test_the_solids_of_a_mixture_go_by_volume() -> None:
    assert mixed_solids(TWO_PACK, "volume") == pytest.approx((4 * 0.5 + 0.6) / 6)
    assert mixed_solids((*TWO_PACK, Component("slow thinner", 1)), "volume") is None


def test_a_ratio_by_weight_needs_only_the_density_of_the_whole_for_grams() -> None:
    found = paint_needed(3.0, 50.0, 0.5, 0.5, 0.0, [Component("a", 3), Component("b", 1)], "weight", 1.1)
    assert [share.grams for share in found.shares] == pytest.approx([495, 165])


@given(
    area=st.floats(0.01, 100),
    build=st.floats(5, 500),
    solids=st.floats(0.05, 1),
    transfer=st.floats(0.1, 1),
    waste=st.floats(0, 0.9),
    by=st.sampled_from(["volume", "weight"]),
)
def test_nothing_is_lost_between_what_is_mixed_and_what_dries(
    area: float, build: float, solids: float, transfer: float, waste: float, by: str
) -> None:
    found = paint_needed(area, build, solids, transfer, waste, TWO_PACK, by)
    dry_l = found.mixed_l * (1 - waste) * transfer * solids
    assert dry_l == pytest.approx(area * build / 1000, rel=1e-9)
    assert sum(share.litres for share in found.shares) == pytest.approx(found.mixed_l, rel=1e-9)
    assert sum(share.grams or 0 for share in found.shares) == pytest.approx(found.grams, rel=1e-9)


def test_panels_are_counted_from_the_table() -> None:
    areas = {"bonnet": 1.5, "front wing": 1.2}
    assert total_area([("bonnet", 1), ("front wing", 2)], areas) == pytest.approx(1.5 + 2.4)
    with pytest.raises(InputError, match="did you mean front wing"):
        total_area([("frnt wing", 1)], areas)
    with pytest.raises(InputError, match="can't be painted"):
        total_area([("bonnet", 0)], areas)


def test_the_panels_of_the_table_make_a_car() -> None:
    """«Common practice»: a bonnet 1.1 m long and unrolled 1.5 m, a roof of 1.6 by 1.2 m, front doors of 0.9 by 1 m; all
    the outside of such a car is 12 to 20 m²."""
    areas = common_areas()
    assert areas["bonnet"] == pytest.approx(1.1 * 1.5, rel=0.2)
    assert areas["roof"] == pytest.approx(1.6 * 1.2, rel=0.2)
    assert areas["front door"] == pytest.approx(0.9 * 1.0, rel=0.2)
    twice = ("front wing", "rear wing", "front door", "rear door", "rear quarter", "running board")
    assert 12 < total_area([(name, 2 if name in twice else 1) for name in areas], areas) < 20


@pytest.mark.parametrize(
    ("area", "build", "solids", "transfer", "waste", "message"),
    [
        (0.0, 50, 0.5, 0.5, 0.1, "0 m² can't be painted"),
        (-1.0, 50, 0.5, 0.5, 0.1, "-1 m² can't be painted"),
        (3.0, 0, 0.5, 0.5, 0.1, "0 µm can't be sprayed"),
        (3.0, 50, 1.2, 0.5, 0.1, "`volume_solids`: 1.2 is not a share"),
        (3.0, 50, 0.5, 0.0, 0.1, "`transfer`: 0 is not a share"),
        (3.0, 50, 0.5, 0.5, 1.0, "`waste`: 1 is not a share"),
        (float("nan"), 50, 0.5, 0.5, 0.1, "nan m²"),
    ],
)
def test_what_can_not_be_is_refused(
    area: float, build: float, solids: float, transfer: float, waste: float, message: str
) -> None:
    with pytest.raises(InputError, match=message):
        paint_needed(area, build, solids, transfer, waste)


def test_a_ratio_by_weight_without_densities_is_refused() -> None:
    with pytest.raises(InputError, match="its density isn't known"):
        paint_needed(3.0, 50.0, 0.5, 0.5, 0.0, [Component("a", 3), Component("b", 1)], "weight")


@pytest.mark.parametrize(
    ("ratio", "parts"),
    [("4:1:1", (4, 1, 1)), ("2 : 1", (2, 1)), ("60%:25%:15%", (60, 25, 15)), ("0.8:0.2", (0.8, 0.2))],
)
def test_a_mixing_ratio_is_parts_or_shares(ratio: str, parts: tuple[float, ...]) -> None:
    assert parts_of("--ratio", ratio) == pytest.approx(parts)


@pytest.mark.parametrize(
    ("ratio", "message"),
    [
        ("60%:25%:10%", "come to 95 %"),
        ("0.5:0.2:0.2", "come to 0.9"),
        ("60%:2:1", "mixes parts and percent"),
        ("4", "not a mixing ratio"),
        ("4::1", "not a mixing ratio"),
        ("a:b", "not a mixing ratio"),
        ("4:0", "isn't above 0"),
        ("4:nan", "isn't above 0"),
    ],
)
def test_ratios_that_do_not_sum_are_refused(ratio: str, message: str) -> None:
    with pytest.raises(InputError, match=message):
        parts_of("--ratio", ratio)
