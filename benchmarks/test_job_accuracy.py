"""The whole job in a calm and in a rough shop: how near each card comes, what the tin grows by, and what is stated.

`python -m benchmarks.test_job_accuracy` measures more shops.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
import pytest

from benchmarks.workshop_job import ShopJob, run_jobs
from booth.workshop import CALM, ROUGH, Conditions

SHOPS = {"calm": (103,), "rough": (101,), "rough, new tins tried": (101,)}
ALL_SHOPS = range(101, 117)
JOBS_EACH = 12
TOLERANCE = 0.2
SURE = 0.85
STATED = (0, 0.2, 0.4, 0.6, 0.8, 0.9, 0.98, 1.01)
CARDS = ("first card", "after one correction", "after two")


@dataclass(frozen=True)
class Expected:
    """What is measured, a little rounded up: median and 95th percentile of ΔE00 and of growth; the least that holds.

    `unsaid` is by how much more often cards read inside than is stated, `oversaid` by how much less they read so, or
    truly are, and `surest` how many at least read inside of those stated at 85 in 100 and more; `last_90` is the 90th
    percentile after two corrections. `times` is between what the record narrows or widens a prediction to in the end:
    an even shop's first cards come nearer than is believed of any, a rough one's about as far off.
    """

    off: tuple[tuple[float, float], ...]
    growth: tuple[float, float]
    held: float
    unsaid: float
    oversaid: float = 0.1
    surest: float = 0.7
    as_read: float = 0.88
    last_90: float = 0.45
    times: tuple[float, float] = (0.6, 1.1)


KINDS = {
    # one shop of sixteen each, so that a check doesn't take long: what is expected is of that shop. Two of the twelve
    # jobs of the calm one come nearer than their ranges begin (all sixteen shops hold 0.94, 0.94 and 0.95)
    "calm": (
        CALM,
        Expected(((0.2, 0.5), (0.15, 0.27), (0.15, 0.27)), (0.01, 0.02), 0.8, 0.12, surest=0.85, times=(0.5, 0.85)),
    ),
    # one of its twelve jobs decides the 95th percentile; all sixteen shops come to 0.24 (0.64) after one correction and
    # to 0.20 (0.41) after two
    "rough": (ROUGH, Expected(((1.8, 5.6), (0.22, 0.5), (0.21, 0.4)), (0.01, 0.1), 0.9, 0.15, last_90=0.35)),
    # a letdown of each tin that mix asks to try; one shop's chance of being inside is its own. One of its twelve jobs
    # may be out of its range in every light (all sixteen shops hold 0.98, 0.95 and 0.98), and three of its corrections
    # are surest, of which two read inside (of all sixteen shops' 27 that are stated at 80 in 100 and more 24 did)
    "rough, new tins tried": (
        ROUGH,
        Expected(((0.45, 1.2), (0.30, 0.60), (0.20, 0.45)), (0.01, 0.2), 0.88, 0.15, 0.15, surest=0.6),
    ),
}
TRIED = ("rough, new tins tried", "calm, new tins tried")


@dataclass(frozen=True)
class Came:
    """What came of jobs: medians and 95th percentiles; shares that hold; the chance stated, as read and as it was."""

    off: tuple[tuple[float, float], ...]
    growth: tuple[float, float]
    held: tuple[float, ...]
    predicted: tuple[float, ...]
    held_as_read: float
    chance: tuple[float, float, float]
    surest: float
    last_90: float
    times: float


def came(kind: str, jobs: list[ShopJob]) -> Came:
    """Return what came of jobs, printed."""
    off = tuple(
        _spread(f"{kind}, {name}, worst of three lights", [job.off[at] for job in jobs])
        for at, name in enumerate(CARDS)
    )
    late = [job.off[0] for i, job in enumerate(jobs) if i % JOBS_EACH >= JOBS_EACH // 2]
    _spread(f"{kind}, first card of the second half of the jobs", late)
    growth = _spread(f"{kind}, growth", [job.growth for job in jobs])
    held = tuple(float(np.mean([held for job in jobs for held in job.held[at]])) for at in range(len(CARDS)))
    again = [held for job in jobs for held in job.predicted_again]
    predicted = float(np.mean([job.predicted for job in jobs])), float(np.mean(again))
    as_read = float(np.mean([held for job in jobs for each in job.held_as_read for held in each]))
    chances = np.array([chance for job in jobs for chance in job.chances], dtype=float)
    stated, read, was = chances.mean(axis=0)
    print(
        f"\n{kind}: the range stated holds {_shares(held)}, of corrected cards as read {as_read:.3f}; "
        f"u95 of a first card, of corrected ones {_shares(predicted)}"
    )
    print(f"chance of being inside stated {stated:.3f}, read inside {read:.3f}, was {was:.3f}")
    for low, high in pairwise(STATED):
        those = chances[(chances[:, 0] >= low) & (chances[:, 0] < high)]
        if len(those):
            print(f"  {low:.2f} to {high:.2f}: {len(those)}, " + ", ".join(f"{x:.3f}" for x in those.mean(axis=0)))
    surest = float(chances[chances[:, 0] >= SURE, 1].mean())
    print(f"{np.mean([job.letdowns for job in jobs]):.2f} tins tried a job")
    last_90 = float(np.percentile([job.off[-1] for job in jobs], 90))
    times = float(np.mean([job.times for job in jobs[JOBS_EACH - 1 :: JOBS_EACH]]))
    print(f"first cards came {times:.2f} times as far off as was to be expected")
    return Came(off, growth, held, predicted, as_read, (float(stated), float(read), float(was)), surest, last_90, times)


@pytest.mark.parametrize("kind", KINDS)
def test_the_whole_job(kind: str) -> None:
    conditions, expected = KINDS[kind]
    found = came(kind, _jobs(conditions, SHOPS[kind], kind in TRIED))
    for now, most in zip((*found.off, found.growth), (*expected.off, expected.growth), strict=True):
        assert now[0] <= most[0]
        assert now[1] <= most[1]
    assert found.last_90 <= expected.last_90
    assert min(*found.held, *found.predicted) >= expected.held
    assert found.held_as_read >= expected.as_read
    assert expected.times[0] <= found.times <= expected.times[1]
    stated, read, was = found.chance
    assert stated - expected.oversaid <= read <= stated + expected.unsaid
    assert stated - expected.oversaid <= was  # nobody is promised more than comes
    assert found.surest >= expected.surest


def _jobs(conditions: Conditions, shops: Iterable[int], tries: bool = False) -> list[ShopJob]:
    return [job for seed in shops for job in run_jobs(conditions, seed, JOBS_EACH, TOLERANCE, tries)]


def _shares(of: tuple[float, ...]) -> str:
    return ", ".join(f"{share:.3f}" for share in of)


def _spread(name: str, values: list[float]) -> tuple[float, float]:
    """Median and 95th percentile, printed."""
    middle, high = float(np.median(values)), float(np.percentile(values, 95))
    print(f"\n{name}: median {middle:.3f}, 95th percentile {high:.3f}, worst {max(values):.3f}")
    return middle, high


if __name__ == "__main__":
    for one, its in (("calm", CALM), ("rough", ROUGH), (TRIED[1], CALM), (TRIED[0], ROUGH)):
        came(one, _jobs(its, ALL_SHOPS, one in TRIED))
