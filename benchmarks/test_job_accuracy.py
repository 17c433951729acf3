"""The whole job in a calm and in a rough shop: how near each card comes, what the tin grows by, and what is stated."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pytest

from benchmarks.workshop_job import ShopJob, run_jobs
from booth.workshop import CALM, ROUGH, Conditions

SHOPS = (101, 102, 103, 104)
JOBS_EACH = 12


@dataclass(frozen=True)
class Expected:
    """What is measured, a little rounded up: median and 95th percentile of ΔE00 and of growth; the least that holds."""

    first: tuple[float, float]
    one: tuple[float, float]
    two: tuple[float, float]
    growth: tuple[float, float]
    held: float


KINDS = {
    "calm": (CALM, 0.2, Expected((0.25, 0.9), (0.15, 0.3), (0.15, 0.3), (0.01, 0.05), 0.91)),
    "rough": (ROUGH, 0.2, Expected((1.2, 5.9), (0.30, 0.7), (0.26, 0.62), (0.03, 0.2), 0.91)),
}


@pytest.mark.parametrize("kind", KINDS)
def test_the_whole_job(kind: str) -> None:
    conditions, tolerance, expected = KINDS[kind]
    jobs = _jobs(conditions, tolerance)
    names = ("first card", "after one correction", "after two")
    for at, (name, most) in enumerate(zip(names, (expected.first, expected.one, expected.two), strict=True)):
        middle, high = _spread(f"{kind}, {name}, worst of three lights", [job.off[at] for job in jobs])
        assert middle <= most[0]
        assert high <= most[1]
    late = [job.off[0] for i, job in enumerate(jobs) if i % JOBS_EACH >= JOBS_EACH // 2]
    _spread(f"{kind}, first card of the second half of the jobs", late)
    middle, high = _spread(f"{kind}, growth", [job.growth for job in jobs])
    assert middle <= expected.growth[0]
    assert high <= expected.growth[1]
    for at, name in enumerate(names):
        share = float(np.mean([held for job in jobs for held in job.held[at]]))
        print(f"\n{kind}, {name}: the range stated holds {share:.3f}")
        assert share >= expected.held
    share = float(np.mean([job.predicted for job in jobs]))
    stated, was = np.array([chance for job in jobs for chance in job.chances]).mean(axis=0)
    print(f"\n{kind}: predict's u95 holds {share:.3f}; chance of being inside stated {stated:.3f}, was {was:.3f}")
    assert share >= expected.held
    assert was >= stated - 0.1  # nobody is promised more than comes


def _jobs(conditions: Conditions, tolerance: float) -> list[ShopJob]:
    return [job for seed in SHOPS for job in run_jobs(conditions, seed, JOBS_EACH, tolerance)]


def _spread(name: str, values: list[float]) -> tuple[float, float]:
    """Median and 95th percentile, printed."""
    middle, high = float(np.median(values)), float(np.percentile(values, 95))
    print(f"\n{name}: median {middle:.3f}, 95th percentile {high:.3f}, worst {max(values):.3f}")
    return middle, high
