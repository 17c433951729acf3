"""Where a defect came from: the tests of the tables, what can't be told apart, the trial, and when it began."""

from __future__ import annotations

from datetime import date

import numpy as np
import pytest
from scipy.stats import fisher_exact, hypergeom
from scipy.stats.contingency import odds_ratio as scipy_odds_ratio
from statsmodels.stats.multitest import multipletests

from finishmatch.defects.confounding import guilty_given, smallest_trial
from finishmatch.defects.fishers_exact import fisher_two_sided, odds_ratio, table_chances
from finishmatch.defects.onset import find_onset
from finishmatch.defects.shop_record import ShopRecord
from finishmatch.defects.trace import trace
from finishmatch.errors import InputError

DAY = date(2026, 1, 5).toordinal()


def _tables(seed: int, number: int, most: int) -> np.ndarray:
    """Return tables as exposed and bad, exposed, bad, all: shape (number, 4)."""
    rng = np.random.default_rng(seed)
    found = []
    for _ in range(number):
        total = int(rng.integers(1, most))
        exposed, bad = (int(x) for x in rng.integers(0, total + 1, 2))
        least = max(0, exposed + bad - total)
        found.append((int(rng.integers(least, min(exposed, bad) + 1)), exposed, bad, total))
    return np.array(found)


def _four(table: np.ndarray) -> list[list[int]]:
    a, n, k, total = (int(x) for x in table)
    return [[a, n - a], [k - a, total - n - k + a]]


@pytest.mark.parametrize(("seed", "number", "most"), [(1, 700, 40), (2, 120, 3000)])
def test_p_values_are_scipys(seed: int, number: int, most: int) -> None:
    tables = _tables(seed, number, most)  # scipy.stats.fisher_exact, one table at a time
    theirs = np.array([fisher_exact(_four(table)).pvalue for table in tables])
    assert np.abs(fisher_two_sided(*tables.T) - theirs).max() < 1e-9


def test_the_tea_tasters_p_value() -> None:
    # Fisher, The Design of Experiments, 1935: three of four cups right, of eight
    assert fisher_two_sided(3, 4, 4, 8)[0] == pytest.approx(34 / 70, abs=1e-12)
    assert fisher_two_sided(4, 4, 4, 8)[0] == pytest.approx(2 / 70, abs=1e-12)


def test_odds_ratios_and_their_intervals_are_scipys() -> None:
    for table in _tables(3, 60, 300):  # scipy.stats.contingency.odds_ratio, conditional
        a, n, k, total = (int(x) for x in table)
        if min(n, total - n, k, total - k) == 0:
            assert odds_ratio(a, n, k, total) == (1.0, 0.0, np.inf)
            continue
        theirs = scipy_odds_ratio(_four(table))
        interval = theirs.confidence_interval(0.95)
        assert odds_ratio(a, n, k, total) == pytest.approx((theirs.statistic, interval.low, interval.high), rel=1e-7)


def test_adjusted_p_values_are_those_of_statsmodels() -> None:
    for seed in range(5):
        found = trace(_shop(np.random.default_rng(seed), 0.2, 3.0, exposures=15), shown=30).suspects
        assert len(found) == 30
        p = [suspect.p for suspect in found]
        assert [one.adjusted_p for one in found] == pytest.approx(multipletests(p, method="fdr_bh")[1], abs=1e-14)


def test_the_chances_of_a_table_are_scipys() -> None:
    least, chance = table_chances(7, 5, 10)
    assert least == 2
    assert chance == pytest.approx(hypergeom(10, 7, 5).pmf([2, 3, 4, 5]), abs=1e-12)


def test_holding_another_exposure_is_the_sum_of_both_strata_by_hand() -> None:
    # held: 2 exposed of 4, 2 bad, both exposed (1 way in 6); not held: 1 exposed of 2, 1 bad, the exposed (1 way in 2)
    held = np.array([1, 1, 1, 1, 0, 0], dtype=bool)
    exposed = np.array([1, 1, 0, 0, 1, 0], dtype=bool)
    bad = np.array([1, 1, 0, 0, 1, 0], dtype=bool)
    assert guilty_given(exposed, held, bad) == pytest.approx(1 / 12, abs=1e-12)
    assert guilty_given(held, held, bad) == 1.0  # nothing is left to compare


def _shop(rng: np.random.Generator, base: float, ratio: float, jobs: int = 40, exposures: int = 5) -> ShopRecord:
    """Return an invented shop: every exposure has two values, the first one of the first is guilty."""
    met = rng.random((jobs, exposures)) < 0.5
    bad = rng.random(jobs) < np.where(met[:, 0], base * ratio, base)
    coat, kind = np.nonzero(np.ones_like(met))
    names = [(f"thing {i // 2}", "ab"[i % 2]) for i in range(2 * exposures)]
    return ShopRecord(DAY + np.arange(jobs), bad, coat, 2 * kind + ~met[coat, kind], names)


@pytest.mark.slow
def test_the_guilty_one_of_five_comes_first_nine_times_in_ten() -> None:
    for base, least in ((0.12, 0.90), (0.15, 0.95)):
        rng = np.random.default_rng(7)
        firsts = [trace(_shop(rng, base, 5.0), 1).suspects[0].name for _ in range(200)]
        assert firsts.count("thing 0=a") >= least * 200, (base, firsts.count("thing 0=a"))


@pytest.mark.slow
def test_with_no_guilty_one_the_alarm_is_false_at_most_seven_times_in_a_hundred() -> None:
    rng = np.random.default_rng(8)
    for base in (0.2, 0.4):
        alarms = sum(bool(trace(_shop(rng, base, 1.0), 1).guilty) for _ in range(200))
        assert alarms <= 14, (base, alarms)


def _pairs(*coats: tuple[bool, dict[str, str]]) -> ShopRecord:
    """Return a record of (bad, what it met), one coat a day."""
    names = sorted({pair for _, met in coats for pair in met.items()})
    pairs = [(i, names.index(pair)) for i, (_, met) in enumerate(coats) for pair in met.items()]
    coat, met = np.array(pairs).T
    return ShopRecord(DAY + np.arange(len(coats)), np.array([bad for bad, _ in coats]), coat, met, names)


LINE2 = {"air line": "2", "cloth": "blue"}
LINE1 = {"air line": "1", "cloth": "white"}


def test_two_things_always_used_together_are_named_together_with_the_trial_that_parts_them() -> None:
    found = trace(_pairs(*[(True, LINE2)] * 6, (False, LINE2), *[(False, LINE1)] * 8))
    assert set(found.together) == {"air line=2", "cloth=blue"}
    assert found.rides_along == ()
    assert found.trial is not None
    assert set(found.trial.arms) == set(found.together)
    assert 2 <= found.trial.panels <= 10


def test_what_only_rides_along_with_the_guilty_one_is_told_from_it() -> None:
    mixed = [(True, {"air line": "2", "cloth": "white"})] * 2 + [(False, {"air line": "1", "cloth": "blue"})] * 2
    found = trace(_pairs(*[(True, LINE2)] * 12, *mixed, *[(False, LINE1)] * 10))
    assert found.suspects[0].name == "air line=2"
    assert found.rides_along == ("cloth=blue",)
    assert found.together == ()
    assert found.trial is not None
    assert found.trial.arms == ("air line=2",)


def test_a_coat_of_which_a_kind_was_not_noted_is_left_out_of_that_comparison() -> None:
    unnoted = [(True, {"gun": "HVLP 1"})] * 9
    found = trace(_pairs(*[(True, LINE2)] * 3, *[(False, LINE1)] * 4, *unnoted))
    line = next(item for item in found.suspects if item.name == "air line=2")
    assert (line.exposed, line.others) == (3, 4)


def test_a_kind_with_one_value_only_is_one_that_is_noted_when_it_happens() -> None:
    found = trace(_pairs(*[(True, {"gun": "1", "polish": "yes"})] * 4, *[(False, {"gun": "1"})] * 5))
    polish = found.suspects[0]
    assert polish.name == "polish=yes"
    assert (polish.exposed_bad, polish.exposed, polish.others_bad, polish.others) == (4, 4, 0, 5)
    assert polish.small
    assert polish.high == np.inf


def test_the_trial_is_the_smallest_that_shows_it_eight_times_in_ten() -> None:
    trial = smallest_trial(("air line=2",), 0.8, 0.05)
    assert trial is not None
    rng = np.random.default_rng(4)

    def shown(panels: int) -> float:
        worse, fewer = rng.binomial(panels, 0.8, 4000), rng.binomial(panels, 0.05, 4000)
        p = {
            (a, c): fisher_exact([[a, panels - a], [c, panels - c]], alternative="greater").pvalue
            for a, c in set(zip(worse, fewer, strict=True))
        }
        return float(np.mean([p[pair] <= 0.05 for pair in zip(worse, fewer, strict=True)]))

    assert shown(trial.panels) == pytest.approx(trial.power, abs=0.03)
    assert shown(trial.panels - 1) < 0.8
    assert smallest_trial(("gun=1",), 0.06, 0.05) is None
    assert smallest_trial(("gun=1",), 0.05, 0.05) is None


def test_a_day_on_which_it_began_is_found_and_none_is_made_up() -> None:
    rng = np.random.default_rng(12)
    began, inside, none = 0, 0, 0
    for _ in range(60):
        day = DAY + np.repeat(np.arange(60), 2)
        onset = find_onset(day, rng.random(120) < np.where(day < DAY + 35, 0.05, 0.5))
        began += onset.began
        assert onset.earliest is not None
        assert onset.latest is not None
        inside += onset.earliest.toordinal() <= DAY + 35 <= onset.latest.toordinal()
        none += find_onset(day, rng.random(120) < 0.2).began
    assert began >= 58
    assert inside >= 54
    assert none <= 6


def test_a_single_day_has_no_beginning() -> None:
    onset = find_onset(np.array([DAY] * 4), np.array([True, False, False, True]))
    assert (onset.began, onset.day, onset.periods[0].bad) == (False, None, 2)


@pytest.mark.parametrize(
    ("record", "told"),
    [
        (ShopRecord(np.array([DAY]), np.array([True]), np.array([], int), np.array([], int), []), "no coat has"),
        (_pairs((False, LINE1), (False, LINE2)), "none of the 2 coats has this defect"),
        (_pairs((True, LINE1), (True, LINE2)), "all 2 coats have it"),
    ],
)
def test_a_record_that_can_tell_nothing_says_so(record: ShopRecord, told: str) -> None:
    with pytest.raises(InputError, match=told):
        trace(record)
