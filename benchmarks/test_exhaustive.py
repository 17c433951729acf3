"""No recipe that differential evolution (SciPy) finds beats the returned one; `mix` takes a tenth of its time at most.

Run by itself (`python -m benchmarks.test_exhaustive`, some ten minutes) it times the whole budget for all targets: more
than twenty times.
"""

from __future__ import annotations

import time
from collections.abc import Iterator
from typing import Any

import numpy as np
from scipy.optimize import differential_evolution

from booth.banks import shelf
from finishmatch.evidence.target import ColourTarget, colour_target
from finishmatch.mix.propose import propose_recipes
from finishmatch.mix.weighing import Scale
from finishmatch.mix.wishes import RecipeRequest
from finishmatch.optics import Tint, TintOptics, predicted_reflectance
from finishmatch.readings import Reading

TARGETS, TINTS = 20, 12
COMPARED = 2  # of them by every check; all of them by `main`
TIMED_TARGETS, TIMED_TINTS, GENERATIONS, TIMES = 1, 40, 1500, 10
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


def evolved(target: ColourTarget, optics: TintOptics, seed: int, on_arrays: bool = True, **settings: Any) -> float:
    """The least worst-light ΔE00 that differential evolution finds over all shares of all tints, of five at most.

    A gene is the logarithm of a tint's weight, over a range of e⁸; the five heaviest are mixed. The plain form, as
    SciPy's manual shows it, works out one recipe after the other; on arrays a whole generation is one call, which is
    several times as fast.
    """
    form = {"vectorized": True, "updating": "deferred"} if on_arrays else {}
    found = differential_evolution(
        # a generation comes as (tints, population), one recipe as (tints,)
        lambda genes: worst_difference(genes.T, target, optics),
        [(0.0, 1.0)] * len(optics.names), tol=1e-8, seed=seed, polish=False, **form, **settings,
    )  # fmt: skip
    return float(found.fun)


def worst_difference(genes: np.ndarray, target: ColourTarget, optics: TintOptics) -> np.ndarray:
    """ΔE00 in the worst light of what genes of shape (..., tints) stand for."""
    weights = np.exp(genes * 8 - 8)
    fifth = np.sort(weights, axis=-1)[..., -5, None]
    weights = np.where(weights >= fifth, weights, 0.0)
    return target.differences(predicted_reflectance(optics, weights)).max(axis=-1)


def nearest(target: ColourTarget, tints: tuple[Tint, ...], optics: TintOptics) -> float:
    """Worst ΔE00 of the nearest of the recipes proposed; a simpler one may stand before it."""
    proposed = propose_recipes(target, optics, tints, 500.0, RecipeRequest(FINE)).recipes
    return min(recipe.worst_de00 for recipe in proposed)


def test_differential_evolution_finds_nothing_better() -> None:
    assert max(compared(COMPARED)) <= 0.02


def compared(count: int) -> list[float]:
    """By how much the recipes proposed are behind those of differential evolution, ΔE00, for so many targets."""
    tints, optics = shelf(60, TINTS)
    ahead = []
    for i, target in enumerate(targets(optics, count)):
        ours = nearest(target, tints, optics)
        ahead.append(ours - evolved(target, optics, i, maxiter=500, popsize=15))
    print(f"\nours less differential evolution's, ΔE00: median {np.median(ahead):.3f}, largest {max(ahead):.3f}")
    return ahead


class Watch:
    """Stops an evolution that is near enough or has had its time, and keeps count; by the processor's time."""

    def __init__(self, near_enough: float, seconds: float = np.inf) -> None:
        self.near_enough, self.seconds = near_enough, seconds
        self.generations, self.best, self.start = 0, np.inf, time.process_time()

    @property
    def elapsed_s(self) -> float:
        """Since the evolution was begun."""
        return time.process_time() - self.start

    def __call__(self, intermediate_result: Any) -> None:
        self.generations += 1
        self.best = float(intermediate_result.fun)
        if self.best <= self.near_enough or self.elapsed_s > self.seconds:
            raise StopIteration


def timed_mix(target: ColourTarget, tints: tuple[Tint, ...], optics: TintOptics) -> tuple[float, float]:
    """Seconds and worst ΔE00 of the recipes proposed, after one to warm up."""
    seconds = []
    for _ in range(2):
        start = time.process_time()
        found = nearest(target, tints, optics)
        seconds.append(time.process_time() - start)
    return min(seconds), found


def test_mix_takes_at_most_a_tenth_of_its_time() -> None:
    """On forty tints: after ten times as long the plain form isn't within 0.02 of the returned recipe yet.

    Its settings are the best of eight tried. How long the whole budget takes is measured by `main`.
    """
    tints, optics = shelf(60, TIMED_TINTS)
    for i, target in enumerate(targets(optics, TIMED_TARGETS)):
        mix_s, ours = timed_mix(target, tints, optics)
        watch = Watch(ours + 0.02, TIMES * mix_s)
        evolved(target, optics, i, on_arrays=False, maxiter=GENERATIONS, popsize=5, callback=watch)
        took = watch.elapsed_s
        print(
            f"\nmix {mix_s:.2f} s, ΔE00 {ours:.3f}; differential evolution, one recipe at a time, after {took:.1f} s, "
            f"{took / mix_s:.0f} times as long, and {watch.generations:,} generations {watch.best:.3f}"
        )
        assert took >= TIMES * mix_s
        assert watch.best > ours + 0.02


def main() -> None:
    """Time both forms over the whole budget, for all targets, and print the ratios."""
    tints, optics = shelf(60, TIMED_TINTS)
    plain, arrays, reached = [], [], 0
    for i, target in enumerate(targets(optics, TARGETS)):
        mix_s, ours = timed_mix(target, tints, optics)
        took, told = {}, ""
        for form in (False, True):
            watch = Watch(ours + 0.02)
            evolved(target, optics, i, on_arrays=form, maxiter=GENERATIONS, popsize=5, callback=watch)
            took[form] = watch.elapsed_s / mix_s
            told += f"; {'on arrays' if form else 'plain'} {watch.elapsed_s:.1f} s, {took[form]:.1f} times, "
            told += f"{watch.generations:,} generations, ΔE00 {watch.best:.3f}"
            reached += not form and watch.best <= ours + 0.02
        plain.append(took[False])
        arrays.append(took[True])
        print(f"target {i + 1}: mix {mix_s:.2f} s, ΔE00 {ours:.3f}{told}", flush=True)
    for name, ratios in (("plain", plain), ("on arrays", arrays)):
        print(
            f"{name}: least {min(ratios):.1f}, median {np.median(ratios):.1f}, most {max(ratios):.1f} times mix's time"
        )
    compared(TARGETS)
    print(f"the plain form came within 0.02 on {reached} of {TARGETS} targets")


if __name__ == "__main__":
    main()
