"""The ladder of gloss: it never turns, it goes through its steps, and its interval holds the truth."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.interpolate import PchipInterpolator

from finishmatch.errors import InputError
from finishmatch.finish.sheen import angle_besides, flattening_for, ladder_curve, sheen_called, sheen_of, sheens
from finishmatch.readings.ladder_file import Rung, read_ladder

ladders = st.lists(
    st.tuples(st.floats(0, 100), st.floats(0, 100)), min_size=3, max_size=8, unique_by=lambda step: round(step[0], 3)
)


def falling(steps: list[tuple[float, float]]) -> list[Rung]:
    """Rungs of those flattenings, with those glosses in falling order."""
    glosses = sorted((gloss for _, gloss in steps), reverse=True)
    return [
        Rung(round(parts, 3), (gloss,))
        for parts, gloss in zip(sorted(parts for parts, _ in steps), glosses, strict=True)
    ]


def gloss_at(rungs: list[Rung], parts: np.ndarray) -> np.ndarray:
    """The gloss at parts of flattening base: Fritsch and Butland 1984 through the curve of a ladder, by scipy."""
    return np.asarray(PchipInterpolator(*ladder_curve(rungs))(parts), dtype=float)


@given(ladders)
def test_the_curve_falls_all_the_way_and_meets_every_step(steps: list[tuple[float, float]]) -> None:
    rungs = falling(steps)
    grid = np.linspace(rungs[0].flattening, rungs[-1].flattening, 201)
    curve = gloss_at(rungs, grid)
    assert (np.diff(curve) <= 1e-6).all()
    assert curve.max() <= rungs[0].mean + 1e-6
    assert curve.min() >= rungs[-1].mean - 1e-6
    np.testing.assert_allclose(
        gloss_at(rungs, np.array([r.flattening for r in rungs])), [r.mean for r in rungs], atol=1e-6
    )


@given(ladders, st.floats(0.01, 0.99))
def test_the_ratio_found_gives_the_gloss_wanted(steps: list[tuple[float, float]], part: float) -> None:
    rungs = falling(steps)
    top, bottom = rungs[0].mean, rungs[-1].mean
    if top - bottom < 1:
        return
    wanted = bottom + part * (top - bottom)
    found = flattening_for(rungs, wanted)
    assert gloss_at(rungs, np.array([found.parts]))[0] == pytest.approx(wanted, abs=1e-3)
    assert found.low <= found.parts + 1e-9
    assert found.parts <= found.high + 1e-9
    assert found.between[0] - 1e-9 <= found.parts <= found.between[1] + 1e-9


def test_a_straight_ladder_is_read_off_by_hand() -> None:
    """90 to 10 over 40 parts is 2 gloss units a part: 50 takes 20; ±1.96 gloss units of one reading is ±0.98 parts."""
    rungs = [Rung(float(parts), (90.0 - 2 * parts,)) for parts in (0, 10, 20, 30, 40)]
    found = flattening_for(rungs, 50)
    assert found.parts == pytest.approx(20)
    assert (found.low, found.high) == pytest.approx((19.02, 20.98))
    assert found.gloss_u95 == pytest.approx(1.96 * 2**0.5)
    assert flattening_for(rungs, 90).parts == 0
    assert flattening_for(rungs, 10).parts == pytest.approx(40)


def test_the_interval_holds_the_truth_95_times_in_100() -> None:
    """Invented ladder gloss = 92 exp(-(p/30)²), read three times at each step with an error of 1.5 (SD); seeded."""
    rng = np.random.default_rng(11)
    steps = np.array([0, 5, 10, 15, 20, 25, 30, 40, 50, 60.0])
    true_parts = 30 * np.sqrt(np.log(92 / 35))
    held = 0
    for _ in range(300):
        rungs = [
            Rung(float(p), tuple(np.clip(92 * np.exp(-((p / 30) ** 2)) + rng.normal(0, 1.5, 3), 0, None)))
            for p in steps
        ]
        found = flattening_for(rungs, 35)
        held += found.low <= true_parts <= found.high
    assert 0.90 <= held / 300 <= 1.0


def test_a_step_that_rises_is_pooled_and_reported() -> None:
    rungs = [Rung(0, (90.0,)), Rung(10, (40.0,)), Rung(20, (50.0,)), Rung(30, (10.0,))]
    found = flattening_for(rungs, 60)
    assert found.uneven
    assert gloss_at(rungs, np.array([10, 20])).tolist() == pytest.approx([45, 45])
    assert not flattening_for([Rung(0, (90.0,)), Rung(10, (50.0,)), Rung(20, (50.5,)), Rung(30, (10.0,))], 60).uneven


@pytest.mark.parametrize(("rises", "uneven"), [(2.6, False), (3.4, True)])
def test_the_more_readings_a_step_has_the_less_it_may_rise(rises: float, uneven: bool) -> None:
    """Four readings of each, one unit (SD) apart: their mean is known to half of that, and three of it are reported."""
    apart = np.sqrt(0.75) * np.array([-1, -1, 1, 1])  # SD 1 with n - 1
    rungs = [Rung(p, tuple(mean + apart)) for p, mean in ((0, 90.0), (10, 50.0), (20, 50.0 + rises), (30, 10.0))]
    assert flattening_for(rungs, 60).uneven is uneven


def test_names_of_sheen_are_those_of_the_trade() -> None:
    """«common practice»: flat under 10, eggshell 10–25, satin 25–40, semi-gloss 40–70, gloss over 70 at 60°."""
    names = [sheen_of(gloss) for gloss in (3, 9.9, 10, 24, 25, 39, 40, 69, 70, 95, 140)]
    assert names == ["flat", "flat", "eggshell", "eggshell", "satin", "satin", *["semi-gloss"] * 2, *["gloss"] * 3]
    assert all(one.low < one.aim < one.high for one in sheens())
    assert all(one.high == other.low for one, other in zip(sheens(), sheens()[1:], strict=False))
    assert sheen_called("Semi Gloss").name == "semi-gloss"
    with pytest.raises(InputError, match="is not known"):
        sheen_called("matt-ish")


@pytest.mark.parametrize("gloss", [95.0, 5.0, float("nan")])
def test_a_gloss_outside_the_ladder_is_refused(gloss: float) -> None:
    with pytest.raises(InputError, match="outside the ladder"):
        flattening_for([Rung(0, (90.0,)), Rung(10, (50.0,)), Rung(20, (10.0,))], gloss)


def test_a_ladder_that_does_not_fall_is_refused() -> None:
    with pytest.raises(InputError, match="doesn't fall"):
        flattening_for([Rung(0, (10.0,)), Rung(10, (50.0,)), Rung(20, (90.0,))], 50)


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("flattening,gloss\n0,90\n10,50\n", "needs three or more"),
        ("flattening,gloss\n0,90\n10,-5\n20,3\n", "too small"),
        ("flattening,gloss\n0,90\n10,x\n20,3\n", "is not a number"),
        ("parts,gloss\n0,90\n", "there is no column 'flattening'"),
    ],
)
def test_a_ladder_that_is_wrong_is_refused(text: str, message: str, tmp_path: Path) -> None:
    file = tmp_path / "ladder.csv"
    file.write_text(text, "utf-8")
    with pytest.raises(InputError, match=message):
        read_ladder(file)


@pytest.mark.parametrize(("gloss", "angle"), [(92, 20), (71, 20), (70, None), (35, None), (10, None), (9, 85), (3, 85)])
def test_a_gloss_at_an_end_is_read_at_another_angle(gloss: float, angle: int | None) -> None:
    """ISO 2813, ASTM D523: over 70 gloss units at 60° read at 20°, under 10 at 85°."""
    assert angle_besides(gloss) == angle


def test_other_bounds_in_use_are_known() -> None:
    """Architectural painting standards: satin 20 to 35, semi-gloss 35 to 70."""
    assert {one.name: one.elsewhere for one in sheens() if one.elsewhere} == {"satin": (20, 35), "semi-gloss": (35, 70)}
