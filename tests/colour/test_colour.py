"""Colour against published values and against two reference libraries."""

from __future__ import annotations

import warnings

import colour
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from skimage.color import deltaE_ciede2000

from finishmatch.colour import (
    LIGHTS,
    OBSERVERS,
    WAVELENGTHS_NM,
    cielab_delta,
    de00,
    de00_parts,
    lab_to_lch,
    lab_to_xyz,
    metamerism_index,
    reflectance_to_lab,
    reflectance_to_lab_slope,
    reflectance_to_xyz,
    weights,
    white_point,
    xyz_to_lab,
)
from finishmatch.colour.display import lab_to_hex
from finishmatch.errors import InputError
from tests.conftest import ROOT

REFERENCE = ROOT / "tests/reference"
CIE_NAMES = {"F2": "FL2", "F11": "FL11"}
OBSERVER_NAMES = {2: "CIE 1931 2 Degree Standard Observer", 10: "CIE 1964 10 Degree Standard Observer"}


def random_labs(count: int, seed: int) -> tuple[np.ndarray, np.ndarray]:
    """Pairs far apart and pairs close together."""
    r = np.random.default_rng(seed)
    one = r.uniform([0, -110, -110], [100, 110, 110], (count, 3))
    near = one[: count // 2] + r.normal(0, 1.5, (count // 2, 3))
    far = r.uniform([0, -110, -110], [100, 110, 110], (count - count // 2, 3))
    return one, np.concatenate([near, far])


def test_de00_meets_the_34_published_pairs() -> None:
    # Sharma, Wu and Dalal 2005, table 1
    pairs = np.loadtxt(REFERENCE / "ciede2000_pairs.csv", delimiter=",", comments=["#", "L1"])
    assert len(pairs) == 34
    np.testing.assert_allclose(de00(pairs[:, :3], pairs[:, 3:6]), pairs[:, 6], atol=1e-4)
    np.testing.assert_allclose(de00(pairs[:, 3:6], pairs[:, :3]), pairs[:, 6], atol=1e-4)


def test_de00_agrees_with_two_libraries_on_a_million_pairs() -> None:
    one, two = random_labs(1_000_000, seed=7)
    ours = de00(one, two)
    np.testing.assert_allclose(ours, colour.delta_E(one, two, method="CIE 2000"), atol=1e-9)
    np.testing.assert_allclose(ours, deltaE_ciede2000(one, two), atol=1e-9)


def test_de00_broadcasts_one_standard_over_many_trials() -> None:
    one, two = random_labs(50, seed=3)
    np.testing.assert_allclose(de00(one[0], two), [float(de00(one[0], t)) for t in two], rtol=1e-12)
    assert de00(one[:, None], two[None]).shape == (50, 50)


def test_de00_parts_add_up() -> None:
    one, two = random_labs(1000, seed=4)
    l, c, h, r = de00_parts(one, two)  # noqa: E741
    np.testing.assert_allclose(np.sqrt(l**2 + c**2 + h**2 + r * c * h), de00(one, two), atol=1e-9)


def test_de76_and_its_parts_agree_with_the_library_and_add_up() -> None:
    one, two = random_labs(1000, seed=5)
    delta = cielab_delta(one, two)
    np.testing.assert_allclose(delta.E, colour.delta_E(one, two, method="CIE 1976"), rtol=1e-12)
    np.testing.assert_allclose(delta.L**2 + delta.C**2 + delta.H**2, delta.E**2, rtol=1e-9, atol=1e-9)
    np.testing.assert_allclose(delta.C, lab_to_lch(two)[:, 1] - lab_to_lch(one)[:, 1], atol=1e-12)
    turn = (lab_to_lch(two)[:, 2] - lab_to_lch(one)[:, 2] + 180) % 360 - 180
    assert (np.sign(delta.H) == np.sign(turn)).all()


def test_hue_difference_of_opposite_and_of_neutral_colours_is_finite() -> None:
    delta = cielab_delta(
        np.array([[50, 10, 0], [50, 0, 0], [50, 0, 0.0]]), np.array([[50, -10, 0], [50, 0, 0], [50, 9, 0.0]])
    )
    np.testing.assert_allclose(np.abs(delta.H), [20, 0, 0], atol=1e-9)


def chart() -> dict[str, np.ndarray]:
    """The 24 chart spectra of colour-science on the house grid."""
    shape = colour.SpectralShape(400, 700, 10)
    return {name: sd.copy().align(shape) for name, sd in colour.SDS_COLOURCHECKERS["ISO 17321-1"].items()}


@pytest.mark.parametrize("observer", OBSERVERS)
@pytest.mark.parametrize("light", LIGHTS)
def test_xyz_agrees_with_astm_e308_of_colour_science(light: str, observer: int) -> None:
    spectra = chart()
    assert len(spectra) == 24
    cmfs = colour.MSDS_CMFS[OBSERVER_NAMES[observer]]
    source = colour.SDS_ILLUMINANTS[CIE_NAMES.get(light, light)]
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # it tells that it aligns the light with the observer
        theirs = np.stack([colour.sd_to_XYZ(sd, cmfs, source, method="ASTM E308") for sd in spectra.values()])
    ours = reflectance_to_xyz(np.stack([sd.values for sd in spectra.values()]), light, observer)
    np.testing.assert_allclose(ours, theirs, rtol=1e-6)


def test_white_points_are_those_of_the_standard() -> None:
    # ASTM E308 table of white points, D65 10 degrees: 94.81 100 107.32; A 2 degrees: 109.85 100 35.585 (from memory)
    np.testing.assert_allclose(white_point("D65", 10), [94.81, 100, 107.32], atol=0.02)
    np.testing.assert_allclose(white_point("A", 2), [109.85, 100, 35.585], atol=0.02)
    for light in LIGHTS:
        for observer in OBSERVERS:
            assert white_point(light, observer)[1] == pytest.approx(100, abs=1e-3)


def test_lab_agrees_with_colour_science_and_turns_back() -> None:
    xyz = reflectance_to_xyz(np.random.default_rng(1).uniform(0, 1, (200, 31)) ** 4, "D50", 2)
    white = white_point("D50", 2)
    xy = colour.XYZ_to_xy(white)
    np.testing.assert_allclose(
        xyz_to_lab(xyz, white / white[1] * 100), colour.XYZ_to_Lab(xyz / white[1], xy), atol=1e-3
    )
    np.testing.assert_allclose(lab_to_xyz(xyz_to_lab(xyz, white), white), xyz, rtol=1e-12)


def test_the_slope_of_lab_is_its_derivative() -> None:
    r = np.random.default_rng(2).uniform(0.001, 0.9, (5, 31))
    slope = reflectance_to_lab_slope(r, "F11", 10)
    step = 1e-6
    for i in (0, 7, 15, 30):
        moved = r.copy()
        moved[:, i] += step
        numeric = (reflectance_to_lab(moved, "F11", 10) - reflectance_to_lab(r, "F11", 10)) / step
        np.testing.assert_allclose(slope[:, :, i], numeric, rtol=1e-3, atol=1e-4)


def test_metamerism_is_that_of_the_observer_who_is_asked_for() -> None:
    """As its definition has it, written out for the 2° observer (CIE 15:2018, multiplicative correction)."""
    one = 0.2 + 0.3 * np.exp(-(((WAVELENGTHS_NM - 480) / 40) ** 2))
    two = one + 0.05 * np.sin(np.arange(31) / 2)
    xyz = {light: [weights(light, 2).T @ each for each in (one, two)] for light in ("D65", "A")}
    white = white_point("A", 2)
    corrected = xyz["A"][1] * xyz["D65"][0] / xyz["D65"][1]
    expected = float(de00(xyz_to_lab(xyz["A"][0], white), xyz_to_lab(corrected, white)))
    assert metamerism_index(one, two, "D65", "A", 2) == pytest.approx(expected, abs=1e-9)
    assert metamerism_index(one, two, "D65", "A") != pytest.approx(expected, abs=1e-3)


def test_metamerism_is_nothing_for_a_pair_that_differs_by_a_factor_and_something_for_a_metameric_one() -> None:
    one = np.linspace(0.2, 0.6, 31)
    assert metamerism_index(one, 0.9 * one, "D65", "A") == pytest.approx(0, abs=1e-9)
    # a spectrum moved along a direction that D65 can't see stays the same there and differs under A
    seen = weights("D65", 10)
    bump = np.exp(-(((WAVELENGTHS_NM - 560) / 25) ** 2))
    hidden = bump - seen @ np.linalg.lstsq(seen.T @ seen, seen.T @ bump, rcond=None)[0]
    two = one + 0.1 * hidden / np.abs(hidden).max()
    assert de00(reflectance_to_lab(one), reflectance_to_lab(two)) < 1e-6
    under_a = float(de00(reflectance_to_lab(one, "A"), reflectance_to_lab(two, "A")))
    assert metamerism_index(one, two, "D65", "A") == pytest.approx(under_a, rel=1e-6)
    assert under_a > 0.5


@settings(max_examples=200, derandomize=True, deadline=None)
@given(st.lists(st.floats(-200, 200), min_size=6, max_size=6))
def test_de00_is_finite_and_symmetric_for_any_colours(values: list[float]) -> None:
    one, two = np.array(values[:3]), np.array(values[3:])
    there, back = float(de00(one, two)), float(de00(two, one))
    assert np.isfinite(there)
    assert there >= 0
    assert there == pytest.approx(back, abs=1e-6)


def test_wrong_lights_observers_and_shapes_are_refused() -> None:
    with pytest.raises(InputError, match="not a light known here"):
        weights("D99")
    with pytest.raises(InputError, match="observer"):
        weights("D65", 5)
    with pytest.raises(ValueError, match="31 values"):
        reflectance_to_xyz(np.ones(30))
    assert np.array_equal(weights("d65"), weights("D65"))
    assert np.array_equal(weights("led-b3"), weights("LED-B3"))


def test_screen_colours_are_those_of_srgb() -> None:
    # IEC 61966-2-1: white, black, and mid grey of L* 53.39 = #808080
    assert lab_to_hex([100, 0, 0]) == "#ffffff"
    assert lab_to_hex([0, 0, 0]) == "#000000"
    assert lab_to_hex([53.585, 0, 0]) == "#808080"
