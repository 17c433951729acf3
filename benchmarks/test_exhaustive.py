"""No recipe found by differential evolution (SciPy) beats the returned one; and how the search grows with the bank."""

from __future__ import annotations

import time
from math import comb

import numpy as np
import pytest
from scipy.optimize import differential_evolution

from benchmarks.banks import booth_bank, tint_specs
from finishmatch.match.propose import propose_recipes
from finishmatch.match.subsets import search_subsets
from finishmatch.match.target import ColourTarget, colour_target
from finishmatch.match.weighing import Scale
from finishmatch.optics import TintOptics, fit_bank, predicted_reflectance
from finishmatch.readings import Reading

pytestmark = pytest.mark.timed

TARGETS = 20
TINTS = 12
FINE = Scale(0.01, 0.03)  # so that what is compared is the search, not the scale


def evolved(target: ColourTarget, optics: TintOptics, seed: int) -> float:
    """The least worst-light ΔE00 that differential evolution finds over all shares of all tints, of five at most."""

    def worst(genes: np.ndarray) -> np.ndarray:
        weights = np.exp(
            genes.T * 8 - 8
        )  # (population, tints); vectorised calls give genes of shape (tints, population)
        fifth = np.sort(weights, axis=-1)[:, -5][:, None]
        weights = np.where(weights >= fifth, weights, 0.0)
        return target.differences(predicted_reflectance(optics, weights)).max(axis=-1)

    found = differential_evolution(
        worst, [(0.0, 1.0)] * len(optics.names), maxiter=500, popsize=15, tol=1e-8, seed=seed, vectorized=True,
        updating="deferred", polish=False,
    )  # fmt: skip
    return float(found.fun)


def test_differential_evolution_finds_nothing_better_and_takes_twenty_times_as_long() -> None:
    bank = booth_bank(tint_specs(60, TINTS))
    optics = fit_bank(bank).optics
    r = np.random.default_rng(61)
    beaten, ours_s, theirs_s = [], 0.0, 0.0
    for i in range(TARGETS):
        weighed = np.zeros(TINTS)
        members = r.choice(TINTS, int(r.integers(3, 6)), replace=False)
        weighed[members] = r.dirichlet(np.ones(members.size))
        weighed[0] += 0.3
        bent = predicted_reflectance(optics, weighed) + 0.006 * np.sin(np.arange(31) / r.uniform(3, 8))
        target = colour_target(Reading("t", np.clip(bent, 0.03, 1)[None]), ("D65", "A", "F11"), 10)
        start = time.perf_counter()
        ours = propose_recipes(target, optics, bank.tints, 500.0, FINE).recipes[0].worst_de00
        middle = time.perf_counter()
        theirs = evolved(target, optics, i)
        ours_s, theirs_s = ours_s + middle - start, theirs_s + time.perf_counter() - middle
        beaten.append(ours - theirs)
    print(
        f"\nours less differential evolution's, ΔE00: median {np.median(beaten):.3f}, largest {max(beaten):.3f}; "
        f"{theirs_s / ours_s:.0f} times as long"
    )
    assert max(beaten) <= 0.02


def test_the_search_grows_no_faster_than_the_number_of_subsets() -> None:
    r = np.random.default_rng(62)
    seconds, subsets = [], []
    for tints in (10, 20, 40):
        rows = r.normal(size=(40, tints)) + r.uniform(-1, 1, (40, 1))
        search_subsets(rows, np.ones(tints), 5, 100)
        start = time.perf_counter()
        found = search_subsets(rows, np.ones(tints), 5, 100)
        seconds.append(time.perf_counter() - start)
        assert found.searched == sum(comb(tints, size) for size in range(1, 6))
        subsets.append(found.searched)
    print("\n" + ", ".join(f"{n:,} subsets {s:.3f} s" for n, s in zip(subsets, seconds, strict=True)))
    for i in (0, 1):
        assert seconds[i + 1] / seconds[i] <= 2 * subsets[i + 1] / subsets[i]
