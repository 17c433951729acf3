"""The build that hides from one contrast ratio, held against the optics of a whole bank."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from finishmatch.colour import reflectance_to_lab
from finishmatch.errors import InputError
from finishmatch.evidence.target import colour_target
from finishmatch.finish.hiding import HidingBuild, build_that_hides
from finishmatch.mix.hiding_build import CHART_BLACK, CHART_WHITE, CONTRAST_RATIO, contrast_ratio, hiding_build_um
from finishmatch.mix.relaxed_search import likely_spectrum
from finishmatch.optics import fit_bank, predicted_reflectance
from finishmatch.readings import Reading, read_bank
from tests.conftest import ROOT

BANK = ROOT / "swatches/bank"


def hides(ratio: float, at_um: float, colour: np.ndarray | None = None, known_as: str = "spectrum") -> HidingBuild:
    return build_that_hides(
        ratio, at_um, CHART_BLACK, CHART_WHITE, CONTRAST_RATIO, colour, known_as if colour is not None else ""
    )


def grey(lightness: float) -> np.ndarray:
    return np.full(31, ((lightness + 16) / 116) ** 3)


def test_a_reading_of_that_very_ratio_is_the_answer() -> None:
    """ISO 6504-3: 0.98 counts as hiding."""
    assert hides(0.98, 31.0, grey(50)).build_um == pytest.approx(31.0)
    assert hides(0.98, 31.0).build_um == pytest.approx(31.0)


@given(ratio=st.floats(0.15, 0.99), lightness=st.floats(25, 95), build=st.floats(5, 200))
@settings(max_examples=30, deadline=None)
def test_it_scales_with_the_build_and_falls_with_the_ratio(ratio: float, lightness: float, build: float) -> None:
    one = hides(ratio, build, grey(lightness)).build_um
    assert hides(ratio, 2 * build, grey(lightness)).build_um == pytest.approx(2 * one, rel=1e-6)
    assert hides(ratio + 0.004, build, grey(lightness)).build_um < one


def test_the_interval_holds_the_answer_and_narrows_with_the_colour() -> None:
    known, unknown = hides(0.9, 20, grey(60)), hides(0.9, 20)
    for found in (known, unknown):
        assert found.low_um < found.build_um < found.high_um
    assert known.high_um - known.low_um < 0.5 * (unknown.high_um - unknown.low_um)
    assert unknown.low_um <= known.build_um <= unknown.high_um


def test_it_agrees_with_the_fitted_optics_of_a_bank() -> None:
    """Mixtures of three of the bundled bank's tints, read at 0.3 to 0.8 of the build that hides; seeded."""
    fit = fit_bank(read_bank(BANK))
    chart = (np.full(31, CHART_BLACK), np.full(31, CHART_WHITE))
    rng = np.random.default_rng(7)
    usable = [name for name in fit.optics.names if name in fit.usable]
    held: dict[str, list[bool]] = {"spectrum": [], "lab": []}
    off: dict[str, list[float]] = {"spectrum": [], "lab": []}
    for _ in range(24):
        optics, grams = fit.optics.chosen(sorted(rng.choice(usable, 3, replace=False))), rng.dirichlet(np.ones(3))
        true = hiding_build_um(optics, grams)
        if true is None or true > 300:
            continue
        read = Reading("x", predicted_reflectance(optics, grams)[None, :])
        typed = Reading("x", reflectance_to_lab(read.repeats), "D65", 10)
        colours = {"spectrum": read.repeats[0], "lab": likely_spectrum(colour_target(typed, ("D65",), 10))}
        at = true * float(rng.uniform(0.3, 0.8))
        ratio = contrast_ratio(optics, grams, max(at, 1.0), *chart)
        for known_as, colour in colours.items():
            found = hides(ratio, max(at, 1.0), colour, known_as)
            held[known_as].append(found.low_um <= true <= found.high_um)
            off[known_as].append(found.build_um / true - 1)
    assert len(held["lab"]) >= 20
    assert np.median(np.abs(off["spectrum"])) < 0.03
    assert np.abs(off["spectrum"]).max() < 0.2
    assert np.median(np.abs(off["lab"])) < 0.08
    assert np.mean(held["spectrum"]) >= 0.9
    assert np.mean(held["lab"]) >= 0.9


@pytest.mark.parametrize(
    ("ratio", "build", "colour", "message"),
    [
        (0.0, 20, None, "0 is not a contrast ratio"),
        (1.0, 20, None, "1 is not a contrast ratio"),
        (0.9, 0, None, "0 µm is not the build"),
        (0.01, 20, grey(50), "a film of that colour has more than 0.01"),
        (0.01, 20, None, "any film has more than 0.01"),
        (float("nan"), 20, None, "not a contrast ratio"),
    ],
)
def test_what_can_not_be_is_refused(ratio: float, build: float, colour: np.ndarray | None, message: str) -> None:
    with pytest.raises(InputError, match=message):
        hides(ratio, build, colour)
