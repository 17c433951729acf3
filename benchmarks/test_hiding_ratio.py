"""The build that hides from one drawdown, held against adding-doubling: how near, and whether its interval holds."""

from __future__ import annotations

import numpy as np
import pytest

from booth.banks import random_grams, tint_specs
from booth.virtual_booth import film_reflectance
from finishmatch.colour import Floats, reflectance_to_lab, reflectance_to_xyz
from finishmatch.evidence.target import colour_target
from finishmatch.finish.hiding import HidingBuild, build_that_hides
from finishmatch.mix.hiding_build import CHART_BLACK, CHART_WHITE, CONTRAST_RATIO
from finishmatch.mix.relaxed_search import likely_spectrum
from finishmatch.readings import Reading

MIXTURES = 20
NOISE = 0.005  # of a contrast ratio as read (SD), as the tool takes it
Case = tuple[float, dict[str, HidingBuild]]


def _ratios(shares: Floats, pigments: list, builds: Floats) -> Floats:
    """Return the contrast ratios of a film's builds in the booth."""
    over = [
        reflectance_to_xyz(
            film_reflectance(np.tile(shares, (len(builds), 1)), pigments, builds, np.full((len(builds), 31), ground))
        )[:, 1]
        for ground in (CHART_BLACK, CHART_WHITE)
    ]
    return over[0] / over[1]


def _case(shares: Floats, pigments: list, rng: np.random.Generator) -> Case:
    """Return the true build of a mixture, and what is found from one drawdown that doesn't hide."""
    builds = np.geomspace(1, 600, 24)
    ratios = _ratios(shares, pigments, builds)
    true = float(np.exp(np.interp(CONTRAST_RATIO, ratios, np.log(builds))))
    at = max(true * float(rng.uniform(0.4, 0.8)), 1.0)
    read = float(np.interp(np.log(at), np.log(builds), ratios) + rng.normal(0, NOISE))
    spectrum = film_reflectance(shares, pigments)
    typed = Reading("x", reflectance_to_lab(spectrum)[None, :], "D65", 10)
    colours = {"spectrum": spectrum, "lab": likely_spectrum(colour_target(typed, ("D65",), 10)), "": None}
    return true, {
        known: build_that_hides(read, at, CHART_BLACK, CHART_WHITE, CONTRAST_RATIO, colour, known)
        for known, colour in colours.items()
    }


@pytest.fixture(scope="module")
def cases() -> list[Case]:
    """Mixtures of ten invented pigments that scatter alike in all directions, or forward."""
    rng = np.random.default_rng(5)
    found = []
    for seed, anisotropy in ((21, 0.0), (22, 0.6)):
        pigments = [tint.pigment for tint in tint_specs(seed, 10, anisotropy)]
        for grams in random_grams(seed, 10, MIXTURES):
            shares = grams / grams.sum()
            if _ratios(shares, pigments, np.array([600.0]))[0] > CONTRAST_RATIO:
                found.append(_case(shares, pigments, rng))
    return found


@pytest.mark.parametrize(("known", "middle", "high"), [("spectrum", 0.05, 0.15), ("lab", 0.07, 0.25), ("", 0.20, 0.50)])
def test_one_drawdown_tells_what_hides(cases: list[Case], known: str, middle: float, high: float) -> None:
    off = np.array([abs(found[known].build_um / true - 1) for true, found in cases])
    share = np.mean([found[known].low_um <= true <= found[known].high_um for true, found in cases])
    print(
        f"\n{len(cases)} mixtures, colour {known or 'not told'}: off by a median of {np.median(off):.3f}, "
        f"95th percentile {np.percentile(off, 95):.3f}; the interval holds {share:.3f}"
    )
    assert len(cases) > 30
    assert np.median(off) <= middle
    assert np.percentile(off, 95) <= high
    assert share >= 0.85
