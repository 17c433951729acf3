"""ΔE00 made linear: the metric at a colour, and the slope where two colours differ."""

from __future__ import annotations

import numpy as np
import pytest

from finishmatch.colour import (
    de00,
    de00_metric,
    de00_vectors,
    de00_vectors_and_slope,
    reflectance_to_lab_slope,
    reflectance_to_xyz,
    weights,
    white_point,
    xyz_to_lab_slope,
)


def test_the_metric_is_de00_of_small_differences() -> None:
    r = np.random.default_rng(1)
    lab = np.column_stack([r.uniform(5, 95, 200), r.uniform(-60, 60, (200, 2))])
    step = r.normal(0, 0.02, (200, 3))
    length = np.linalg.norm(np.einsum("nij,nj->ni", de00_metric(lab), step), axis=1)
    np.testing.assert_allclose(length, de00(lab - step / 2, lab + step / 2), rtol=0.02, atol=2e-4)


@pytest.mark.parametrize("direction", [(1, 0, 0), (0, 1, 0), (0, 0, 1), (0, 1, -1), (0.5, -0.3, 0.4)])
def test_a_neutral_has_a_metric_in_every_direction(direction: tuple[float, float, float]) -> None:
    grey, step = np.array([50.0, 0.0, 0.0]), 1e-4 * np.array(direction)
    assert np.linalg.norm(de00_metric(grey) @ step) == pytest.approx(float(de00(grey, grey + step)), rel=1e-4)


def test_the_slope_is_the_metric_where_the_colours_are_one() -> None:
    r = np.random.default_rng(2)
    lab = np.column_stack([r.uniform(5, 95, 200), r.uniform(5, 60, (200, 2)) * r.choice([-1, 1], (200, 2))])
    vectors, slope = de00_vectors_and_slope(lab, lab)
    np.testing.assert_allclose(vectors, 0, atol=1e-12)
    np.testing.assert_allclose(slope, de00_metric(lab), atol=1e-4)


def test_the_slope_is_that_of_the_vectors() -> None:
    r = np.random.default_rng(3)
    one = np.column_stack([r.uniform(20, 80, 100), r.uniform(-40, 40, (100, 2))])
    two = one + r.normal(0, 2, (100, 3))
    vectors, slope = de00_vectors_and_slope(one, two)
    np.testing.assert_allclose(vectors, de00_vectors(one, two))
    step = r.normal(0, 1e-3, (100, 3))
    moved = np.einsum("nij,nj->ni", slope, step)
    np.testing.assert_allclose(de00_vectors(one, two + step) - vectors, moved, atol=2e-5)


def test_the_slope_of_lab_with_a_spectrum_is_that_with_xyz() -> None:
    spectra = np.random.default_rng(4).uniform(0, 0.9, (20, 31)) ** 3
    per_xyz = xyz_to_lab_slope(reflectance_to_xyz(spectra, "A", 2), white_point("A", 2))
    np.testing.assert_allclose(per_xyz @ weights("A", 2).T, reflectance_to_lab_slope(spectra, "A", 2), rtol=1e-12)
