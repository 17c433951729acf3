"""Mixtures, strengths of tins, surfaces and geometries by hand, and each slope against small steps."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from scipy.optimize import approx_fprime

from finishmatch.errors import InputError
from finishmatch.optics import predicted_reflectance
from finishmatch.optics.geometry import INDEX_SD, RATIO_SD, convert_geometry, fresnel, full_gloss_60
from finishmatch.optics.mixture import Backing, film_series, mixture_slope, strength_slope
from finishmatch.optics.strength import (
    PRIOR_SD,
    StrengthEvidence,
    StrengthPrior,
    Strengths,
    lot_spread,
    strength_evidence,
)
from finishmatch.optics.surface import ground_in_contact, internal, specular_included, usual_surface
from tests.helpers.plain_paints import PAINTS, grams

SURFACE = usual_surface(1.5, "di8")
GREY = np.full(31, 0.5)


def test_slopes_of_mixtures_are_those_of_small_steps() -> None:
    for optics in (PAINTS, PAINTS.over(Backing("grey", 20.0, GREY))):
        amounts = np.array([30.0, 4.0, 3.0, 0.5])
        reading, slope = mixture_slope(amounts, optics.K, optics.S, optics.surface, optics.backing)
        per_gram = amounts / optics.dry_ml_per_g
        np.testing.assert_allclose(reading, predicted_reflectance(optics, per_gram))
        by_step = approx_fprime(amounts, lambda a, o=optics: predicted_reflectance(o, a / o.dry_ml_per_g), 1e-6)
        np.testing.assert_allclose(slope.T, by_step, atol=1e-5)
        again, by_strength = strength_slope(amounts, optics)
        np.testing.assert_allclose(again, reading)
        logs = approx_fprime(
            np.zeros(4), lambda x, o=optics, g=per_gram: predicted_reflectance(o.strengthened(np.exp(x)), g), 1e-7
        )
        np.testing.assert_allclose(by_strength.T, logs, atol=1e-5)


def test_a_series_of_films_is_each_film() -> None:
    weights, grounds = grams(white=10, blue=2), np.stack([GREY, GREY / 5])
    found = film_series(PAINTS, weights, np.array([10.0, 40.0]), grounds)
    assert found.shape == (2, 2, 31)
    for i, ground in enumerate(grounds):
        for j, build in enumerate((10.0, 40.0)):
            one = predicted_reflectance(PAINTS.over(Backing("", build, ground)), weights)
            np.testing.assert_allclose(found[i, j], one, atol=1e-12)
    with pytest.raises(ValueError, match="K and S are not known per µm"):
        replace(PAINTS, per_um=False).over(Backing("", 10.0, GREY))
    assert replace(PAINTS, per_um=False).over(None).backing is None


def test_chosen_and_strengthened_optics_keep_their_draws() -> None:
    draws = np.stack([np.stack([PAINTS.K, PAINTS.S]), np.stack([2 * PAINTS.K, PAINTS.S])])
    known = replace(PAINTS, draws=draws, dispersal_sd=0.03, neighbour_sd=0.04)
    assert known.amount_sd == pytest.approx(0.05)
    some = known.chosen(["red", "white"])
    np.testing.assert_allclose(some.draws, draws[:, :, [2, 0]])
    np.testing.assert_allclose(some.dry_ml_per_g, PAINTS.dry_ml_per_g[[2, 0]])
    strong = known.strengthened(np.array([1.0, 2.0, 1.0, 0.5]))
    np.testing.assert_allclose(strong.K[1], 2 * PAINTS.K[1])
    np.testing.assert_allclose(strong.S[3], 0.5 * PAINTS.S[3])
    np.testing.assert_allclose(strong.draws[1, :, 1], 2 * draws[1, :, 1])
    with pytest.raises(ValueError, match="not in tuple"):
        known.index("tar")


def test_beliefs_of_tins_stand_side_by_side_and_are_stirred() -> None:
    one = StrengthPrior(("a", "b"), np.array([0.1, 0.2]), np.array([[0.04, 0.01], [0.01, 0.09]]), 0.2)
    other = StrengthPrior(("c",), np.array([-0.1]), np.array([[0.01]]))
    both = one.beside(other)
    assert (both.names, both.spread) == (("a", "b", "c"), 0.2)
    np.testing.assert_allclose(both.log_mean, [0.1, 0.2, -0.1])
    np.testing.assert_allclose(both.log_covariance, [[0.04, 0.01, 0], [0.01, 0.09, 0], [0, 0, 0.01]])
    np.testing.assert_allclose(both.factors, np.exp([0.1, 0.2, -0.1]))
    np.testing.assert_allclose(both.sd, [0.2, 0.3, 0.1])
    np.testing.assert_allclose(one.stirred_in(0.3).log_covariance, [[0.13, 0.01], [0.01, 0.18]])
    some = one.chosen(["x", "b"])
    np.testing.assert_allclose(some.log_covariance, [[0.04, 0], [0, 0.09]])
    np.testing.assert_allclose(some.log_mean, [0, 0.2])
    white = StrengthPrior(("white",), np.array([np.log(2.0)]), np.eye(1))
    np.testing.assert_allclose(white.strengthened(PAINTS).K[0], 2 * PAINTS.K[0])
    np.testing.assert_allclose(white.strengthened(PAINTS).K[1], PAINTS.K[1])


def test_a_card_tells_what_it_adds_and_is_told_of_new_tins_too() -> None:
    prior = StrengthPrior(("a",), np.array([0.0]), np.array([[0.04]]), 0.3)
    card = StrengthEvidence(("b", "a"), np.diag([100.0, 25.0]), np.array([20.0, 5.0]))
    after = prior.given(card)
    assert after.names == ("a", "b")
    assert after.spread == 0.3
    np.testing.assert_allclose(after.log_mean, [5 / (25 + 25), 20 / (100 + 1 / 0.09)])
    np.testing.assert_allclose(after.sd, [(25 + 25) ** -0.5, (100 + 1 / 0.09) ** -0.5])
    np.testing.assert_allclose(prior.given(card, card).sd[0], (25 + 50) ** -0.5)
    found = Strengths(np.exp(np.array([0.1])), np.array([[0.02]]))
    told = strength_evidence(("a",), np.array([10.0]), found, prior)
    np.testing.assert_allclose(told.precision, [[50 - 25]])
    np.testing.assert_allclose(told.information, [5.0])
    poured = strength_evidence(("a",), np.array([10.0]), found, prior, 1.0, 0.2)
    wider = 1 + 25 * (0.1**2 + 0.2**2)
    np.testing.assert_allclose(poured.precision, [[25 / wider]])
    np.testing.assert_allclose(poured.information, [5 / wider])


def test_the_spread_of_lots_needs_three_cards() -> None:
    cards = [
        StrengthEvidence((f"t{i}",), np.array([[1e4]]), np.array([1e4 * x])) for i, x in enumerate((0.4, -0.4, 0.4))
    ]
    assert lot_spread(cards[:2]) == PRIOR_SD
    assert lot_spread(cards) > 1.2 * PRIOR_SD
    still = [replace(card, information=np.zeros(1)) for card in cards]
    assert lot_spread(still) < PRIOR_SD


def test_the_surface_is_that_of_its_index_and_its_geometry() -> None:
    assert (SURFACE.k1, SURFACE.k2, SURFACE.specular) == (pytest.approx(0.04), 0.575, True)
    assert [specular_included(geometry) for geometry in ("di8", "de8", "45/0")] == [True, False, False]
    with pytest.raises(InputError) as caught:
        specular_included("d8")
    assert str(caught.value).startswith("geometry 'd8': is not known; use one of ")
    assert float(internal(np.array(0.5), SURFACE)) == pytest.approx(0.46 / (0.96 * 0.425 + 0.575 * 0.46))
    assert float(internal(np.array(0.46), replace(SURFACE, specular=False))) == pytest.approx(
        float(internal(np.array(0.5), SURFACE))
    )
    assert ground_in_contact(np.array([0.0, 1.5]), 1.5, True).tolist() == [0.0, 1.0]


def test_fresnel_at_the_ends_and_at_the_polarising_angle() -> None:
    assert fresnel(1.5, 0.0) == pytest.approx(0.04)
    assert fresnel(1.5, 90.0) == pytest.approx(1.0)
    brewster = np.degrees(np.arctan(1.5))
    inside = np.degrees(np.arcsin(np.sin(np.radians(brewster)) / 1.5))
    assert fresnel(1.5, brewster) == pytest.approx(np.sin(np.radians(brewster - inside)) ** 2 / 2)
    assert full_gloss_60(1.567) == pytest.approx(100)
    assert full_gloss_60(1.5) == pytest.approx(100 * fresnel(1.5, 60) / fresnel(1.567, 60))


def test_a_reading_turned_into_another_geometry_and_back_is_itself() -> None:
    r = np.linspace(0.1, 0.9, 31)
    for was, wanted in (("di8", "45/0"), ("di8", "de8"), ("45/0", "de8")):
        there, sd = convert_geometry(r, was, wanted, 1.5, 60.0)
        back, _ = convert_geometry(there, wanted, was, 1.5, 60.0)
        np.testing.assert_allclose(back, r, atol=1e-12)
        assert (sd > 0).all()
    same, none = convert_geometry(r, "de8", "de8", 1.5, 90.0)
    np.testing.assert_array_equal(same, r)
    np.testing.assert_array_equal(none, 0)
    # of a mirror-smooth film the trap takes all of the first reflection, and nothing strays to 45/0
    smooth, sd = convert_geometry(r, "di8", "de8", 1.5, 200.0)
    first = fresnel(1.5, 8.0)
    np.testing.assert_allclose(smooth, r - first, atol=1e-12)
    by_index = fresnel(1.5 + INDEX_SD, 8.0) - first
    np.testing.assert_allclose(sd, by_index, rtol=1e-6)
    crossed, sd45 = convert_geometry(r, "di8", "45/0", 1.5, 200.0)
    ratio = crossed / (r - first)
    np.testing.assert_allclose(ratio, ratio[0])
    assert 0.95 < ratio[0] < 1.1
    higher = convert_geometry(r, "di8", "45/0", 1.5 + INDEX_SD, 200.0)[0] - crossed
    np.testing.assert_allclose(sd45, np.hypot(RATIO_SD * (r - first), higher), rtol=1e-6)
    # a less smooth one leaves some in doubt
    assert convert_geometry(r, "di8", "de8", 1.5, 60.0)[1].min() > 2 * sd.max()
    dark, _ = convert_geometry(np.zeros(31), "di8", "45/0", 1.5, 200.0)
    assert (dark == 0).all()


@pytest.mark.parametrize(
    ("given", "told"),
    [
        (("d8", "di8", 1.5, 90.0), "geometry 'd8': can't be converted; use one of "),
        (("di8", "d8", 1.5, 90.0), "geometry 'd8': can't be converted; use one of "),
        (("di8", "de8", 1.29, 90.0), "`binder_index`: 1.29 is not the index of a binder; it lies between 1.3 "
                                     "and 1.8; most "
         "are 1.5"),
        (("di8", "de8", 1.81, 90.0), "`binder_index`: 1.81 is not the index of a binder; it lies between 1.3 "
                                     "and 1.8; most "
         "are 1.5"),
        (("di8", "de8", 1.5, 0.0), "`gloss`: 0 is not the gloss of a paint; give gloss units at 60°, 0 to 100"),
        (("di8", "de8", 1.5, 201.0), "`gloss`: 201 is not the gloss of a paint; give gloss units at 60°, 0 to 100"),
        (("di8", "de8", 1.5, 39.9), "`gloss`: at 39.9 the film is too matt to convert; read both the same way"),
    ],
)  # fmt: skip
def test_what_cant_be_converted_is_told(given: tuple[str, str, float, float], told: str) -> None:
    with pytest.raises(InputError) as caught:
        convert_geometry(GREY, *given)
    assert str(caught.value).startswith(told)
    assert convert_geometry(GREY, "di8", "de8", 1.3, 40.0)[0].shape == (31,)
    assert convert_geometry(GREY, "di8", "de8", 1.8, 200.0)[0].shape == (31,)
