"""A cream isn't a white: the indices of ASTM E313, and what is said of near-whites."""

from __future__ import annotations

import colour
import numpy as np
import pytest
from colour.colorimetry import YELLOWNESS_COEFFICIENTS_ASTME313, yellowness_ASTME313

from finishmatch.colour.cielab import lab_to_xyz
from finishmatch.colour.off_white import (
    WHITE_XY,
    YELLOWNESS,
    munsell_chroma,
    off_white,
    whiteness_e313,
    whiteness_holds,
    yellowness_e313,
    yellowness_holds,
)
from finishmatch.colour.tristimulus import white_point
from finishmatch.errors import InputError

OBSERVERS = {2: "CIE 1931 2 Degree Standard Observer", 10: "CIE 1964 10 Degree Standard Observer"}
each_condition = pytest.mark.parametrize(("light", "observer"), list(YELLOWNESS))


def test_the_conditions_and_their_whites_are_those_of_the_standard() -> None:
    """Outside truth: the conditions of ASTM E313 and the chromaticities of the lights, by colour-science."""
    known = {
        (light, observer): colour.CCS_ILLUMINANTS[name][light]
        for observer, name in OBSERVERS.items()
        for light in YELLOWNESS_COEFFICIENTS_ASTME313[name]
    }
    assert set(YELLOWNESS) == set(WHITE_XY) == set(known)
    for condition, white in known.items():
        np.testing.assert_allclose(WHITE_XY[condition], white, atol=1e-4)


def near_whites() -> np.ndarray:
    """XYZ of near-whites, a little off the diffuser."""
    return np.random.default_rng(7).uniform([70, 75, 70], [95, 100, 108], (200, 3))


@each_condition
def test_yellowness_is_that_of_colour_science(light: str, observer: int) -> None:
    """Outside truth: colour-science's ASTM E313, with its own table of coefficients."""
    known = yellowness_ASTME313(near_whites(), C_XZ=YELLOWNESS_COEFFICIENTS_ASTME313[OBSERVERS[observer]][light])
    np.testing.assert_allclose(yellowness_e313(near_whites(), light, observer), known, atol=1e-9)


@each_condition
def test_whiteness_and_tint_are_those_of_colour_science(light: str, observer: int) -> None:
    """Outside truth: colour-science's CIE whiteness, whose formula ASTM E313 has taken over."""
    xyz = near_whites()
    known = colour.colorimetry.whiteness_CIE2004(
        colour.XYZ_to_xy(xyz), xyz[:, 1], WHITE_XY[light, observer], observer=OBSERVERS[observer]
    )
    np.testing.assert_allclose(np.stack(whiteness_e313(xyz, light, observer), axis=-1), known, atol=1e-9)


def test_the_perfect_diffuser_is_white_by_every_index() -> None:
    white = colour.xy_to_XYZ(colour.CCS_ILLUMINANTS[OBSERVERS[10]]["D65"]) * 100
    whiteness, tint = whiteness_e313(white)
    assert yellowness_e313(white) == pytest.approx(0, abs=0.05)
    assert whiteness == pytest.approx(100, abs=0.05)
    assert tint == pytest.approx(0, abs=0.05)


def test_a_cream_is_told_from_a_white() -> None:
    """Thresholds are «common practice»: a cream from a yellowness of 12."""
    clean, cream = off_white(np.array([96.0, 0.0, 1.2])), off_white(np.array([90.0, 0.5, 9.0]))
    assert clean is not None
    assert not clean.cream
    assert clean.yellowness is not None
    assert clean.yellowness < 5
    assert clean.tint_word == ""
    assert cream is not None
    assert cream.cream
    assert cream.tint_word == "yellow"
    assert cream.hue_degrees == pytest.approx(86.8, abs=0.1)
    bluish = off_white(np.array([93.0, -1.0, -4.0]))
    assert bluish is not None
    assert not bluish.cream
    assert bluish.tint_word == "bluish"
    assert bluish.yellowness is None  # a yellowness is no measure of a blue


def test_a_colour_that_nobody_calls_white_has_no_indices() -> None:
    assert off_white(np.array([60.0, 0, 0])) is None
    assert off_white(np.array([90.0, 0, 40])) is None


def test_other_lights_are_refused() -> None:
    with pytest.raises(InputError, match="not defined there"):
        yellowness_e313(np.array([90.0, 95, 90]), "A", 10)


def test_a_pink_is_no_cream_and_what_has_no_meaning_is_not_given() -> None:
    """ASTM E313-20, 5.2: yellowness for dominant wavelengths of 570 to 580 nm alone, whiteness for near-whites."""
    pink = off_white(np.array([90.0, 10.0, 3.0]))
    assert pink is not None
    assert not pink.cream
    assert pink.tint_word == "pinkish"
    assert (pink.yellowness, pink.whiteness, pink.tint) == (None, None, None)
    cream = off_white(np.array([90.0, 0.5, 9.0]))
    assert cream is not None
    assert cream.yellowness is not None
    assert cream.whiteness is None  # Munsell chroma 1.2 of a yellow
    white = off_white(np.array([95.0, 0.0, 3.0]))
    assert white is not None
    assert white.whiteness is not None


@pytest.mark.parametrize("observer", [2, 10])
def test_yellowness_is_given_where_the_dominant_wavelength_is_570_to_580_nm(observer: int) -> None:
    """Outside truth: dominant wavelengths by colour-science; ASTM E313-20, 5.2."""
    white = colour.CCS_ILLUMINANTS[OBSERVERS[observer]]["D65"]
    cmfs = colour.MSDS_CMFS[OBSERVERS[observer]]
    for hue in range(0, 360, 5):
        lab = np.array([88.0, 8 * np.cos(np.radians(hue)), 8 * np.sin(np.radians(hue))])
        xyz = lab_to_xyz(lab, white_point("D65", observer))
        nm = float(colour.dominant_wavelength(colour.XYZ_to_xy(xyz), white, cmfs)[0])
        if min(abs(nm - 570), abs(nm - 580)) < 0.5:
            continue  # at the very edge
        assert yellowness_holds(xyz, observer) == (570 <= nm <= 580), (hue, nm)


@pytest.mark.parametrize("hue", ["5R", "5YR", "5Y", "10Y", "5G", "5BG", "5B", "10B", "5PB", "5P"])
def test_munsell_chroma_is_that_of_the_renotation(hue: str) -> None:
    """Outside truth: the Munsell renotation by colour-science, at value 9, under C, 2°."""
    light = colour.CCS_ILLUMINANTS[OBSERVERS[2]]["C"]
    lab = colour.XYZ_to_Lab(colour.xyY_to_XYZ(colour.munsell_colour_to_xyY(f"{hue} 9.0/1.0")), light)
    _, chroma, angle = colour.models.Lab_to_LCHab(lab)
    assert munsell_chroma(float(chroma), float(angle)) == pytest.approx(1, abs=0.03)


@pytest.mark.parametrize(
    ("hue", "chroma", "value", "holds"),
    [
        ("5B", 0.45, 9, True),
        ("5B", 0.55, 9, False),
        ("5Y", 0.75, 9, True),
        ("5Y", 0.85, 9, False),
        ("5R", 0.27, 9, True),
        ("5R", 0.35, 9, False),
        ("5G", 0.35, 9, False),
        ("5P", 0.35, 9, False),
        ("5Y", 0.5, 8, False),
    ],
)
def test_whiteness_is_given_for_near_whites_alone(hue: str, chroma: float, value: float, holds: bool) -> None:
    """ASTM E313-20, 5.2: Munsell chroma at most 0.5 (B), 0.8 (Y), 0.3 (others), Y over 65; hues by colour-science."""
    light = colour.CCS_ILLUMINANTS[OBSERVERS[2]]["C"]
    xyz = colour.xyY_to_XYZ(colour.munsell_colour_to_xyY(f"{hue} {value:.1f}/{chroma}"))
    assert whiteness_holds(colour.XYZ_to_Lab(xyz, light), 100 * xyz[1]) == holds
