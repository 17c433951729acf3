"""Colour inconstancy, and metamerism over many lights."""

from __future__ import annotations

import colour
import numpy as np
import pytest

from finishmatch.colour import LIGHTS, reflectance_to_xyz, white_point
from finishmatch.colour.inconstancy import _CAT02, colour_inconstancy, in_every_light


def test_a_white_is_constant_and_a_blue_is_not() -> None:
    for light in LIGHTS:
        assert colour_inconstancy(np.full(31, 0.8), "D65", light) == pytest.approx(0, abs=1e-6)
    blue = 0.05 + 0.5 * np.exp(-(((np.arange(31) - 5) / 5) ** 2))
    assert colour_inconstancy(blue, "D65", "A") > 2
    assert colour_inconstancy(blue, "D65", "D65") == pytest.approx(0, abs=1e-9)


def test_the_adaptation_is_that_of_colour_science() -> None:
    r = np.random.default_rng(3).uniform(0.05, 0.9, (6, 31))
    old, new = white_point("A", 10), white_point("D65", 10)
    matrix = colour.adaptation.matrix_chromatic_adaptation_VonKries(old, new, transform="CAT02")
    xyz = reflectance_to_xyz(r, "A", 10)
    ours = np.linalg.solve(_CAT02, ((_CAT02 @ new) / (_CAT02 @ old))[:, None] * (_CAT02 @ xyz.T)).T
    np.testing.assert_allclose(ours, xyz @ matrix.T, rtol=1e-6)


def test_a_pair_that_is_one_is_alike_in_every_light() -> None:
    spectrum = np.linspace(0.2, 0.6, 31)
    rows = in_every_light(spectrum, spectrum)
    assert [row.light for row in rows] == list(LIGHTS)
    assert max(max(row.de00, row.metamerism) for row in rows) < 1e-9
    assert all(row.target_inconstancy == row.recipe_inconstancy for row in rows)
