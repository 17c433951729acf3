"""What the theory leaves of a film that is foretold, over a ground that is seen through it or not."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from booth.banks import booth_bank, tint_specs
from finishmatch.colour import Floats
from finishmatch.mix.expected_difference import within_95
from finishmatch.optics import Backing, Bank, TintOptics, fit_bank, predicted_reflectance
from finishmatch.optics.panel_model import film_theory_sd, theory_sd
from finishmatch.optics.panel_set import MODEL_SHARE, panel_set

Fitted = tuple[TintOptics, Bank]
GREY = np.full(31, 0.4)
GRAMS = np.array([1.0, 0.0, 0.05, 0.0])  # a cream, which a thin film of lets the ground be seen through


@pytest.fixture(scope="module")
def fitted() -> Fitted:
    bank = booth_bank(tint_specs(4, 4), thin=True, seed=4)
    return fit_bank(bank).optics, bank


def _over(optics: TintOptics, build_um: float) -> tuple[TintOptics, Floats]:
    film = optics.over(Backing("card", build_um, GREY))
    return film, predicted_reflectance(film, GRAMS)


def test_what_is_left_grows_with_what_is_seen_of_the_ground(fitted: Fitted) -> None:
    optics, _ = fitted
    left = []
    for build in (15.0, 30.0, 60.0, 2000.0):
        film, reading = _over(optics, build)
        left.append(film_theory_sd(film, GRAMS, reading) / reading)
    assert (left[0] > left[1]).all()
    assert (left[1] > left[2]).all()
    assert left[0].mean() > 1.5 * left[3].mean()
    # a film that hides leaves the share of its reflectance, as one that is endless does, and the floor
    assert left[3].min() == pytest.approx(optics.model_sd, rel=0.1)


def test_it_goes_with_what_the_bank_was_learnt_to_leave(fitted: Fitted) -> None:
    optics, _ = fitted
    film, reading = _over(optics, 20.0)
    once = film_theory_sd(film, GRAMS, reading)
    np.testing.assert_allclose(film_theory_sd(replace(film, model_sd=3 * film.model_sd), GRAMS, reading), 3 * once)


def test_it_is_what_the_fit_reckons_with(fitted: Fitted) -> None:
    """Of the panels themselves, where the theory leaves no more than in the booth."""
    optics, bank = fitted
    panels, _ = panel_set(bank)
    reading = panels.readings
    fit = theory_sd(panels, optics.K, optics.S, optics.surface, reading)
    at = int(np.flatnonzero(~panels.hiding)[0])
    grams = panels.fractions[at] / optics.dry_ml_per_g
    film = replace(optics, model_sd=MODEL_SHARE).over(Backing("card", float(panels.build_um[at]), GREY))
    np.testing.assert_allclose(film_theory_sd(film, grams, reading[at]), fit[at], rtol=0.02)


def test_a_thin_film_is_foretold_less_surely_than_one_that_hides(fitted: Fitted) -> None:
    optics, _ = fitted
    still = np.zeros((len(optics.names),) * 2)
    thin, thick = (within_95(_over(optics, build)[0], GRAMS, 0.0, still) for build in (15.0, 2000.0))
    assert thin > 1.5 * thick
