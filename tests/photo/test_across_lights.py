"""What looks in several lights tell together: of cameras that are wholly known, with no photograph between."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from booth.photo_booth import camera_rgb
from booth.photo_scenes import close_to, paints
from booth.seen_pairs import other_pigments
from finishmatch.colour import Floats, de00_metric, reflectance_to_lab
from finishmatch.colour.bent_to import bent_to, logits
from finishmatch.colour.local_metric import WITHIN_95
from finishmatch.photo.across_lights import TOO_FAR, Look, Together, seen_together

NOISE = 0.001
DAY, LAMP = "D65", "A"
DARK = 0.02  # of full scale: the noise of a darker channel drowns all


def look(pair: Floats, light: str, camera: str = "one", seed: int = 0) -> Look:
    """What a camera sees of a pair, shape (2, 31), with noise."""
    r = np.random.default_rng([seed, *map(ord, light)])
    response = camera_rgb(np.eye(31), camera, light)
    values = (pair @ response) * np.exp(NOISE / 2**0.5 * r.standard_normal((2, 3)))
    return Look(light, response, values, NOISE**2 * np.eye(3), np.zeros((3, 31, 31)))


def told_of(pair: Floats, *looks: Look) -> Together:
    found = seen_together(looks, reflectance_to_lab(pair).mean(axis=0), 10)
    assert found is not None
    return found


def off(pair: Floats, light: str, delta: Floats) -> float:
    standard, card = reflectance_to_lab(pair, light)
    return float(np.linalg.norm(de00_metric(standard) @ (delta - (card - standard))))


def unlike_pairs(camera: str) -> list[Floats]:
    """Two paints each, of altogether other pigments, that look nearly alike in daylight and aren't dark."""
    found = [other_pigments(seed, 1.0)[:, i] for seed in range(8) for i in range(3)]
    return [one for one in found if min(look(one, light, camera).values.min() for light in (DAY, LAMP)) > DARK]


@pytest.mark.parametrize("camera", ["one", "two"])
def test_of_other_pigments_a_lamp_brings_the_difference_nearer_in_both_lights(camera: str) -> None:
    pairs = unlike_pairs(camera)
    assert len(pairs) >= 12
    for light in (DAY, LAMP):
        told = [told_of(one, look(one, DAY, camera, i), look(one, LAMP, camera, i)) for i, one in enumerate(pairs)]
        before = [off(one, light, found.alone[light]) for one, found in zip(pairs, told, strict=True)]
        after = [
            off(one, light, found.alone[light] + found.moved[light]) for one, found in zip(pairs, told, strict=True)
        ]
        stated = [
            WITHIN_95 * np.linalg.norm(de00_metric(reflectance_to_lab(one[0], light)) @ root) / 3**0.5
            for one, found in zip(pairs, told, strict=True)
            for root in (np.linalg.cholesky(found.covariance[light]),)
        ]
        assert np.median(after) < 0.7 * np.median(before)
        assert np.mean(np.array(after) <= stated) >= 0.75


def test_how_unlike_the_pigments_are_is_told() -> None:
    r = np.random.default_rng(3)
    same = [np.stack([one, close_to(one, r)]) for one in paints()[:12]]
    alike = [told_of(one, look(one, DAY), look(one, LAMP)).unlike for one in same]
    apart = [told_of(one, look(one, DAY), look(one, LAMP)).unlike for one in unlike_pairs("one")]
    assert np.median(alike) < 0.05
    assert np.median(apart) > 5 * np.median(alike)


def test_of_one_light_nothing_moves() -> None:
    pair = unlike_pairs("one")[0]
    told = told_of(pair, look(pair, DAY, seed=1), look(pair, DAY, seed=2))
    assert np.abs(told.moved[DAY]).max() < 0.02
    assert told.chance > TOO_FAR


def test_looks_of_other_paints_dont_go_together() -> None:
    pairs = unlike_pairs("one")
    for one, other in zip(pairs[:4], pairs[4:8], strict=True):
        further = np.stack([other[0], np.clip(other[1] * np.linspace(0.5, 1.5, 31), 0.01, 0.99)])
        assert told_of(one, look(one, DAY), look(further, LAMP)).chance < TOO_FAR
        assert told_of(one, look(one, DAY), look(one, LAMP)).chance > TOO_FAR


def test_a_noisy_look_has_little_say() -> None:
    pair = unlike_pairs("one")[2]
    lamp = look(pair, LAMP)
    sure, unsure = (told_of(pair, look(pair, DAY), replace(lamp, noise=k * lamp.noise)) for k in (1, 1e6))
    assert np.abs(unsure.moved[DAY]).max() < 0.1 * np.abs(sure.moved[DAY]).max()
    assert np.trace(unsure.covariance[DAY]) > np.trace(sure.covariance[DAY])


def test_paints_are_bent_until_a_camera_sees_what_is_wanted() -> None:
    response = camera_rgb(np.eye(31), "one", LAMP)
    some = paints()[20:40]
    spectra, misses = bent_to(logits(some), response, np.array([0.3, 0.25, 0.2]))
    assert misses.max() < 1e-6
    assert spectra @ response == pytest.approx(np.tile([0.3, 0.25, 0.2], (20, 1)), abs=1e-6)
    assert ((spectra > 0) & (spectra < 1)).all()
    assert bent_to(logits(some), response, some @ response)[0] == pytest.approx(np.clip(some, 0.005, 0.995), abs=2e-3)
