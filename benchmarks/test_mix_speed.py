"""The recipe from forty tints: all 760,098 subsets, against a loop of SciPy's nnls over the same subsets.

The loop takes one subset in so many, and its time is reckoned for all; which is best of all is found without it.
"""

from __future__ import annotations

import itertools
import statistics
import time
from pathlib import Path

import numpy as np
import pytest
from scipy.optimize import nnls

from benchmarks.ratios import tell
from booth.bank_writer import letdown_panels, write_bank
from booth.banks import tint_specs
from finishmatch.evidence.target import colour_target
from finishmatch.mix.relaxed_search import hiding_centre, linear_rows
from finishmatch.mix.subsets import search_subsets
from finishmatch.optics import TintOptics, fit_bank, predicted_reflectance
from finishmatch.readings import Reading, read_bank

pytestmark = [pytest.mark.timed, pytest.mark.beside_others]

TINTS = 40
EVERY = 10  # one subset in so many is solved by the loop
NEAREST = 200  # of a size, solved once more
TRIES = 3  # of a search that takes hundredths of a second
LIGHTS = ("D65", "A", "F11")


def write_forty(folder: Path) -> None:
    """Write a bank of forty tints, and a target none of them hits alone."""
    tints = tint_specs(40, TINTS)
    write_bank(folder, tints, letdown_panels(tints), name="forty", seed=40)


def target_spectrum(optics: TintOptics) -> np.ndarray:
    """A mixture of five tints, bent a little so that nothing is exact."""
    grams = np.zeros(TINTS)
    grams[[0, 3, 9, 14, 22]] = 60, 12, 5, 3, 8
    return np.clip(predicted_reflectance(optics, grams) + 0.004 * np.sin(np.arange(31) / 4), 0.03, 1)


def best_of_all(system: np.ndarray, goal: np.ndarray) -> tuple[float, tuple[int, ...]]:
    """Return the least residual of all subsets of one to five columns with amounts above 0, and that subset.

    Where the best of a subset is on an edge, a smaller subset holds it: so plain least squares of each subset that need
    no limit find the best of all, many at a time.
    """
    normal, along = system.T @ system, system.T @ goal
    best, chosen = np.inf, ()
    for size in range(1, 6):
        members = np.array(list(itertools.combinations(range(system.shape[1]), size)))
        amounts = np.linalg.solve(normal[members[:, :, None], members[:, None]], along[members][..., None])[..., 0]
        squares = np.where((amounts > 0).all(axis=1), goal @ goal - (amounts * along[members]).sum(axis=1), np.inf)
        for at in np.argsort(squares)[:NEAREST]:  # sums of squares of so heavy a row lose digits
            left = nnls(system[:, members[at]], goal)[1]
            if left < best:
                best, chosen = left, tuple(map(int, members[at]))
    return float(best), chosen


def test_the_search_is_ten_times_as_fast_as_a_loop_of_nnls_and_finds_the_same_subset(tmp_path: Path) -> None:
    write_forty(tmp_path)
    optics = fit_bank(read_bank(tmp_path)).optics
    spectrum = target_spectrum(optics)
    target = colour_target(Reading("t", spectrum[None]), LIGHTS, 10)
    rows, scale = linear_rows(target, hiding_centre(spectrum, optics), optics)
    took = []
    for _ in range(TRIES):
        start = time.process_time()
        found = search_subsets(rows, scale, 5, 100)
        took.append(time.process_time() - start)
    ours = statistics.median(took)
    assert found.searched == 760_098
    heavy = 1e3 * np.abs(rows).max()
    system, goal = np.vstack([rows, heavy * scale]), np.append(np.zeros(len(rows)), heavy)
    subsets = [subset for size in range(1, 6) for subset in itertools.combinations(range(TINTS), size)]
    start = time.process_time()
    looped = [nnls(system[:, subset], goal)[1] for subset in subsets[::EVERY]]
    theirs = (time.process_time() - start) * EVERY
    print(f"\nsearch of 760,098 subsets: {ours:.2f} s, loop of nnls {theirs:.1f} s, {theirs / ours:.0f} times")
    left, chosen = best_of_all(system, goal)
    amounts, least = nnls(system[:, chosen], goal)
    assert least == pytest.approx(left, rel=1e-6)
    assert min(looped) >= least
    assert {c for c, a in zip(chosen, amounts, strict=True) if a > 0} == {int(m) for m in found.members[0] if m >= 0}
    tell("search of 760,098 subsets", "a loop of SciPy's nnls", ours / theirs, 0.1)
    assert theirs / ours >= 10
