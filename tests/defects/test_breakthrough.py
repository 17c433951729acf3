"""The chance of breaking through: against Monte Carlo, closed forms, and simulated panels."""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from finishmatch.defects import (
    Cut,
    EvenLength,
    FilmLeft,
    common_rework_figures,
    film_layer,
    film_left,
    predicted_builds,
    spot_cut,
    spots_over,
    sum_of_cuts,
)
from finishmatch.defects.film import FilmLayer
from finishmatch.defects.predicted_build import Builds

FIGURES = common_rework_figures()
DRAWS = 100_000
LAYERS = (
    ((62, 58, 60),),
    ((98, 104, 101, 110, 95),),
    ((48, 55),),  # two readings: one degree of freedom, no mean
    ((100,),),  # one reading: the assumed spread
    ((50, 50, 50),),  # all the same: the assumed spread
    ((48, 52, 55), (61, 66, 58, 70)),
    ((30, 45), (55, 49)),
    ((60, 58, 63), (25,), (48, 52, 55, 51)),
    ((5, 9, 2), (8, 3)),  # thin and wild
)
DEPTHS = (None, (10.0, 2.0), (35.0, 5.0), (60.0, 12.0), EvenLength(5.0, 40.0))
CUT = Cut(8.0, 1.6, 1.7)


@dataclass(frozen=True)
class Panel:
    """Build readings per layer (µm), the depth of the defect, the film to keep, how many spots."""

    layers: tuple[tuple[float, ...], ...]
    depth: tuple[float, float] | EvenLength | None
    keep_um: float
    count: int


PANELS = [
    Panel(layers, depth, keep, count)
    for layers, depth, (keep, count) in itertools.product(LAYERS, DEPTHS, ((0.0, 1), (12.5, 4), (40.0, 10)))
]


def _drawn(panel: Panel, rng: np.random.Generator) -> tuple[float, float]:
    """Draw the model from its definition, apart from the room's quadrature: chance at one spot, and at any of them."""
    variances, freedoms, shares = [], [], []
    for builds in panel.layers:
        n, mean = len(builds), np.mean(builds)
        assumed = len(set(builds)) == 1
        s2 = (0.10 * mean) ** 2 + 1.5**2 if assumed else max(np.var(builds, ddof=1), 1.5**2)
        own = max(s2 - 1.5**2, min(s2, 1.5**2))  # the gauge's error is no film
        variances.append(s2 / n + own)
        shares.append(s2 / n)
        freedoms.append(math.inf if assumed else n - 1)
    below = sum(v**2 / f for v, f in zip(variances, freedoms, strict=True))
    spread = np.ones(DRAWS)
    if below:
        freedom = sum(variances) ** 2 / below  # Welch, Satterthwaite
        spread = rng.chisquare(freedom, DRAWS) / freedom
    common = np.sum([np.mean(builds) for builds in panel.layers])
    common = common + rng.standard_normal(DRAWS) * np.sqrt(sum(shares) / spread)
    common -= rng.normal(CUT.mean_um, CUT.panel_sd_um, DRAWS)
    own_sd = np.sqrt((sum(variances) - sum(shares)) / spread)
    any_below, first = np.zeros(DRAWS, bool), np.zeros(DRAWS, bool)
    for spot in range(panel.count):
        left = common + own_sd * rng.standard_normal(DRAWS) - CUT.spot_sd_um * rng.standard_normal(DRAWS)
        if isinstance(panel.depth, EvenLength):
            left -= rng.uniform(panel.depth.low_um, panel.depth.high_um, DRAWS)
        elif panel.depth:
            left -= rng.normal(*panel.depth, DRAWS)
        short = left < panel.keep_um
        first = short if spot == 0 else first
        any_below |= short
    return float(first.mean()), float(any_below.mean())


def _builds(layers: Sequence[Sequence[float]], count: int = 1) -> Builds:
    named = [film_layer(f"colour {i}", builds) for i, builds in enumerate(layers)]
    return predicted_builds(named, FIGURES, spots_over(count, (), ()))


def _computed(panel: Panel) -> FilmLeft:
    depth = spot_cut(panel.depth) if isinstance(panel.depth, tuple) else panel.depth
    return film_left(_builds(panel.layers, panel.count), [CUT, *([depth] if depth else [])])


def test_the_shop_figures_used_here_are_those_of_the_data_files() -> None:
    assert (FIGURES.spread, FIGURES.gauge_um) == (0.10, 1.5)


@pytest.mark.slow
def test_agrees_with_a_hundred_thousand_draws_within_a_hundredth() -> None:
    rng = np.random.default_rng(20240607)
    worst = 0.0
    for panel in PANELS:
        one, any_of = _drawn(panel, rng)
        left = _computed(panel)
        worst = max(worst, abs(one - left.chance_below(panel.keep_um)))
        worst = max(worst, abs(any_of - left.chance_anywhere(panel.keep_um)))
    assert len(PANELS) >= 100
    assert worst < 0.01


PLACES = ((0.0, 0.0), (600.0, 0.0), (0.0, 400.0), (600.0, 400.0), (300.0, 200.0))


def _placed(builds: Sequence[float], places: Sequence[tuple[float, float]] = PLACES) -> FilmLayer:
    return film_layer("clear", builds, places)


@pytest.mark.parametrize("count", [4, 14, 36])
@pytest.mark.parametrize("over", [(60.0, 40.0), (500.0, 300.0)])
def test_spots_whose_places_are_known_agree_with_draws_of_the_field(count: int, over: tuple[float, float]) -> None:
    """The Student field drawn spot by spot, against the lattice."""
    rng = np.random.default_rng(count)
    layers = [_placed((98, 104, 101, 110, 95)), film_layer("clear 2", (20, 23, 22))]
    builds = predicted_builds(layers, FIGURES, spots_over(count, (250, 150), over))
    left = film_left(builds, [CUT, spot_cut((30.0, 3.0))])
    drawn = dict.fromkeys((55.0, 65.0, 75.0), 0.0)
    for way, weight in enumerate(builds.weights):
        size = round(DRAWS * weight)
        variance = [np.diag(b.shared[way]).mean() + b.own[way] for b in builds.layers]
        freedom = sum(variance) ** 2 / sum(v**2 / b.freedom for v, b in zip(variance, builds.layers, strict=True))
        covariance = sum(b.shared[way] + b.own[way] * np.eye(count) for b in builds.layers)
        field = rng.multivariate_normal(np.zeros(count), covariance, size, method="eigh")
        field /= np.sqrt(rng.chisquare(freedom, size) / freedom)[:, None]
        film = sum(b.mean_um[way] for b in builds.layers) + field - 30 - rng.normal(0, 3.0, (size, count))
        film -= rng.normal(CUT.mean_um, CUT.panel_sd_um, size)[:, None] + rng.normal(0, CUT.spot_sd_um, (size, count))
        for keep in drawn:
            drawn[keep] += weight * float((film < keep).any(1).mean())
    for keep, chance in drawn.items():
        assert left.chance_anywhere(keep) == pytest.approx(chance, abs=0.01)


def test_near_spots_are_likelier_to_be_spared_together_than_far_ones() -> None:
    layer = _placed((98, 80, 101, 118, 95))
    near, far = (
        film_left(predicted_builds([layer], FIGURES, spots_over(14, (300, 200), over)), [Cut(30, 1, 1)])
        for over in ((20.0, 20.0), (2000.0, 1500.0))
    )
    assert near.chance_anywhere(50) < far.chance_anywhere(50)


def test_a_spot_beside_a_reading_is_surer_than_one_far_off() -> None:
    """The kriging of one place, apart from the room's: a field that reaches far is known where it was read."""
    builds = (80.0, 92.0, 98.0, 110.0, 96.0)
    beside, off = (
        film_left(predicted_builds([_placed(builds)], FIGURES, spots_over(1, at, ())), [])
        for at in ((2.0, 2.0), (4000.0, 4000.0))
    )
    assert beside.mean_um < off.mean_um  # the reading there was 80
    width = [left.quantile_um(0.9) - left.quantile_um(0.1) for left in (beside, off)]
    assert width[0] < width[1]


def test_kriging_agrees_with_the_normal_equations_of_the_textbook() -> None:
    """Ordinary kriging by its Lagrange system (Ripley 1981), for the way that reaches 200 mm."""
    builds, at = np.array((80.0, 92.0, 98.0, 110.0, 96.0)), (250.0, 150.0)
    found = predicted_builds([_placed(tuple(builds))], FIGURES, spots_over(1, at, ()))
    way = 1 + list(itertools.product(FIGURES.reach_mm, FIGURES.own)).index((200, 0.2))
    read = np.array(PLACES)
    among = 0.8 * np.exp(-np.linalg.norm(read[:, None] - read[None], axis=2) / 200)
    np.fill_diagonal(among, 1)
    to_spot = 0.8 * np.exp(-np.linalg.norm(read - np.array(at), axis=1) / 200)
    system = np.block([[among, np.ones((5, 1))], [np.ones((1, 5)), np.zeros((1, 1))]])
    solved = np.linalg.solve(system, np.append(to_spot, 1.0))
    weights = solved[:5]
    assert found.layers[0].mean_um[way, 0] == pytest.approx(weights @ builds)
    mean = np.linalg.solve(among, builds).sum() / np.linalg.solve(among, np.ones(5)).sum()
    s2 = (builds - mean) @ np.linalg.solve(among, builds - mean) / 4
    kriging_variance = 1 - weights @ to_spot - solved[5]
    assert found.layers[0].shared[way, 0, 0] + found.layers[0].own[way] == pytest.approx(s2 * kriging_variance - 1.5**2)


def test_one_layer_is_students_t_itself() -> None:
    """Prediction of one further value from n of a normal distribution: ISO 16269-8; the t of SciPy."""
    builds = (98.0, 104.0, 101.0, 110.0)
    scale = np.std(builds, ddof=1) * math.sqrt(1 + 1 / 4)
    sure = replace(FIGURES, gauge_um=0.0)
    left = film_left(predicted_builds([film_layer("colour", builds)], sure, spots_over(1, (), ())), [])
    for keep in (60.0, 90.0, 103.3, 120.0):
        assert left.chance_below(keep) == pytest.approx(stats.t.cdf((keep - np.mean(builds)) / scale, 3), abs=1e-4)
    low, high = stats.t.ppf((0.1, 0.9), 3) * scale + np.mean(builds)
    assert (left.quantile_um(0.1), left.quantile_um(0.9)) == pytest.approx((low, high), abs=0.05)


def test_normal_lengths_add_in_squares() -> None:
    total = sum_of_cuts([Cut(5, 3, 0), Cut(10, 0, 4), Cut(20, 4, 3)])
    assert (total.mean_um, total.panel_sd_um, total.spot_sd_um) == (35, 5, 5)
    left = film_left(_builds([(100,)]), [Cut(20, 0, 12)])
    for keep in (70.0, 80.0, 101.0):
        sd = math.hypot(12, 10, math.hypot(10, 1.5))  # the cut, the film, the mean
        assert left.chance_below(keep) == pytest.approx(stats.norm.cdf(keep, 80, sd), abs=1e-6)
    assert left.mean_um == pytest.approx(80)


def test_the_same_readings_give_the_same_chance() -> None:
    """No random numbers stand behind an answer, not even where places run into one another."""
    builds = predicted_builds([_placed((98, 104, 101, 110, 95))], FIGURES, spots_over(20, (250, 150), (300, 300)))
    one, two = (film_left(builds, [CUT]).chance_anywhere(70.0) for _ in range(2))
    assert one == two


@pytest.mark.parametrize(
    ("counts", "sds"),
    [((3,), (6,)), ((5,), (6,)), ((3, 3), (6, 6)), ((3, 3, 3), (6, 6, 6)), ((5, 3), (8, 4)), ((4, 4), (3, 9))],
)
def test_the_80_percent_interval_of_a_known_film_holds_76_to_84_times_in_100(
    counts: tuple[int, ...], sds: tuple[float, ...]
) -> None:
    """Simulated panels whose film is known; one layer to three, cut as the shop is known to cut."""
    rng = np.random.default_rng(sum(counts))
    held, panels = 0, 1500
    for _ in range(panels):
        layers = [rng.normal(60, sd, n + 1) for n, sd in zip(counts, sds, strict=True)]
        for layer in layers:
            layer[:-1] += rng.normal(0, FIGURES.gauge_um, layer.size - 1)  # the film is not what the gauge reads
        left = film_left(_builds([tuple(layer[:-1]) for layer in layers]), [CUT])
        spot = sum(layer[-1] for layer in layers) - rng.normal(CUT.mean_um, CUT.sd_um)
        held += 0.1 <= left.chance_below(float(spot)) <= 0.9
    assert 0.76 <= held / panels <= 0.84


@pytest.mark.parametrize("reach", [80.0, 300.0, 900.0])
def test_the_80_percent_interval_holds_where_builds_run_along_the_panel(reach: float) -> None:
    """Fields whose reach is not told to the room: readings at five places, the defect between them."""
    rng = np.random.default_rng(int(reach))
    places = np.array([*PLACES, (200.0, 120.0)])
    correlation = 0.8 * np.exp(-np.linalg.norm(places[:, None] - places[None], axis=2) / reach) + 0.2 * np.eye(6)
    root = np.linalg.cholesky(correlation)
    held, panels = 0, 500
    for _ in range(panels):
        field = 100 + 6 * (root @ rng.standard_normal(6))
        read = field[:5] + rng.normal(0, FIGURES.gauge_um, 5)
        left = film_left(predicted_builds([_placed(tuple(read))], FIGURES, spots_over(1, tuple(places[5]), ())), [])
        held += 0.1 <= left.chance_below(float(field[5])) <= 0.9
    assert 0.74 <= held / panels <= 0.86


readings = st.lists(st.floats(1, 300), min_size=1, max_size=6).map(tuple)


@settings(derandomize=True, max_examples=60, deadline=None)
@given(
    layers=st.lists(readings, min_size=1, max_size=3),
    depth=st.floats(0, 200),
    keep=st.floats(0, 200),
    count=st.integers(1, 400),
)
def test_a_chance_is_a_chance_and_grows_with_what_is_removed_and_what_must_stay(
    layers: list[tuple[float, ...]], depth: float, keep: float, count: int
) -> None:
    builds = _builds(layers, count)
    left, deeper = (film_left(builds, [CUT, spot_cut((d, 3.0))]) for d in (depth, depth + 10))
    chance = left.chance_below(keep)
    assert 0 <= chance <= left.chance_anywhere(keep) <= 1
    assert left.chance_below(keep + 10) >= chance
    assert deeper.chance_below(keep) >= chance
    assert 0 <= left.quantile_um(0.1) <= left.quantile_um(0.9)


def test_wild_readings_and_absurd_builds_stay_finite() -> None:
    left = film_left(_builds(((1.0, 20_000.0), (1.0, 20_000.0), (3.0, 19_000.0)), 7), [spot_cut((50.0, 3.0))])
    assert 0 <= left.chance_below(40) <= left.chance_anywhere(40) <= 1
    assert math.isfinite(left.quantile_um(0.9))


def test_no_film_is_surely_broken_through() -> None:
    left = film_left(_builds([(50,)]).part(0, 0), [spot_cut((4, 2))])
    assert left.chance_below(20) == left.chance_anywhere(20) == 1.0
    assert left.quantile_um(0.9) == left.mean_um == 0.0


def test_readings_closer_than_the_gauge_can_tell_take_its_error() -> None:
    (build,) = _builds([(50.0, 50.1, 50.0)]).layers
    assert build.own[0] == pytest.approx(1.5**2)
    assert build.shared[0, 0, 0] == pytest.approx(1.5**2 / 3)


def test_spots_are_set_evenly_over_their_rectangle() -> None:
    spots = spots_over(30, (100.0, 50.0), (80.0, 40.0))
    assert spots.places_mm is not None
    assert spots.places_mm.shape == (30, 2)
    assert (abs(spots.places_mm - (100, 50)) <= (40, 20)).all()
    assert spots.places_mm.mean(0) == pytest.approx((100, 50), abs=6)
    assert spots_over(5000, (0, 0), (80, 40)).standing <= 36
    assert spots_over(5, (), (80, 40)).places_mm is None
