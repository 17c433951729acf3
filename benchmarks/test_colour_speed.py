"""CIEDE2000 against colour-science, a million pairs, in the same run."""

from __future__ import annotations

import colour
import numpy as np
import pytest

from benchmarks.ratios import holds, tell, time_ratio
from finishmatch.colour import de00

pytestmark = pytest.mark.timed


def pairs() -> tuple[np.ndarray, np.ndarray]:
    """A million random pairs of CIELAB."""
    r = np.random.default_rng(1)
    return r.uniform([0, -110, -110], [100, 110, 110], (10**6, 3)), r.uniform(0, 100, (10**6, 3))


def test_de00_is_three_times_as_fast() -> None:
    one, two = pairs()
    limit = 1 / 3
    ratio = holds(
        lambda: time_ratio(lambda: de00(one, two), lambda: colour.delta_E(one, two, method="CIE 2000"), 3), limit
    )
    tell("ΔE00 of a million pairs", "colour-science", ratio, limit)
    assert ratio <= limit


@pytest.mark.benchmark(group="de00 of a million pairs")
def test_ours(benchmark: object) -> None:
    one, two = pairs()
    benchmark(de00, one, two)


@pytest.mark.benchmark(group="de00 of a million pairs")
def test_colour_science(benchmark: object) -> None:
    one, two = pairs()
    benchmark.pedantic(colour.delta_E, (one, two), {"method": "CIE 2000"}, rounds=3)
