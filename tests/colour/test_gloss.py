"""Gloss adds the same light to every wavelength: held against spectra with that light in them."""

from __future__ import annotations

import numpy as np
import pytest

from finishmatch.colour import reflectance_to_lab
from finishmatch.colour.gloss import covariance_through, lab_with_gloss, lab_without_gloss

GLOSS = 0.04  # Fresnel, index 1.5
SPECTRA = np.random.default_rng(4).uniform(0.002, 0.8, (20, 31))


@pytest.mark.parametrize(("light", "observer"), [("D65", 10), ("A", 2)])
def test_gloss_is_the_same_light_at_every_wavelength(light: str, observer: int) -> None:
    bare, glossy = (reflectance_to_lab(spectra, light, observer) for spectra in (SPECTRA, SPECTRA + GLOSS))
    np.testing.assert_allclose(lab_with_gloss(bare, GLOSS, light, observer), glossy, atol=1e-9)
    np.testing.assert_allclose(lab_without_gloss(glossy, GLOSS, light, observer), bare, atol=1e-9)


def test_nothing_is_darker_than_black_without_its_gloss() -> None:
    blackest = lab_without_gloss(np.zeros(3), GLOSS, "D65", 10)
    np.testing.assert_allclose(blackest, [0.0903, 0, 0], atol=1e-3)  # 903.3·Y/Yn, CIE 15


def test_a_covariance_follows_as_a_cloud_does() -> None:
    lab, sd = np.array([25.0, 6.0, -8.0]), np.diag([0.2, 0.1, 0.3])
    found, twice = covariance_through(lambda one: lab_with_gloss(one, GLOSS, "D65", 10), lab, sd @ sd, 2 * sd @ sd)
    cloud = lab_with_gloss(lab + np.random.default_rng(1).standard_normal((40_000, 3)) @ sd, GLOSS, "D65", 10)
    np.testing.assert_allclose(found, np.cov(cloud.T), atol=0.02 * np.trace(found))
    np.testing.assert_allclose(twice, 2 * found)
