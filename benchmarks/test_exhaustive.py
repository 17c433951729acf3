"""No recipe found by differential evolution (SciPy) beats the returned one, and `mix` takes a twentieth of its time."""

from __future__ import annotations

import time
from collections.abc import Iterator
from typing import Any

import numpy as np
import pytest
from scipy.optimize import differential_evolution

from benchmarks.banks import shelf
from finishmatch.match.propose import propose_recipes
from finishmatch.match.target import ColourTarget, colour_target
from finishmatch.match.weighing import Scale
from finishmatch.optics import TintOptics, predicted_reflectance
from finishmatch.readings import Reading

TARGETS, TINTS = 20, 12
TIMED_TARGETS, TIMED_TINTS, GENERATIONS = 3, 40, 1500
FINE = Scale(0.01, 0.03)  # so that what is compared is the search, not the scale


def targets(optics: TintOptics, count: int) -> Iterator[ColourTarget]:
    """Mixtures of 3 to 5 tints with white, bent a little, so that nothing hits them exactly."""
    r = np.random.default_rng(61)
    for _ in range(count):
        weighed = np.zeros(len(optics.names))
        members = r.choice(weighed.size, int(r.integers(3, 6)), replace=False)
        weighed[members] = r.dirichlet(np.ones(members.size))
        weighed[0] += 0.3
        bent = predicted_reflectance(optics, weighed) + 0.006 * np.sin(np.arange(31) / r.uniform(3, 8))
        # no paint reads below what its surface throws back
        yield colour_target(Reading("t", np.clip(bent, optics.surface.k1 + 0.003, 1)[None]), ("D65", "A", "F11"), 10)


def evolved(target: ColourTarget, optics: TintOptics, seed: int, **settings: Any) -> float:
    """The least worst-light ΔE00 that differential evolution finds over all shares of all tints, of five at most.

    A gene is the logarithm of a tint's weight, over a range of e⁸; the five heaviest are mixed. A whole generation is
    one call on arrays, which is several times as fast as the plain form of one recipe at a time.
    """

    found = differential_evolution(
        lambda genes: worst_difference(genes.T, target, optics),  # a generation comes as (tints, population)
        [(0.0, 1.0)] * len(optics.names), tol=1e-8, seed=seed, vectorized=True, updating="deferred", polish=False,
        **settings,
    )  # fmt: skip
    return float(found.fun)


def worst_difference(genes: np.ndarray, target: ColourTarget, optics: TintOptics) -> np.ndarray:
    """ΔE00 in the worst light of what genes of shape (..., tints) stand for."""
    weights = np.exp(genes * 8 - 8)
    fifth = np.sort(weights, axis=-1)[..., -5, None]
    weights = np.where(weights >= fifth, weights, 0.0)
    return target.differences(predicted_reflectance(optics, weights)).max(axis=-1)


def test_differential_evolution_finds_nothing_better() -> None:
    tints, optics = shelf(60, TINTS)
    ahead = []
    for i, target in enumerate(targets(optics, TARGETS)):
        ours = propose_recipes(target, optics, tints, 500.0, FINE).recipes[0].worst_de00
        ahead.append(ours - evolved(target, optics, i, maxiter=500, popsize=15))
    print(f"\nours less differential evolution's, ΔE00: median {np.median(ahead):.3f}, largest {max(ahead):.3f}")
    assert max(ahead) <= 0.02


@pytest.mark.timed
def test_mix_takes_at_most_a_twentieth_of_its_time() -> None:
    """On forty tints, until it comes within 0.02 of the returned recipe; the settings are the best of eight tried.

    The generations are counted in the form that works on arrays. The time told is theirs in the plain form, where one
    recipe after the other is worked out, as SciPy's manual shows it; the other form's is printed as well.
    """
    tints, optics = shelf(60, TIMED_TINTS)
    population = 5 * TIMED_TINTS
    ratios = []
    for i, target in enumerate(targets(optics, TIMED_TARGETS)):
        propose_recipes(target, optics, tints, 500.0, FINE)
        start = time.perf_counter()
        ours = propose_recipes(target, optics, tints, 500.0, FINE).recipes[0].worst_de00
        mix_s = time.perf_counter() - start
        generations = 0

        def near_enough(intermediate_result: Any) -> None:
            nonlocal generations
            generations += 1
            if intermediate_result.fun <= ours + 0.02:  # noqa: B023
                raise StopIteration

        start = time.perf_counter()
        theirs = evolved(target, optics, i, maxiter=GENERATIONS, popsize=5, callback=near_enough)
        arrays_s = time.perf_counter() - start
        plain_s = generations * population * seconds_a_recipe(target, optics)
        ratios.append(plain_s / mix_s)
        reached = "reached it" if theirs <= ours + 0.02 else "hadn't"
        print(
            f"\nmix {mix_s:.2f} s, ΔE00 {ours:.3f}; differential evolution {reached} after {generations:,} generations "
            f"({theirs:.3f}): {plain_s:.0f} s in the plain form, {ratios[-1]:.0f} times as long; on arrays "
            f"{arrays_s:.1f} s, {arrays_s / mix_s:.0f} times"
        )
    assert min(ratios) >= 20


def seconds_a_recipe(target: ColourTarget, optics: TintOptics) -> float:
    """How long the plain form takes for one recipe."""
    genes = np.random.default_rng(64).uniform(size=(300, len(optics.names)))
    start = time.perf_counter()
    for one in genes:
        worst_difference(one, target, optics)
    return (time.perf_counter() - start) / len(genes)
