"""The whole job in the virtual booth: how near the first card comes, the corrected one, and what the tin grows by."""

from __future__ import annotations

import numpy as np
import pytest

from benchmarks.booth_job import Job, open_shop, run_job

SHOPS = (101, 102, 103, 104)
JOBS_EACH = 20
TOLERANCE = 0.2


@pytest.fixture(scope="module")
def jobs() -> list[Job]:
    """Eighty jobs in four shops."""
    return [
        run_job(shop, 1000 * seed + i, TOLERANCE)
        for seed in SHOPS
        for shop in (open_shop(seed),)
        for i in range(JOBS_EACH)
    ]


def spread(name: str, values: list[float]) -> tuple[float, float]:
    """Median and 95th percentile, printed."""
    middle, high = float(np.median(values)), float(np.percentile(values, 95))
    print(f"\n{name}: median {middle:.3f}, 95th percentile {high:.3f}, worst {max(values):.3f}")
    return middle, high


def test_the_first_card_is_near(jobs: list[Job]) -> None:
    middle, high = spread("first card, worst of three lights", [max(job.first.values()) for job in jobs])
    assert middle <= 0.5
    assert high <= 1.2


def test_one_correction_brings_it_nearer_and_adds_little(jobs: list[Job]) -> None:
    middle, high = spread("after one correction", [max(job.second.values()) for job in jobs])
    assert middle <= 0.20
    assert high <= 0.40
    middle, high = spread("growth", [job.correction.growth for job in jobs])
    assert middle <= 0.05
    assert high <= 0.20


def test_the_stated_intervals_hold(jobs: list[Job]) -> None:
    first = [low <= job.first[light] <= high for job in jobs for light, (low, high) in job.recipe.intervals.items()]
    second = [
        low <= job.second[light] <= high for job in jobs for light, (low, high) in job.correction.intervals.items()
    ]
    print(f"\nintervals hold: first card {np.mean(first):.3f}, corrected card {np.mean(second):.3f}")
    assert 0.90 <= np.mean(first) <= 0.99
    assert 0.90 <= np.mean(second) <= 0.99
