"""The chance of breaking through: against Monte Carlo, closed forms, and simulated panels."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from finishmatch.defects import (
    EvenLength,
    StudentLength,
    anywhere,
    common_practice,
    film_layer,
    film_left,
    predicted_build,
)

PRACTICE = common_practice()
DRAWS = 100_000


@dataclass(frozen=True)
class Panel:
    """Build readings per layer (µm), the depth of the defect and its standard deviation, the film to keep."""

    layers: tuple[tuple[float, ...], ...]
    depth: tuple[float, float] | None
    keep_um: float


PANELS = [
    Panel(layers, depth, keep)
    for layers in (
        ((62, 58, 60),),
        ((98, 104, 101, 110, 95),),
        ((48, 55),),  # two readings: one degree of freedom, no mean
        ((100,),),  # one reading: the assumed spread
        ((50, 50, 50),),  # all the same: the assumed spread
        ((48, 52, 55), (61, 66, 58, 70)),
        ((30, 45), (55, 49)),
        ((60, 58, 63), (25,), (48, 52, 55, 51)),
        ((5, 9, 2), (8, 3)),  # thin and wild: much of the distribution would lie below nothing
    )
    for depth in (None, (10.0, 2.0), (35.0, 5.0), (60.0, 12.0), (2.0, 4.0))
    for keep in (0.0, 12.5, 40.0, 50.0)
]


def _drawn_film_left(panel: Panel, rng: np.random.Generator) -> np.ndarray:
    """Draw the film left from its definition, independently of the room's own distributions."""
    total = np.zeros(DRAWS)
    for builds in panel.layers:
        n, mean = len(builds), np.mean(builds)
        widen = math.sqrt(1 + 1 / n)
        if len(set(builds)) == 1:
            drawn = rng.normal(mean, widen * math.hypot(0.10 * mean, 1.5), DRAWS)
        else:
            drawn = mean + widen * max(np.std(builds, ddof=1), 1.5) * rng.standard_t(n - 1, DRAWS)
        total += np.maximum(drawn, 0)
    removed = [(2.0, 1.0), (4.0, 2.0), (2.0, 1.0), *([panel.depth] if panel.depth else [])]
    for mean, sd in removed:
        total -= np.maximum(rng.normal(mean, sd, DRAWS), 0)
    return total


def _computed(layers: Sequence[Sequence[float]], depth: tuple[float, float] | None):
    builds = [predicted_build(film_layer("colour", each), PRACTICE) for each in layers]
    cut = [StudentLength(2.0, 1.0), StudentLength(4.0, 2.0), StudentLength(2.0, 1.0)]
    return film_left(builds, [*cut, *([StudentLength(*depth)] if depth else [])])


def test_the_shop_figures_used_here_are_those_of_the_data_file() -> None:
    assert (PRACTICE.spread, PRACTICE.gauge_um) == (0.10, 1.5)
    assert (PRACTICE.rim_um, PRACTICE.flat_um, PRACTICE.polish_um) == ((2.0, 1.0), (4.0, 2.0), (2.0, 1.0))


def test_agrees_with_a_hundred_thousand_draws_within_a_hundredth() -> None:
    rng = np.random.default_rng(20240607)
    worst = 0.0
    for panel in PANELS:
        drawn = np.mean(_drawn_film_left(panel, rng) < panel.keep_um)
        worst = max(worst, abs(float(drawn) - _computed(panel.layers, panel.depth).chance_below(panel.keep_um)))
    assert len(PANELS) >= 100
    assert worst < 0.01


def test_a_depth_as_likely_anywhere_in_a_layer_agrees_with_draws() -> None:
    rng = np.random.default_rng(5)
    left = film_left([StudentLength(100.0, 7.0, 4)], [EvenLength(20.0, 90.0), StudentLength(8.0, 2.5)])
    drawn = np.maximum(100 + 7 * rng.standard_t(4, DRAWS), 0) - rng.uniform(20, 90, DRAWS)
    drawn -= np.maximum(rng.normal(8, 2.5, DRAWS), 0)
    for keep in (10.0, 37.0, 50.0):
        assert left.chance_below(keep) == pytest.approx(np.mean(drawn < keep), abs=0.01)


def test_one_layer_is_students_t_itself() -> None:
    """Prediction of one further value from n of a normal distribution: ISO 16269-8; the t of SciPy."""
    builds = (98.0, 104.0, 101.0, 110.0)
    predicted = predicted_build(film_layer("clear", builds), PRACTICE)
    scale = np.std(builds, ddof=1) * math.sqrt(1 + 1 / 4)
    left = film_left([predicted], [])
    for keep in (60.0, 90.0, 103.3, 120.0):
        assert left.chance_below(keep) == pytest.approx(stats.t.cdf((keep - np.mean(builds)) / scale, 3), abs=1e-4)
    low, high = stats.t.ppf((0.1, 0.9), 3) * scale + np.mean(builds)
    assert (left.quantile_um(0.1), left.quantile_um(0.9)) == pytest.approx((low, high), abs=0.05)


def test_normal_lengths_add_in_squares() -> None:
    left = film_left([StudentLength(60, 3), StudentLength(80, 4)], [StudentLength(50, 12)])
    for keep in (70.0, 90.0, 101.0):
        assert left.chance_below(keep) == pytest.approx(stats.norm.cdf(keep, 90, 13), abs=1e-4)
    assert left.mean_um == pytest.approx(90)


def test_the_same_readings_give_the_same_chance() -> None:
    """No random numbers stand behind an answer."""
    panel = PANELS[0]
    assert (
        _computed(panel.layers, panel.depth).chances.tolist() == _computed(panel.layers, panel.depth).chances.tolist()
    )


@pytest.mark.parametrize("count", [3, 5])
def test_the_80_percent_interval_holds_about_80_times_in_100(count: int) -> None:
    """Simulated panels whose film is known: a layer of 100 µm that varies by 6 µm from spot to spot."""
    rng = np.random.default_rng(count)
    held, panels = 0, 1500
    for _ in range(panels):
        *builds, spot = rng.normal(100, 6, count + 1)
        left = film_left([predicted_build(film_layer("colour", builds), PRACTICE)], [])
        held += left.quantile_um(0.1) <= spot <= left.quantile_um(0.9)
    assert 0.76 <= held / panels <= 0.84


readings = st.lists(st.floats(1, 300), min_size=1, max_size=6).map(tuple)


@settings(derandomize=True, max_examples=60, deadline=None)
@given(layers=st.lists(readings, min_size=1, max_size=3), depth=st.floats(0, 200), keep=st.floats(0, 200))
def test_a_chance_is_a_chance_and_grows_with_what_is_removed_and_what_must_stay(
    layers: list[tuple[float, ...]], depth: float, keep: float
) -> None:
    left = _computed(layers, (depth, 3.0))
    deeper = _computed(layers, (depth + 10, 3.0))
    chance = left.chance_below(keep)
    assert 0 <= chance <= 1
    assert left.chance_below(keep + 10) >= chance
    assert deeper.chance_below(keep) >= chance - 2e-3  # the grids of the two differ where readings are wild
    assert 0 <= left.quantile_um(0.1) <= left.quantile_um(0.9)


def test_wild_readings_and_absurd_builds_stay_quick_and_finite() -> None:
    left = _computed(((1.0, 20_000.0), (1.0, 20_000.0), (3.0, 19_000.0)), (50.0, 3.0))
    assert left.chances.size < 300_000
    assert 0 <= left.chance_below(40) <= 1


def test_no_film_is_surely_broken_through() -> None:
    assert film_left([], [StudentLength(4, 2)]).chance_below(20) == 1.0


def test_readings_closer_than_the_gauge_can_tell_take_its_error() -> None:
    predicted = predicted_build(film_layer("colour", (50.0, 50.1, 50.0)), PRACTICE)
    assert predicted.scale_um == pytest.approx(1.5 * math.sqrt(4 / 3))


def test_anywhere_is_one_at_least_of_independent_spots() -> None:
    assert anywhere(0.1, 1) == pytest.approx(0.1)
    assert anywhere(0.1, 3) == pytest.approx(1 - 0.9**3)
    assert anywhere(1e-12, 2) == pytest.approx(2e-12, rel=1e-9)
    assert anywhere(1.0, 4) == 1.0
    assert anywhere(0.0, 4) == 0.0
