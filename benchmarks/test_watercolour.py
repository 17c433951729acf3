"""Real paint: how many washes a two-constant film over its paper foretells within ΔE*ab 5, and whether it stays a film.

The figure to beat is that of a neural network on the same split, 83 % (Chen et al. 2019, arXiv 1904.00275). Colours
close in one light can be had from a K and S that are none. So the best form is also held against spectra, another light
(F11, three narrow bands), test swatches that don't stand in the training list, and pairs of pigments it never saw.
"""

from __future__ import annotations

import numpy as np
import pytest

from benchmarks.watercolour import FRESNEL, Form, Washes, film_and_slopes, predict
from benchmarks.watercolour_data import Floats, Samples, Watercolours, lab, load
from benchmarks.watercolour_fit import REFLECTANCE_ALONE, fit
from booth.kubelka_munk import film_over_ground

NETWORK = 0.83  # of the test rows, as its authors report
NEAR = 5.0  # ΔE*ab
BEST = Form(FRESNEL, free=("power", "each_crowding", "penetration"))  # chosen on pairs never seen: docs/accuracy.md
FOLDS = 3


@pytest.fixture(scope="module")
def data() -> Watercolours:
    """The two lists."""
    return load()


@pytest.fixture(scope="module")
def best(data: Watercolours) -> Washes:
    """The best form, fitted on the training list alone."""
    return fit(data.training, data.paper, BEST)


@pytest.fixture(scope="module")
def by_reflectance(data: Watercolours) -> Washes:
    """The plain film, fitted on reflectance alone."""
    return fit(data.training, data.paper, Form(), REFLECTANCE_ALONE)


def share_near(off: Floats, rows: Floats) -> float:
    """The share of the list's rows that lie within ΔE*ab 5."""
    return float(((off <= NEAR) * rows).sum() / rows.sum())


def off_by(washes: Washes, samples: Samples, lamp: str = "D65") -> Floats:
    """ΔE*ab of each swatch in a light, 2° observer."""
    seen = predict(washes, samples.millilitres)
    found: Floats = np.linalg.norm(lab(seen, lamp) - lab(samples.reflectance, lamp), axis=1)
    return found


def misfit(washes: Washes, samples: Samples) -> float:
    """Root mean square of the reflectance's error, each row counted."""
    square = (predict(washes, samples.millilitres) - samples.reflectance) ** 2
    return float(np.sqrt(np.average(square.mean(axis=1), weights=samples.rows)))


def off_by_on_unseen_pairs(data: Watercolours, form: Form) -> tuple[Floats, Floats]:
    """ΔE*ab of the training list's mixtures, without their pair in the fit; and their rows."""
    samples = data.training
    pairs = samples.millilitres > 0
    each, of_swatch = np.unique(pairs, axis=0, return_inverse=True)
    fold = np.random.default_rng(2).permutation(len(each))[of_swatch.ravel()] % FOLDS
    found, rows = [], []
    for at in range(FOLDS):
        left_out = samples.mixed & (fold == at)
        washes = fit(samples.chosen(~left_out), data.paper, form)
        found.append(off_by(washes, samples.chosen(left_out)))
        rows.append(samples.rows[left_out])
    return np.concatenate(found), np.concatenate(rows)


def test_the_film_is_that_of_kubelka_and_munk() -> None:
    """Two ways of writing one solution."""
    rng = np.random.default_rng(5)
    K, S, ground = rng.uniform(0.01, 3, 200), rng.uniform(0.01, 3, 200), rng.uniform(0, 1, 200)
    np.testing.assert_allclose(
        film_and_slopes(K, S, ground)[0], film_over_ground(K, S, np.ones(200), ground), rtol=1e-9
    )


def test_the_best_form_beats_the_network(data: Watercolours, best: Washes) -> None:
    off, rows, new = off_by(best, data.test), data.test.rows, ~data.test_seen
    every, unseen = share_near(off, rows), share_near(off[new], rows[new])
    print(f"\ntest rows within 5: all {every:.3f}; swatch not in training {unseen:.3f}; median {np.median(off):.2f}")
    assert every >= 0.90
    assert unseen >= 0.87 > NETWORK


def test_it_needs_no_swatch_of_the_test_list_in_training(data: Watercolours) -> None:
    held = {tuple(amounts) for amounts in data.test.millilitres}
    apart = np.array([tuple(amounts) not in held for amounts in data.training.millilitres])
    every = share_near(off_by(fit(data.training.chosen(apart), data.paper, BEST), data.test), data.test.rows)
    print(f"\nall test rows, fitted without the swatches both lists hold: {every:.3f}")
    assert every > NETWORK


def test_fitting_colour_does_not_cost_the_spectrum(data: Watercolours, best: Washes, by_reflectance: Washes) -> None:
    plain = share_near(off_by(by_reflectance, data.test), data.test.rows)
    lamp = share_near(off_by(best, data.test, "FL11"), data.test.rows)
    ours, theirs = misfit(best, data.test), misfit(by_reflectance, data.test)
    print(f"\nplain, by reflectance: {plain:.3f}; best under F11: {lamp:.3f}; misfit {ours:.4f} against {theirs:.4f}")
    assert ours <= 1.05 * theirs
    assert lamp >= 0.87 > NETWORK


def test_pairs_of_pigments_never_seen_come_out_too(data: Watercolours) -> None:
    unseen = share_near(*off_by_on_unseen_pairs(data, BEST))
    print(f"\nmixtures of pairs never seen together: {unseen:.3f}")
    assert unseen >= 0.70
