"""The build that hides from one contrast ratio, held against the optics of a whole bank."""

from __future__ import annotations

from functools import cache

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import brentq

from finishmatch.colour import reflectance_to_lab, reflectance_to_xyz
from finishmatch.errors import InputError
from finishmatch.evidence.target import colour_target
from finishmatch.finish.hiding import HidingBuild, build_that_hides
from finishmatch.mix.hiding_build import (
    CHART_BLACK,
    CHART_WHITE,
    contrast_ratio,
    hides_within_de00,
    hiding_build_um,
    seen_de00,
)
from finishmatch.mix.relaxed_search import likely_spectrum
from finishmatch.optics import BankFit, fit_bank, predicted_reflectance
from finishmatch.readings import Reading, read_bank
from tests.conftest import ROOT

BANK = ROOT / "swatches/bank"


@cache
def bundled() -> BankFit:
    """The fit of the bundled bank."""
    return fit_bank(read_bank(BANK))


K1, K2 = 0.0400, 0.5963  # Fresnel at index 1.5: of the gloss, and of diffuse light from within


def in_contact(bare: float, gloss: bool) -> float:
    """Reflectance under paint of a ground that reads so bare, with the gloss or without it: Saunderson 1942."""
    beside_gloss = bare - K1 if gloss else bare
    return beside_gloss / ((1 - K1) * (1 - K2) + K2 * beside_gloss)


# ASTM D2805, 6.1.2: the white of the chart reads at least 0.78 bare, its black at most 0.01. Whether the gloss is in
# the reading depends on the geometry: a white must hold without it, which asks for more; a black has no room for it.
LEAST_WHITE = max(in_contact(0.78, gloss) for gloss in (True, False))
MOST_BLACK = in_contact(0.01, gloss=False)
BLACK, WHITE = 0.01, in_contact(0.80, gloss=False)


def hides(ratio: float, at_um: float, colour: np.ndarray | None = None, known_as: str = "spectrum") -> HidingBuild:
    """What is found of a drawdown; 0.98 counts as hiding (ISO 6504-3)."""
    return build_that_hides(ratio, at_um, BLACK, WHITE, 0.98, colour, known_as if colour is not None else "")


def grey(lightness: float) -> np.ndarray:
    return np.full(31, ((lightness + 16) / 116) ** 3)


def test_a_reading_of_that_very_ratio_is_the_answer() -> None:
    """ISO 6504-3: 0.98 counts as hiding."""
    assert hides(0.98, 31.0, grey(50)).build_um == pytest.approx(31.0)
    assert hides(0.98, 31.0, grey(90)).build_um == pytest.approx(31.0)
    unknown = hides(0.98, 31.0)  # among the greys that stand in are dark ones, which the ratio doesn't judge
    assert unknown.low_um <= 31.0 <= unknown.high_um


def test_the_chart_is_one_that_the_standard_allows() -> None:
    """ASTM D2805, 6.1.2: white at least 78 %, black at most 1 %, read bare, with the gloss or without."""
    assert pytest.approx(0.9148, abs=5e-4) == LEAST_WHITE
    assert LEAST_WHITE <= CHART_WHITE <= in_contact(0.85, gloss=False)
    assert 0 <= CHART_BLACK <= MOST_BLACK
    assert pytest.approx(in_contact(0.80, gloss=False), abs=0.001) == CHART_WHITE


def closed_form_depth(bare: float, white: float) -> float:
    """S × build at which a film that reads so where it hides has a contrast ratio of 0.98: Kubelka and Munk 1931."""
    inside = in_contact(bare, gloss=True)
    a = (1 / inside + inside) / 2
    b = np.sqrt(a * a - 1)

    def read(depth: float, ground: float) -> float:
        c = b / np.tanh(b * depth)
        under = (1 - ground * (a - c)) / (a - ground + c)
        return K1 + (1 - K1) * (1 - K2) * under / (1 - K2 * under)

    return float(brentq(lambda depth: read(depth, BLACK) / read(depth, white) - 0.98, 0.1, 100.0))


def test_a_darker_white_would_find_a_film_too_thin() -> None:
    """0.80 in contact reads 0.63 bare, under what ASTM D2805 asks for: the build that hides came out too thin."""
    fit = bundled()
    optics, grams = fit.optics.chosen(["white"]), np.array([1.0])
    build = hiding_build_um(optics, grams)
    wrong = [("black", np.full(31, 0.01)), ("white", np.full(31, 0.80))]
    assert build is not None
    masstone = float(reflectance_to_xyz(predicted_reflectance(optics, grams))[1]) / 100
    thinner = closed_form_depth(masstone, WHITE) / closed_form_depth(masstone, 0.80)
    assert thinner > 1.4
    assert build / hiding_build_um(optics, grams, wrong) == pytest.approx(thinner, rel=0.03)
    chart = np.full(31, BLACK), np.full(31, WHITE)
    assert contrast_ratio(optics, grams, build, *chart) == pytest.approx(0.98, abs=0.001)


def test_a_dark_paint_hides_when_black_and_white_look_alike() -> None:
    """ASTM D2805 and ISO 6504-3 are for paints of a Y over 15; that ΔE00 0.3 isn't seen is «common practice»."""
    fit = bundled()
    chart = np.full(31, BLACK), np.full(31, WHITE)
    for parts, dark in (({"white": 1.0}, False), ({"white": 1.0, "blue": 1.0}, True), ({"blue": 1.0}, True)):
        optics, grams = fit.optics.chosen(list(parts)), np.array(list(parts.values()))
        luminance = reflectance_to_xyz(predicted_reflectance(optics, grams))[1]
        assert (luminance <= 15) == dark
        assert hides_within_de00(optics, grams) == (0.3 if dark else None)
        build = hiding_build_um(optics, grams)
        assert build is not None
        if dark:
            assert seen_de00(optics, grams, build, *chart) <= 0.3 + 0.01
            assert seen_de00(optics, grams, 0.8 * build, *chart) > 0.3
    assert hides_within_de00(fit.optics.chosen(["white"]), np.array([1.0]), 0.5) == 0.5
    # and from one drawdown: the ratio gives the scattering, the difference decides
    for lightness, ratio_decides in ((30.0, False), (44.0, False), (47.0, True), (90.0, True)):
        at_ratio = hides(0.98, 20.0, grey(lightness)).build_um
        assert (at_ratio == pytest.approx(20.0)) == ratio_decides


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


@pytest.mark.parametrize(
    ("dark", "spectrum", "worst", "lab"), [(False, 0.03, 0.2, 0.08), (True, 0.05, 0.4, 0.12)], ids=["pale", "dark"]
)
def test_it_agrees_with_the_fitted_optics_of_a_bank(dark: bool, spectrum: float, worst: float, lab: float) -> None:
    """Mixtures of three of the bundled bank's tints, read at 0.3 to 0.8 of the build that hides; seeded."""
    fit = bundled()
    chart = (np.full(31, BLACK), np.full(31, WHITE))
    rng = np.random.default_rng(7)
    usable = [name for name in fit.optics.names if name in fit.usable and name != "white"]
    held: dict[str, list[bool]] = {"spectrum": [], "lab": []}
    off: dict[str, list[float]] = {"spectrum": [], "lab": []}
    while len(held["lab"]) < 24:
        names = [*rng.choice(usable, 2, replace=False), "white"]
        optics, grams = fit.optics.chosen(names), rng.dirichlet([1, 1, 1 if dark else 30])
        true = hiding_build_um(optics, grams)
        if true is None or true > 300 or (hides_within_de00(optics, grams) is not None) != dark:
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
    assert np.median(np.abs(off["spectrum"])) < spectrum
    assert np.abs(off["spectrum"]).max() < worst
    assert np.median(np.abs(off["lab"])) < lab
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
