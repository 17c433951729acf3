"""What of a target's reading is noise, by how near a mixture comes to it."""

from __future__ import annotations

import numpy as np
import pytest

from booth.workshop import CALM, Workshop
from finishmatch.colour import WAVELENGTHS_NM, Floats
from finishmatch.evidence.target import ColourTarget, colour_target
from finishmatch.mix.expected_difference import drawn_differences
from finishmatch.mix.target_noise import noise_left
from finishmatch.optics import TintOptics, fit_bank, predicted_reflectance
from finishmatch.readings import Reading

LIGHTS = ("D65", "A", "F11")


@pytest.fixture(scope="module")
def shop() -> Workshop:
    return Workshop(CALM, 301, count=6)


@pytest.fixture(scope="module")
def optics(shop: Workshop) -> TintOptics:
    return fit_bank(shop.bank()).optics


def mixture(optics: TintOptics, r: np.random.Generator) -> tuple[TintOptics, Floats]:
    """Return three tints and grams of them."""
    at = r.choice(len(optics.names), 3, replace=False)
    return optics.chosen([optics.names[i] for i in at]), 500 * r.dirichlet(np.ones(3))


def target_of(truth: Floats, r: np.random.Generator, sd: float = 0.0005) -> ColourTarget:
    return colour_target(Reading("target", truth + sd * r.standard_normal((3, truth.size))), LIGHTS, 10)


def test_most_of_the_noise_about_a_mixture_is_known_for_what_it_is(optics: TintOptics) -> None:
    r, before, after = np.random.default_rng(1), [], []
    for _ in range(40):
        own, grams = mixture(optics, r)
        truth = predicted_reflectance(own, grams)
        target = target_of(truth, r)
        shift, _ = noise_left(target, own, grams * np.exp(0.02 * r.standard_normal(3)))
        before.append(target.differences(truth))
        after.append(target.differences(truth + shift))
    assert np.median(after, axis=0)[2] < 0.75 * np.median(before, axis=0)[2]  # the narrow bands of F11 show noise most
    assert np.mean(after) < 0.9 * np.mean(before)


def test_a_target_that_is_something_else_keeps_its_reading(optics: TintOptics) -> None:
    r = np.random.default_rng(2)
    own, grams = mixture(optics, r)
    truth = predicted_reflectance(own, grams) + 0.03 * np.exp(-0.5 * ((WAVELENGTHS_NM - 560) / 30.0) ** 2)
    target = target_of(truth, r, 1e-9)
    shift, root = noise_left(target, own, grams)
    assert target.differences(target.reflectance + shift).max() < 0.03
    bare = target.reading_sd**2 * np.eye(31) + target.place_sd**2
    assert (np.diag(root @ root.T) <= np.diag(bare) + 1e-12).all()  # nothing is known less for it


def test_what_is_left_says_how_far_the_reading_is_off(optics: TintOptics) -> None:
    """In 95 of 100 targets that are a little beside any mixture the true colour lies where the draws have it."""
    r, held = np.random.default_rng(3), []
    for _ in range(150):
        own, grams = mixture(optics, r)
        smooth = np.cumsum(np.cumsum(r.standard_normal(31)))
        truth = predicted_reflectance(own, grams) + 0.0006 * smooth / np.abs(smooth).max()
        target = target_of(truth, r)
        shift, root = noise_left(target, own, grams * np.exp(0.02 * r.standard_normal(3)))
        assert target.reflectance is not None
        drawn = target.reflectance - shift - r.standard_normal((400, 31)) @ root.T
        off = np.abs(target.vectors(drawn)[:, 0] - target.vectors(target.reflectance - shift)[0])
        true_off = np.abs(target.vectors(truth)[0] - target.vectors(target.reflectance - shift)[0])
        held.append(true_off <= np.percentile(off, 95, axis=0))
    assert 0.9 <= np.mean(held) <= 0.999


def test_what_a_recipe_will_differ_by_counts_noise_once(optics: TintOptics) -> None:
    """A recipe of what the target was made of differs by less than by a target that was read as far off."""
    r = np.random.default_rng(4)
    own, grams = mixture(optics, r)
    truth = predicted_reflectance(own, grams)
    nothing = np.eye(3) * 1e-10
    near = [
        float(drawn_differences(target_of(truth, r), own, grams, 1e-6, nothing).max(axis=1).mean()) for _ in range(20)
    ]
    true = [float(target_of(truth, r).differences(truth).max()) for _ in range(20)]
    assert np.mean(near) < 1.25 * np.mean(true)
