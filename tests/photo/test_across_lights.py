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
from finishmatch.photo.across_lights import REPEATED, TOO_FAR, Look, Together, seen_together
from finishmatch.photo.correct.difference_doubt import within_95

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


def not_told(seed: int, light: str, share: float = 0.1) -> tuple[Floats, Floats]:
    """What a chart leaves open of the first camera's response, smooth in the wavelength, and what that is."""
    steps = np.arange(31)
    alike = np.exp(-0.5 * ((steps[:, None] - steps) / 3) ** 2) + 1e-9 * np.eye(31)
    size = share * camera_rgb(np.eye(31), "one", light)
    r = np.random.default_rng([seed, 7, *map(ord, light)])
    drawn = size * (np.linalg.cholesky(alike) @ r.standard_normal((31, 3)))
    return np.einsum("nc,mc,nm->cnm", size, size, alike), drawn


def seen_again(pair: Floats, light: str, seed: int, times: int) -> list[Look]:
    """Several looks of one camera in a light: half of the noise, and what the chart leaves open, is in each of them."""
    left_open, off = not_told(seed, light)
    r = np.random.default_rng([seed, *map(ord, light)])
    noise, response = 5 * NOISE, camera_rgb(np.eye(31), "one", light)
    again, found = r.standard_normal(3), []
    for _ in range(times):
        own = noise * (again + r.standard_normal(3)) / 2**0.5
        values = (pair @ (response + off)) * np.exp(np.outer([-0.5, 0.5], own)) * r.uniform(0.5, 1)
        found.append(Look(light, response * values.mean() / (pair @ response).mean(), values, 0, left_open))  # type: ignore[arg-type]
    return [replace(one, noise=noise**2 * np.eye(3)) for one in found]


def test_what_is_stated_of_several_looks_in_each_light_holds() -> None:
    held: dict[int, list[bool]] = {1: [], 4: []}
    stated: dict[int, list[float]] = {1: [], 4: []}
    for seed, pair in enumerate(unlike_pairs("one")):
        for times in (1, 4):
            told = told_of(pair, *(one for light in (DAY, LAMP) for one in seen_again(pair, light, seed, times)))
            for light in (DAY, LAMP):
                within = within_95(told.covariance[light], de00_metric(reflectance_to_lab(pair[0], light)))
                held[times].append(off(pair, light, told.alone[light] + told.moved[light]) <= within)
                stated[times].append(within)
    assert min(np.mean(held[1]), np.mean(held[4])) >= 0.75
    assert 0.8 * np.median(stated[1]) < np.median(stated[4]) < 1.05 * np.median(stated[1])


def test_several_looks_that_are_alike_are_one_that_is_surer() -> None:
    pair, other = unlike_pairs("one")[:2]
    day, lamp = look(pair, DAY), look(pair, LAMP)
    darker = replace(day, response=0.5 * day.response, values=0.5 * day.values)  # of another exposure
    once, twice = told_of(pair, day, lamp), told_of(pair, day, darker, lamp, lamp)
    half = 1 - REPEATED / 2
    surer = told_of(pair, *(replace(one, noise=half * one.noise) for one in (day, lamp)))
    for light in (DAY, LAMP):
        assert twice.covariance[light] == pytest.approx(surer.covariance[light], rel=1e-6, abs=1e-9)
        assert twice.alone[light] + twice.moved[light] == pytest.approx(surer.alone[light] + surer.moved[light])
        assert np.trace(twice.alike[light]) < np.trace(once.alike[light])
    noisy = replace(look(other, DAY), noise=1e6 * day.noise)
    with_it = told_of(pair, day, noisy, lamp)
    assert with_it.moved[DAY] == pytest.approx(told_of(pair, day, lamp).moved[DAY], abs=0.01)


def test_what_a_chart_leaves_open_of_a_response_counts_where_pigments_are_unlike() -> None:
    wider = []
    for pair in unlike_pairs("one")[:4]:
        known = [look(pair, light) for light in (DAY, LAMP)]
        loose = [replace(one, left_open=not_told(0, one.light)[0]) for one in known]
        sure, unsure = told_of(pair, *known), told_of(pair, *loose)
        assert unsure.alike[DAY] == pytest.approx(sure.alike[DAY])  # of the same pigments nothing hangs on it
        wider += [np.trace(unsure.covariance[light]) / np.trace(sure.covariance[light]) for light in (DAY, LAMP)]
    assert min(wider) > 1.1
    assert np.median(wider) > 1.25


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
