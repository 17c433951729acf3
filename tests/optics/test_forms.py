"""The closed forms of surface and film against published and worked values, and against radiative transfer."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import nnls

from booth.kubelka_munk import film_over_ground, hiding_reflectance, k_over_s, layer, measured
from booth.virtual_booth import bare_ground_reading, layer_reflectance
from finishmatch.errors import InputError
from finishmatch.optics import (
    Surface,
    fresnel_diffuse,
    fresnel_diffuse_internal,
    fresnel_normal,
    ground_in_contact,
    internal,
)
from finishmatch.optics.beam import (
    film_reading,
    film_reading_slopes,
    hiding_k_over_s,
    hiding_reading,
    hiding_reading_slope,
)
from finishmatch.optics.nonnegative import nonnegative_least_squares
from finishmatch.optics.surface import specular_included

GLOSS = Surface(0.04, 0.575, True, 0.39)


def test_opaque_kubelka_munk_meets_the_closed_form() -> None:
    # Kubelka and Munk 1931
    np.testing.assert_allclose(hiding_reflectance([0.01, 0.1, 1, 10]), [0.86823, 0.64174, 0.26795, 0.04555], atol=5e-6)
    q = np.geomspace(1e-6, 1e3, 50)
    np.testing.assert_allclose(k_over_s(hiding_reflectance(q)), q, rtol=1e-6)


def test_the_surface_meets_fresnel_and_saunderson() -> None:
    # index 1.5: k1 0.0400 at the normal and 0.0918 for diffuse light, k2 0.5963 (Fresnel; Saunderson 1942; ISO 18314-2)
    assert fresnel_normal(1.5) == pytest.approx(0.04)
    assert fresnel_diffuse(1.5) == pytest.approx(0.0918, abs=5e-5)
    assert fresnel_diffuse_internal(1.5) == pytest.approx(0.5963, abs=5e-5)
    # worked by hand: k1 0.04, k2 0.5, Ri 0.5: 0.04 + 0.96·0.5·0.5/(1 - 0.25) = 0.36; without the specular part 0.32
    assert measured(0.5, Surface(0.04, 0.5, True)) == pytest.approx(0.36)
    assert measured(0.5, Surface(0.04, 0.5, False)) == pytest.approx(0.32)
    inner = np.linspace(0, 1, 21)
    for surface in (GLOSS, Surface(0.04, 0.5, False)):
        np.testing.assert_allclose(internal(measured(inner, surface), surface), inner, atol=1e-12)
    assert (specular_included("di8"), specular_included("de8"), specular_included("45/0")) == (True, False, False)
    with pytest.raises(InputError, match="geometry"):
        specular_included("d0")


def test_a_bare_ground_is_brought_into_contact() -> None:
    ground = np.array([0.012, 0.3, 0.92])
    for specular in (True, False):
        # the reading by adding-doubling (iadpython), independent of the product's optics
        read = bare_ground_reading(ground, specular_included=specular)
        np.testing.assert_allclose(ground_in_contact(read, 1.5, specular), ground, atol=2e-4)


@settings(max_examples=100, derandomize=True, deadline=None)
@given(st.floats(1e-4, 5), st.floats(1e-3, 2), st.floats(0.1, 200), st.floats(0, 1))
def test_two_layers_of_a_film_are_one_of_their_thickness(K: float, S: float, build: float, ground: float) -> None:
    # Kubelka 1948: layers add
    once = film_over_ground(K, S, build, ground)
    twice = film_over_ground(K, S, build / 2, film_over_ground(K, S, build / 2, ground))
    assert once == pytest.approx(float(twice), abs=1e-9)
    r, t = layer(K, S, build)
    assert 0 <= r <= 1
    assert 0 <= t <= 1
    assert r + t <= 1 + 1e-9


def test_films_end_where_they_must() -> None:
    ground = np.array([0.05, 0.5, 0.9])
    np.testing.assert_allclose(film_over_ground(0.1, 0.2, 1e-9, ground), ground, atol=1e-6)  # no film: the ground
    np.testing.assert_allclose(film_over_ground(0.1, 0.2, 1e4, ground), hiding_reflectance(0.5), atol=1e-12)
    np.testing.assert_allclose(film_reading(0.1, 0.2, 1e4, ground, GLOSS), hiding_reading(0.5, GLOSS), atol=1e-12)
    assert film_reading(0.0, 0.2, 1e6, 0.0, GLOSS) == pytest.approx(1.0, abs=1e-3)  # nothing absorbs
    assert film_reading(5.0, 1e-9, 100, 0.5, GLOSS) == pytest.approx(0.04, abs=1e-6)  # nothing scatters


def test_the_beam_model_follows_radiative_transfer_where_plain_kubelka_munk_does_not() -> None:
    # adding-doubling at index 1.5, isotropic scattering: absorption over scattering 1e-3 to 10, hiding
    ratio = np.geomspace(1e-3, 10, 30)
    true = layer_reflectance(1 / (1 + ratio), np.full(30, np.inf), np.zeros(30))
    best_beam = min(
        np.abs(np.cbrt(hiding_reading(scale * ratio, Surface(0.04, k2, True, back))) - np.cbrt(true)).max()
        for scale in np.linspace(2.0, 3.4, 29)
        for k2 in np.linspace(0.4, 0.6, 11)
        for back in np.linspace(0.3, 0.6, 7)
    )
    best_plain = min(
        np.abs(np.cbrt(measured(hiding_reflectance(scale * ratio), Surface(0.04, k2))) - np.cbrt(true)).max()
        for scale in np.linspace(2.0, 3.4, 29)
        for k2 in np.linspace(0.4, 0.6, 11)
    )
    assert best_beam * 116 < 0.2  # in L*
    assert best_plain > 2 * best_beam


def test_k_over_s_of_a_reading_is_found_again() -> None:
    q = np.geomspace(1e-7, 5e3, 60)
    np.testing.assert_allclose(hiding_k_over_s(hiding_reading(q, GLOSS), GLOSS), q, rtol=1e-9)
    bright, dark = hiding_k_over_s(np.array([1.1, 0.01]), GLOSS)
    assert bright == 0
    assert np.isfinite(dark)


def test_slopes_are_derivatives_even_where_beam_and_flux_decay_alike() -> None:
    q = np.geomspace(1e-4, 100, 40)
    h = 1e-6
    numeric = (hiding_reading(q * (1 + h), GLOSS) - hiding_reading(q * (1 - h), GLOSS)) / (2 * h * q)
    np.testing.assert_allclose(hiding_reading_slope(q, GLOSS), numeric, rtol=1e-5)
    # extinction and decay are alike near K/S 2: the formulae's removable 0/0 lies there
    K, S = np.linspace(1.5, 2.5, 2001), np.ones(2001)
    reading, by_k, by_s = film_reading_slopes(K, S, 0.7, 0.5, GLOSS)
    assert (np.diff(reading) < 0).all()
    np.testing.assert_allclose(by_k[1:-1], (reading[2:] - reading[:-2]) / (K[2:] - K[:-2]), rtol=1e-4)
    moved = film_reading(K, S * (1 + h), 0.7, 0.5, GLOSS)
    np.testing.assert_allclose(by_s, (moved - reading) / h, rtol=1e-3, atol=1e-6)


def test_nonnegative_least_squares_agrees_with_scipy() -> None:
    r = np.random.default_rng(8)
    rows, goal = r.normal(size=(20, 30, 12)), r.normal(size=(20, 30))
    ours = nonnegative_least_squares(rows, goal)
    np.testing.assert_allclose(ours, [nnls(a, b)[0] for a, b in zip(rows, goal, strict=True)], atol=1e-8)
