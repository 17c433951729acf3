"""A cream isn't a white: the indices of ASTM E313, and what is said of near-whites."""

from __future__ import annotations

import colour
import numpy as np
import pytest
from colour.colorimetry import YELLOWNESS_COEFFICIENTS_ASTME313, yellowness_ASTME313

from finishmatch.colour.off_white import WHITE_XY, YELLOWNESS, off_white, whiteness_e313, yellowness_e313
from finishmatch.errors import InputError

OBSERVERS = {2: "CIE 1931 2 Degree Standard Observer", 10: "CIE 1964 10 Degree Standard Observer"}
each_condition = pytest.mark.parametrize(("light", "observer"), list(YELLOWNESS))


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
    white = colour.xy_to_XYZ(WHITE_XY["D65", 10]) * 100
    whiteness, tint = whiteness_e313(white)
    assert yellowness_e313(white) == pytest.approx(0, abs=0.05)
    assert whiteness == pytest.approx(100, abs=1e-9)
    assert tint == pytest.approx(0, abs=1e-9)


def test_a_cream_is_told_from_a_white() -> None:
    """Thresholds are «common practice»: a cream from a yellowness of 12."""
    clean, cream = off_white(np.array([96.0, -0.6, 1.2])), off_white(np.array([90.0, 0.5, 9.0]))
    assert clean is not None
    assert not clean.cream
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
    assert bluish.yellowness < 0


def test_a_colour_that_nobody_calls_white_has_no_indices() -> None:
    assert off_white(np.array([60.0, 0, 0])) is None
    assert off_white(np.array([90.0, 0, 40])) is None


def test_other_lights_are_refused() -> None:
    with pytest.raises(InputError, match="not defined there"):
        yellowness_e313(np.array([90.0, 95, 90]), "A", 10)
