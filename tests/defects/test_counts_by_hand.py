"""Counts of coats, exact tests and the day a defect began: by hand and against SciPy."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from fractions import Fraction
from math import comb

import numpy as np
import pytest
from scipy.stats import fisher_exact
from scipy.stats.contingency import odds_ratio as scipy_odds_ratio

from finishmatch.defects.confounding import guilty_given, smallest_trial
from finishmatch.defects.fishers_exact import fisher_two_sided, odds_ratio, table_chances
from finishmatch.defects.onset import Onset, Period, find_onset
from finishmatch.defects.options import NAMES, RUB
from finishmatch.defects.outcomes import with_record
from finishmatch.defects.rework_figures import Record, common_rework_figures
from finishmatch.defects.shop_record import ShopRecord, compared_on, count_coats
from finishmatch.defects.trace import Suspect, trace
from finishmatch.errors import InputError

DAY = date(2024, 5, 1).toordinal()


def record(*coats: tuple[int, bool, tuple[int, ...]]) -> ShopRecord:
    """A record of coats: day, bad, and which of the five exposures each met."""
    pairs = [(i, met) for i, (_, _, ones) in enumerate(coats) for met in ones]
    exposures = (("gun", "1"), ("gun", "2"), ("cloth", "old"), ("line", "a"), ("line", "b"))
    coat, met = (np.array([pair[k] for pair in pairs], dtype=np.int64) for k in (0, 1))
    day, bad = np.array([DAY + one[0] for one in coats]), np.array([one[1] for one in coats])
    return ShopRecord(day=day, bad=bad, coat=coat, met=met, exposures=exposures)


def test_the_exact_test_is_that_of_scipy() -> None:
    """Every table of up to fourteen coats, by R's rule: what is no likelier than the one seen."""
    tables = [
        (a, n, k, N) for N in (1, 5, 9, 14) for n in range(N + 1) for k in range(N + 1)
        for a in range(max(0, n + k - N), min(n, k) + 1)
    ]  # fmt: skip
    found = fisher_two_sided(*np.array(tables).T)
    for p, (a, n, k, N) in zip(found, tables, strict=True):
        if 0 < n < N and 0 < k < N:
            expected = fisher_exact([[a, k - a], [n - a, N - n - k + a]]).pvalue
            assert p == pytest.approx(expected, rel=1e-9)
        else:
            assert p == 1.0
    assert float(fisher_two_sided(40, 50, 45, 5000)[0]) == pytest.approx(
        fisher_exact([[40, 5], [10, 4945]]).pvalue, rel=1e-6
    )


def test_the_chances_of_a_table_are_those_of_drawing_without_putting_back() -> None:
    least, chances = table_chances(6, 5, 8)
    assert least == 3
    np.testing.assert_allclose(chances, [comb(5, x) * comb(3, 6 - x) / comb(8, 6) for x in (3, 4, 5)])
    assert table_chances(2, 3, 9)[0] == 0


def test_the_odds_ratio_and_its_interval_are_those_of_scipy() -> None:
    for a, n, k, N in ((3, 5, 4, 12), (1, 5, 6, 12), (4, 5, 6, 12), (7, 20, 9, 60)):
        table = [[a, k - a], [n - a, N - n - k + a]]
        known = scipy_odds_ratio(table)
        interval = known.confidence_interval(0.9)
        assert odds_ratio(a, n, k, N, 0.9) == pytest.approx((known.statistic, interval.low, interval.high), rel=1e-6)
    assert odds_ratio(0, 5, 4, 12)[:2] == (0.0, 0.0)
    ratio, low, high = odds_ratio(4, 5, 4, 12)
    assert (ratio, high) == (np.inf, np.inf)
    assert low > 1
    assert odds_ratio(5, 5, 12, 12) == (1.0, 0.0, np.inf)


def test_coats_are_counted_where_a_kind_was_noted() -> None:
    """Guns are compared on coats that name a gun; a cloth, of which one is known, on all with anything noted."""
    kept = record(
        (0, True, (0, 2)), (1, False, (1,)), (2, True, (0,)), (3, False, ()), (4, False, (2, 3)), (5, True, (4,))
    )
    counts = count_coats(kept)
    assert counts.exposed.tolist() == [2, 1, 2, 1, 1]
    assert counts.exposed_bad.tolist() == [2, 0, 1, 0, 1]
    assert counts.total.tolist() == [3, 3, 5, 2, 2]
    assert counts.total_bad.tolist() == [2, 2, 3, 1, 1]
    some = counts.of(np.array([2, 0]))
    assert some.exposed.tolist() == [2, 2]
    assert some.total_bad.tolist() == [3, 2]
    on = compared_on(kept)
    assert on[2] is None
    assert [None if each is None else each.tolist() for each in on] == [[0, 1], [0, 1], None, [3, 4], [3, 4]]
    assert kept.coats_that_met(2).tolist() == [True, False, False, False, True, False]
    assert kept.coats_compared(0).tolist() == [True, True, True, False, False, False]
    assert kept.coats_compared(2).tolist() == [True, True, True, False, True, True]


def bad_line() -> ShopRecord:
    """Twenty coats of two guns: those of gun 1 are bad, all but one."""
    coats = [(i, i % 2 == 0 and i != 8, (i % 2, 3 + i // 10)) for i in range(20)]
    return record(*coats, (30, True, ()))


def test_the_suspect_is_named_with_its_counts() -> None:
    found = trace(bad_line())
    first = found.suspects[0]
    assert (first.name, first.exposed, first.exposed_bad, first.others, first.others_bad) == ("gun=1", 10, 9, 10, 0)
    assert first.p == pytest.approx(fisher_exact([[9, 0], [1, 10]]).pvalue)
    assert first.adjusted_p >= first.p
    assert first.stands_out
    assert (found.coats, found.bad, found.unnoted, found.looked_at) == (20, 9, 1, 4)
    assert found.guilty == (first,)
    assert first.small  # 10 · 9 / 20 is under five
    assert found.trial is not None
    assert found.trial.arms == ("gun=1",)
    assert found.trial.guilty == pytest.approx(10 / 12)
    assert found.trial.innocent == pytest.approx(0.5 / 11)
    assert [one.kind for one in found.worth_showing].count("gun") == 1
    assert (found.together, found.rides_along) == ((), ())
    assert len(trace(bad_line(), 1).suspects) == 1


def test_two_that_always_went_together_cant_be_told_apart() -> None:
    twins = record(*((i, i % 2 == 0, (i % 2, 3 + i % 2)) for i in range(20)))
    found = trace(twins)
    assert set(found.together) == {"gun=1", "line=a"}
    assert found.trial is not None
    assert set(found.trial.arms) == {"gun=1", "line=a"}
    # of twenty more with gun 1 on the other line, all bad, the gun is it and the line rides along
    apart = record(*((i, i % 2 == 0, (i % 2, 3 + i % 2)) for i in range(20)),
                   *((i, True, (0, 4)) for i in range(10)), *((i, False, (1, 3)) for i in range(3)))  # fmt: skip
    assert trace(apart).together == ()


def test_suspects_are_worse_by_their_share() -> None:
    one = Suspect("gun", "1", 10, 5, 20, 10, 0.01, 0.05, 1.0, 0.5, 2.0, False)
    assert not one.worse
    assert not one.stands_out
    worse = replace(one, exposed_bad=6)
    assert worse.worse
    assert worse.stands_out
    assert not replace(worse, adjusted_p=0.051).stands_out


@pytest.mark.parametrize(
    ("kept", "told"),
    [
        (record((0, True, ())), "no coat has its exposures noted; note them: finishmatch job coat JOB …"),
        (record((0, False, (0,)), (1, False, (1,))), "none of the 2 coats has this defect; there is nothing to trace"),
        (record((0, True, (0,)), (1, True, (1,))), "all 2 coats have it, and none is without to compare with; "
                                                   "note what good "
         "coats met as well: finishmatch job coat JOB …"),
        (record((0, True, (2,)), (1, False, (2,))), "all 2 coats met the same; note what differs from coat to "
                                                    "coat: gun, "
         "cloth, tin, day"),
    ],
)  # fmt: skip
def test_a_record_that_compares_nothing_is_told(kept: ShopRecord, told: str) -> None:
    with pytest.raises(InputError) as caught:
        trace(kept)
    assert str(caught.value) == f"defect trace: {told}"


def test_guilt_where_another_is_held() -> None:
    """By hand: of two strata 2 of 2 against 0 of 2 each: (1/6)²; all exposed in one leaves the other alone."""
    exposed, held = np.array([1, 1, 0, 0] * 2, dtype=bool), np.array([1] * 4 + [0] * 4, dtype=bool)
    assert guilty_given(exposed, held, exposed) == pytest.approx(float(Fraction(1, 36)))
    assert guilty_given(exposed, held, ~exposed) == pytest.approx(1.0)
    alone = np.array([1, 1, 0, 0, 1, 1, 1, 1], dtype=bool)
    assert guilty_given(alone, held, exposed) == pytest.approx(1 / 6)
    assert guilty_given(exposed, exposed, exposed) == 1.0


def test_the_smallest_trial_has_its_power() -> None:
    found = smallest_trial(("gun=1",), 1.0, 0.0)
    assert found is not None
    assert (found.panels, found.power, found.arms, found.guilty, found.innocent) == (3, 1.0, ("gun=1",), 1.0, 0.0)
    harder = smallest_trial(("gun=1",), 0.6, 0.1)
    assert harder is not None
    assert harder.power >= 0.8
    assert 8 < harder.panels < 25
    assert smallest_trial((), 0.2, 0.15) is None
    assert smallest_trial((), 0.2, 0.2) is None


def test_the_day_a_defect_began() -> None:
    """Ten good days, then ten bad: by Bayes with even priors, 1 / (1 + B(11, 11) / mean of the splits)."""
    day = DAY + np.arange(20)
    bad = np.arange(20) >= 10
    found = find_onset(day, bad)
    assert found.day == date(2024, 5, 11)
    assert found.earliest == found.latest == found.day or found.earliest <= found.day <= found.latest
    assert (found.before, found.after) == (0.0, 1.0)
    assert found.began

    def beta(a: int, b: int) -> Fraction:
        return Fraction(1, (a + b - 1) * comb(a + b - 2, a - 1))

    splits = [
        beta(s + 1, n - s + 1) * beta(10 - s + 1, 20 - n - 10 + s + 1)
        for n in range(1, 20) for s in [max(0, n - 10)]
    ]  # fmt: skip
    ratio = beta(11, 11) / (sum(splits) / 19)
    assert found.chance == pytest.approx(1 / (1 + float(ratio)))
    assert found.periods == tuple(Period(f"2024-05-{i + 1:02d}", 1, int(i >= 10)) for i in range(20))
    ended = find_onset(day, ~bad)
    assert not ended.began
    one = find_onset(day[:1].repeat(4), np.array([True, False, False, False]))
    assert (one.chance, one.day, one.before, one.after) == (0.0, None, 0.25, 0.25)
    assert not Onset(0.5, found.day, None, None, 0.0, 1.0, ()).began


@pytest.mark.parametrize(
    ("span", "labels"),
    [(21, ["2024-05-01", "2024-05-22"]), (22, ["2024 week 18", "2024 week 21"]),
     (120, ["2024 week 18", "2024 week 35"]),
     (121, ["2024-05", "2024-08"]), (1100, ["2024-05", "2027-05"]), (1101, ["2024", "2027"])],
)  # fmt: skip
def test_counts_are_drawn_by_day_week_month_or_year(span: int, labels: list[str]) -> None:
    found = find_onset(np.array([DAY, DAY, DAY + span]), np.array([True, False, True]))
    assert found.periods == (Period(labels[0], 2, 1), Period(labels[1], 1, 1))


def test_the_shops_own_outcomes_are_counted_by_way_and_by_contamination() -> None:
    rub = NAMES[RUB]
    kept = with_record(
        common_rework_figures(),
        [
            (rub, "right", "crater", ()), (rub, "right", "crater", ()), (rub, "failed", "crater", ()),
            (rub, "broke through", "crater", ()), (rub, "undone", "crater", ()), (rub, "right", "runs", ()),
            ("nothing of the kind", "right", "crater", ()), (rub, "right", "no such defect", ()),
        ],
    )  # fmt: skip
    assert kept.record == {(RUB, True): Record(2, 1, 1), (RUB, False): Record(1, 0, 0)}
    assert Record(3, 2, 9).tried == 5
