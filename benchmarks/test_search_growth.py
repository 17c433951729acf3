"""How the search grows with the shelf, and what is lost where not every subset can be tried."""

from __future__ import annotations

import time
from dataclasses import replace
from functools import partial
from math import comb

import numpy as np
import pytest

from benchmarks.ratios import tell
from booth.banks import shelf
from finishmatch.evidence.target import colour_target
from finishmatch.mix import relaxed_search
from finishmatch.mix.propose import propose_recipes
from finishmatch.mix.subsets import search_subsets
from finishmatch.mix.weighing import Scale
from finishmatch.mix.wishes import RecipeRequest
from finishmatch.optics import predicted_reflectance
from finishmatch.readings import Reading

SIZES = (10, 20, 40, 80)
SAMPLED = 4_000_000  # of the 24,040,016 fives of eighty tints


@pytest.mark.timed
@pytest.mark.beside_others
def test_the_search_grows_no_faster_than_the_number_of_subsets() -> None:
    r = np.random.default_rng(62)
    seconds, subsets = [], []
    for tints in SIZES:
        rows = r.normal(size=(40, tints)) + r.uniform(-1, 1, (40, 1))
        times = []
        for _ in range(2 if tints > 40 else 4):
            start = time.process_time()
            found = search_subsets(rows, np.ones(tints), 5, 150)
            times.append(time.process_time() - start)
        seconds.append(min(times))
        assert found.searched == sum(comb(tints, size) for size in range(1, 6))
        assert found.whole_up_to == 5
        subsets.append(found.searched)
    print("\n" + ", ".join(f"{n:,} subsets {s:.3f} s" for n, s in zip(subsets, seconds, strict=True)))
    growth = [seconds[i + 1] / seconds[i] / (subsets[i + 1] / subsets[i]) for i in range(len(SIZES) - 1)]
    tell("time of the search, from 10 to 80 tints", "the number of subsets", max(growth), 2)
    assert max(growth) <= 2


def test_a_sixth_of_the_fives_holds_what_all_of_them_hold(monkeypatch: pytest.MonkeyPatch) -> None:
    tints, optics = shelf(62, 80)
    r = np.random.default_rng(63)
    lost, shares = [], []
    for _ in range(2):
        grams = np.zeros(80)
        members = r.choice(80, 5, replace=False)
        grams[members] = r.dirichlet(np.ones(5))
        grams[0] += 0.3
        bent = predicted_reflectance(optics, grams) + 0.004 * np.sin(np.arange(31) / r.uniform(3, 8))
        target = colour_target(Reading("t", np.clip(bent, 0.043, 1)[None]), ("D65", "A", "F11"), 10)
        nearest = []
        for most in (10**9, SAMPLED):
            monkeypatch.setattr(relaxed_search, "search_subsets", partial(search_subsets, most_subsets=most))
            found = propose_recipes(target, replace(optics), tints, 500.0, RecipeRequest(Scale(0.01, 0.03)))
            nearest.append(min(recipe.worst_de00 for recipe in found.recipes))
            assert found.searched.whole_up_to == (5 if most > SAMPLED else 4)
        shares.append(found.searched.subsets / 25_706_996)
        lost.append(nearest[1] - nearest[0])
    print(f"\n{max(shares):.0%} of the subsets tried: lost ΔE00 {max(lost):.3f} at most of {len(lost)} colours")
    assert max(lost) <= 0.02
