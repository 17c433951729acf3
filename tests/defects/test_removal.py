"""What a step takes off, learnt from readings before and after: against brute force, and on simulated shops."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from finishmatch.defects import (
    Cut,
    Removal,
    Step,
    calibrated,
    calibrated_step,
    common_rework_figures,
    film_layer,
    film_left,
    find_step,
    predicted_builds,
    spots_over,
)
from finishmatch.errors import InputError

FIGURES = common_rework_figures()
STEP = FIGURES.steps["P1500"]
GAUGE = FIGURES.gauge_um


def readings(step: Step, truth: Step, panels: int, spots: int, rng: np.random.Generator) -> list[Removal]:
    """What a shop reads whose steps take `truth`, the gauge's error on both readings."""
    found = []
    for panel in range(panels):
        here = rng.normal(truth.mean_um, truth.panel_sd_um)
        for _ in range(spots):
            before = 100 + rng.normal(0, GAUGE)
            after = 100 - rng.normal(here, truth.spot_sd_um) + rng.normal(0, GAUGE)
            found.append(Removal(f"panel {panel}", step.name, before, after))
    return found


def truth(mean_um: float, panel_sd_um: float, spot_sd_um: float) -> Step:
    return Step(STEP.name, (), "sand", mean_um, panel_sd_um, spot_sd_um)


def test_wet_sanding_and_compound_take_what_the_trade_knows_them_to_take() -> None:
    """«Common practice»: P1500 wet 2.5 to 7.5 µm, compound 2.5 to 3; a coarser grit takes no less than a finer one."""
    steps = FIGURES.steps
    assert steps["P1500"].mean_um == pytest.approx(5.0, abs=0.5)
    within = stats.norm(5.0, np.hypot(steps["P1500"].panel_sd_um, steps["P1500"].spot_sd_um))
    assert 0.8 < within.cdf(7.5) - within.cdf(2.5) < 0.98
    assert 2.5 <= steps["compound"].mean_um <= 3.0
    grits = sorted((step for step in steps.values() if step.kind == "sand"), key=lambda step: int(step.name[1:]))
    taken = [step.mean_um for step in grits]
    assert len(taken) >= 8
    assert taken == sorted(taken, reverse=True)
    assert steps["polish"].mean_um < steps["compound"].mean_um < steps["P1500"].mean_um


def test_without_readings_common_practice_stands() -> None:
    assert calibrated_step(STEP, [], GAUGE) == STEP
    other = Removal("door", "P2000", 100, 98)
    assert calibrated_step(STEP, [other], GAUGE) == STEP
    changed = calibrated(FIGURES, [other]).steps
    assert {name for name, step in changed.items() if step != FIGURES.steps[name]} == {"P2000"}


def test_with_many_readings_it_is_the_shops_own_figures() -> None:
    rng = np.random.default_rng(3)
    shop = truth(4.0, 0.8, 1.6)
    learnt = calibrated_step(STEP, readings(STEP, shop, 60, 12, rng), GAUGE)
    assert learnt.mean_um == pytest.approx(4.0, abs=0.35)
    assert learnt.panel_sd_um == pytest.approx(0.8, rel=0.3)
    assert learnt.spot_sd_um == pytest.approx(1.6, rel=0.15)
    assert (learnt.readings, learnt.panels) == (720, 60)


def test_few_readings_stay_near_common_practice() -> None:
    one = calibrated_step(STEP, [Removal("door", STEP.name, 100, 92)], GAUGE)
    assert 5.0 < one.mean_um < 6.5  # 8 µm, read once, with 2.1 µm of gauge error: nearer to 5 than to 8


def test_agrees_with_draws_from_the_prior_weighed_by_the_readings() -> None:
    """Importance sampling of the two-level model, from its definition."""
    rng = np.random.default_rng(11)
    data = readings(STEP, truth(3.5, 0.9, 1.0), 3, 4, rng)
    panels = [[r.taken_um for r in data if r.panel == f"panel {i}"] for i in range(3)]
    size = 400_000
    mean = rng.normal(STEP.mean_um, 0.5 * STEP.mean_um, size)
    tau = STEP.panel_sd_um * np.exp(0.6 * rng.standard_normal(size))
    sigma = STEP.spot_sd_um * np.exp(0.6 * rng.standard_normal(size))
    log_weight = np.zeros(size)
    for taken in panels:
        n = len(taken)
        read = sigma**2 + 2 * GAUGE**2
        variance = tau**2 + read / n
        within = np.sum((np.array(taken) - np.mean(taken)) ** 2)
        log_weight += -0.5 * ((np.mean(taken) - mean) ** 2 / variance + np.log(variance))
        log_weight += -0.5 * ((n - 1) * np.log(read) + within / read)
    weight = np.exp(log_weight - log_weight.max())
    weight /= weight.sum()
    expected = (weight * mean).sum()
    learnt = calibrated_step(STEP, data, GAUGE)
    assert learnt.mean_um == pytest.approx(expected, abs=0.03)
    between = (weight * ((mean - expected) ** 2 + tau**2)).sum()
    assert learnt.panel_sd_um == pytest.approx(np.sqrt(between), rel=0.03)
    assert learnt.spot_sd_um == pytest.approx(np.sqrt((weight * sigma**2).sum()), rel=0.03)


@pytest.mark.parametrize("factor", [0.7, 1.0, 1.6])
def test_the_calibrated_80_percent_interval_holds_76_to_84_times_in_100(factor: float) -> None:
    """Simulated shops that cut less, as much or more than common practice; each reads eight panels at four places,
    then the film of a new panel at five, and cuts it: what is left is known."""
    rng = np.random.default_rng(round(10 * factor))
    shops = {name: FIGURES.steps[name] for name in FIGURES.sequence["rub"]}
    true = {name: Step(name, (), "", factor * s.mean_um, s.panel_sd_um, s.spot_sd_um) for name, s in shops.items()}
    held, count = 0, 1000
    for _ in range(count):
        learnt = [calibrated_step(s, readings(s, true[name], 8, 4, rng), GAUGE) for name, s in shops.items()]
        builds = rng.normal(100, 4, 6)
        layer = film_layer("clear", tuple(builds[:5] + rng.normal(0, GAUGE, 5)))
        cuts = [Cut(s.mean_um, s.panel_sd_um, s.spot_sd_um) for s in learnt]
        left = film_left(predicted_builds([layer], FIGURES, spots_over(1, (), ())), cuts)
        known = builds[5] - sum(rng.normal(s.mean_um, np.hypot(s.panel_sd_um, s.spot_sd_um)) for s in true.values())
        held += 0.1 <= left.chance_below(float(known)) <= 0.9
    assert 0.76 <= held / count <= 0.84


def test_steps_are_known_by_the_shops_words() -> None:
    assert [find_step(text) for text in ("1500", "p 1500", "Cutting compound", "fine polish")] == [
        "P1500",
        "P1500",
        "compound",
        "polish",
    ]
    with pytest.raises(InputError, match="did you mean P1500"):
        find_step("P15000")
