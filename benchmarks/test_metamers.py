"""How far a standard known in one light parts from its match in others: as often as stated, on real paint.

Standards are measured watercolours (`watercolour_data`), matched from a bank of invented tints that holds none of their
pigments, on their CIELAB alone; what the match then differs by in A and F11 is known from their spectra.
"""

from __future__ import annotations

import numpy as np

from benchmarks.watercolour_data import load
from booth.banks import shelf
from finishmatch.colour import Floats, metamerism_index, reflectance_to_lab
from finishmatch.evidence.target import colour_target
from finishmatch.mix.metamers import MOST_PIGMENTS, metamers
from finishmatch.mix.refine import candidate_reflectance
from finishmatch.mix.relaxed_search import search_relaxed
from finishmatch.optics import TintOptics, predicted_reflectance
from finishmatch.readings.resolve import typed_lab

BANKS, SWATCHES, TINTS, MATCHED_DE00 = (60, 61), 50, 16, 1.0


def test_what_is_stated_of_other_lights_holds_for_measured_paint() -> None:
    measured = np.clip(load().training.reflectance[:, 2:33], 0.03, 1)  # 400 to 700 nm of 380 to 780
    some = measured[np.random.default_rng(8).choice(len(measured), SWATCHES, replace=False)]
    told = np.array([row for seed in BANKS for standard in some for row in _parted(standard, shelf(seed, TINTS)[1])])
    parted, median, most = told.T
    half, nearly_all = float(np.mean(parted <= median)), float(np.mean(parted <= most))
    print(f"\n{len(told)}: half within {half:.2f}, 9 in 10 within {nearly_all:.2f}")
    print(f"parted by ΔE00 {np.median(parted):.2f} in the median, {np.quantile(parted, 0.9):.2f} 9 in 10")
    assert len(told) >= SWATCHES
    assert 0.4 <= half <= 0.7
    assert 0.82 <= nearly_all <= 0.97


def _parted(standard: Floats, optics: TintOptics) -> list[tuple[float, float, float]]:
    """Return by how much a match parts in each further light, and what is stated; nothing where none is matched."""
    lab = reflectance_to_lab(standard, "D65", 10)
    target = colour_target(typed_lab(",".join(f"{value:.3f}" for value in lab)), ("D65", "A", "F11"), 10)
    found, _ = search_relaxed(target, optics, MOST_PIGMENTS, np.ones(TINTS))
    away = target.distances(candidate_reflectance(found, optics)).max(axis=1)
    likely = metamers(target, found, optics)
    assert likely is not None
    if away.min() > MATCHED_DE00:
        return []
    nearest = int(away.argmin())
    members, shares = found.members[nearest], found.shares[nearest]
    own, grams = optics.chosen([optics.names[i] for i in members if i >= 0]), shares[members >= 0]
    match = predicted_reflectance(own, grams)
    return [
        (float(metamerism_index(standard, match, "D65", risk.light, 10)), risk.median, risk.most)
        for risk in likely.risks(own, grams)
    ]
