"""The build that hides from one drawdown, held against adding-doubling: how near, and whether its interval holds."""

from __future__ import annotations

import numpy as np
import pytest

from booth.banks import random_grams, tint_specs
from booth.virtual_booth import film_reflectance
from finishmatch.colour import Floats, de00, reflectance_to_lab, reflectance_to_xyz
from finishmatch.evidence.target import colour_target
from finishmatch.finish.hiding import HidingBuild, build_that_hides
from finishmatch.mix.relaxed_search import likely_spectrum
from finishmatch.readings import Reading

MIXTURES = 20
# a chart whose white reads 0.80 bare without the gloss and whose black reads 0.004 without it (ASTM D2805, 6.1.2: at
# least 0.78, at most 0.01), in contact with the film
CHART_BLACK, CHART_WHITE = 0.01, 0.925
LEAST_Y = 15.0  # ASTM D2805, ISO 6504-3: darker paints are judged by the difference over black and white
CONTRAST_RATIO = 0.98  # counts as hiding: ISO 6504-3
UNSEEN_DE00 = 0.3  # of black and white under a dark paint, what isn't seen («common practice»)
NOISE = 0.005  # of a contrast ratio as read (SD), as the tool takes it
Case = tuple[float, dict[str, HidingBuild], bool]


def _films(shares: Floats, pigments: list, builds: Floats) -> tuple[Floats, Floats]:
    """Return the contrast ratios of a film's builds in the booth, and the differences over black and white."""
    grounds = np.multiply.outer([CHART_BLACK, CHART_WHITE], np.ones((len(builds), 31)))
    black, white = film_reflectance(np.tile(shares, (len(builds), 1)), pigments, builds, grounds)
    ratios = reflectance_to_xyz(black)[:, 1] / reflectance_to_xyz(white)[:, 1]
    return ratios, de00(reflectance_to_lab(black), reflectance_to_lab(white))


def _case(shares: Floats, pigments: list, rng: np.random.Generator) -> Case | None:
    """Return the true build of a mixture, and what is found from one drawdown that doesn't hide."""
    builds = np.geomspace(1, 600, 24)
    ratios, seen = _films(shares, pigments, builds)
    spectrum = film_reflectance(shares, pigments)
    dark = float(reflectance_to_xyz(spectrum)[1]) <= LEAST_Y
    if seen[-1] > UNSEEN_DE00 if dark else ratios[-1] < CONTRAST_RATIO:
        return None
    hides = (-UNSEEN_DE00, -seen) if dark else (CONTRAST_RATIO, ratios)
    true = float(np.exp(np.interp(*hides, np.log(builds))))
    at = max(true * float(rng.uniform(0.4, 0.8)), 1.0)
    read = float(np.interp(np.log(at), np.log(builds), ratios) + rng.normal(0, NOISE))
    typed = Reading("x", reflectance_to_lab(spectrum)[None, :], "D65", 10)
    colours = {"spectrum": spectrum, "lab": likely_spectrum(colour_target(typed, ("D65",), 10)), "": None}
    if not 0 < read < 1:
        return None
    return (
        true,
        {
            known: build_that_hides(read, at, CHART_BLACK, CHART_WHITE, CONTRAST_RATIO, colour, known)
            for known, colour in colours.items()
        },
        dark,
    )


@pytest.fixture(scope="module")
def cases() -> list[Case]:
    """Mixtures of ten invented pigments that scatter alike in all directions, or forward."""
    rng = np.random.default_rng(5)
    found = []
    for seed, anisotropy in ((21, 0.0), (22, 0.6)):
        pigments = [tint.pigment for tint in tint_specs(seed, 10, anisotropy)]
        for i, grams in enumerate(random_grams(seed, 10, 2 * MIXTURES)):
            shares = grams / grams.sum()
            if i >= MIXTURES:  # as much white again, for paints pale enough for the ratio
                shares = 0.1 * shares + 0.9 * (np.arange(10) == 0)
            case = _case(shares, pigments, rng)
            found += [] if case is None else [case]
    return found


@pytest.mark.parametrize(
    ("known", "dark", "middle", "high"),
    [
        ("spectrum", False, 0.05, 0.15),
        ("lab", False, 0.07, 0.25),
        ("", False, 0.20, 0.50),
        ("spectrum", True, 0.06, 0.25),
        ("lab", True, 0.08, 0.40),
        ("", True, 0.35, 0.70),
    ],
)
def test_one_drawdown_tells_what_hides(cases: list[Case], known: str, dark: bool, middle: float, high: float) -> None:
    chosen = [(true, found[known]) for true, found, is_dark in cases if is_dark == dark]
    off = np.array([abs(found.build_um / true - 1) for true, found in chosen])
    share = np.mean([found.low_um <= true <= found.high_um for true, found in chosen])
    print(
        f"\n{len(chosen)} {'dark' if dark else 'pale'} mixtures, colour {known or 'not told'}: off by a median of "
        f"{np.median(off):.3f}, 95th percentile {np.percentile(off, 95):.3f}; the interval holds {share:.3f}"
    )
    assert len(chosen) > 20
    assert np.median(off) <= middle
    assert np.percentile(off, 95) <= high
    assert share >= 0.85
