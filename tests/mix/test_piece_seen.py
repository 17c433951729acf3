"""A photographed piece goes by what its camera saw: a mixture of the tints is told by it, in other lights as well."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import numpy as np

from booth.banks import shelf
from finishmatch.colour import Floats, de00, metamerism_index, reflectance_to_lab, weights
from finishmatch.evidence.target import ColourTarget, colour_target
from finishmatch.mix.metamers import likely_metamers
from finishmatch.mix.piece_seen import PieceSeen, piece_seen
from finishmatch.optics import TintOptics, predicted_reflectance
from finishmatch.optics.camera_look import CameraLook, value_roots
from finishmatch.photo.correct.paints import paint_lab, paint_spectra
from finishmatch.readings import Reading

_, OPTICS = shelf(61, 9)
GRAMS = np.array([300.0, 12, 0, 0, 30, 9, 0, 0, 0])
WAVELENGTHS = np.linspace(400, 700, 31)


def response(light: str) -> Floats:
    """What a camera whose sensors aren't the eye's makes of each wavelength, a white coming to 1."""
    sensors = np.stack(
        [np.exp(-0.5 * ((WAVELENGTHS - at) / wide) ** 2) for at, wide in ((610, 28), (535, 30), (455, 22))]
    )
    lit = sensors.T * weights(light, 10).sum(axis=1, keepdims=True)
    return np.asarray(lit / lit.sum(axis=0))


@cache
def _by_roots(light: str) -> tuple[Floats, Floats]:
    """What most paints are that the camera sees so: an affine map from the roots of its values to CIELAB."""
    roots = value_roots(paint_spectra() @ response(light))
    terms = np.hstack([np.ones((len(roots), 1)), roots])
    solved = np.linalg.lstsq(terms, paint_lab(light, 10), rcond=None)[0]
    return solved[0], solved[1:].T


def look(spectrum: Floats, light: str = "D65") -> CameraLook:
    """What that camera sees of a spectrum without gloss."""
    start, to_lab = _by_roots(light)
    values = spectrum @ response(light)
    return CameraLook(light, response(light), values, to_lab, start + to_lab @ value_roots(values), 0.01)


def without_gloss(spectrum: Floats, optics: TintOptics = OPTICS) -> Floats:
    return np.asarray(spectrum - (optics.surface.k1 if optics.surface.specular else 0.0))


def as_read(spectrum: Floats) -> ColourTarget:
    """The colour that is read of a photograph of it, with the gloss as the bank counts it."""
    off = look(without_gloss(spectrum)).lab - reflectance_to_lab(without_gloss(spectrum))
    return colour_target(Reading("piece", (reflectance_to_lab(spectrum) + off)[None]), ("D65", "A"), 10)


def seen(spectrum: Floats, *lights: str) -> PieceSeen:
    found = piece_seen(as_read(spectrum), [look(without_gloss(spectrum), light) for light in lights], OPTICS)
    assert found is not None
    return found


def mixture(grams: Floats = GRAMS) -> Floats:
    return np.asarray(predicted_reflectance(replace(OPTICS, draws=None), grams))


def test_what_the_camera_misreads_of_the_tints_is_taken_from_a_piece_of_them() -> None:
    rng, before, after = np.random.default_rng(3), [], []
    for _ in range(8):
        grams = np.zeros(9)
        grams[rng.choice(np.arange(1, 9), 3, replace=False)] = rng.uniform(2, 30, 3)
        spectrum = mixture(grams + np.eye(9)[0] * 300)
        true = reflectance_to_lab(without_gloss(spectrum))
        before.append(float(de00(look(without_gloss(spectrum)).lab, true)))
        after.append(float(de00(seen(spectrum, "D65").lab, true)))
    assert np.sqrt(np.square(before).mean()) > 1
    assert np.sqrt(np.square(after).mean()) < 0.5 * np.sqrt(np.square(before).mean())


def test_how_surely_it_is_known_is_said_and_a_lamp_tells_more() -> None:
    spectrum = mixture()
    true = reflectance_to_lab(without_gloss(spectrum))
    day, lit = seen(spectrum, "D65"), seen(spectrum, "D65", "A")
    for found in (day, lit):
        off = found.lab - true
        assert off @ np.linalg.solve(found.covariance, off) < 12
    assert np.trace(lit.covariance) < np.trace(day.covariance)


def test_what_it_may_be_looks_like_it_under_the_lamp_it_was_seen_in() -> None:
    spectrum = mixture()
    blind = likely_metamers(as_read(spectrum), OPTICS)
    assert blind is not None
    told, untold = (
        float(np.median(metamerism_index(spectra, spectrum, "D65", "A", 10)))
        for spectra in (seen(spectrum, "D65", "A").spectra, blind.spectra)
    )
    assert told < 0.7 * untold


def test_recipes_are_held_against_what_it_may_be() -> None:
    target, found = as_read(mixture()), seen(mixture(), "D65", "A")
    known = likely_metamers(replace(target, likely=found.spectra), OPTICS)
    assert known is not None
    assert known.spectra is found.spectra


def test_another_sample_under_the_lamp_and_a_colour_far_from_all_mixtures_are_left_as_they_were_read() -> None:
    spectrum = mixture()
    other = without_gloss(mixture(np.array([100.0, 0, 0, 40, 0, 0, 0, 0, 30])))
    assert piece_seen(as_read(spectrum), [look(without_gloss(spectrum)), look(other, "A")], OPTICS) is None
    vivid = colour_target(Reading("vivid", np.array([[50.0, 90, -90]])), ("D65",), 10)
    assert piece_seen(vivid, [look(without_gloss(spectrum))], OPTICS) is None


def test_more_photographs_of_one_light_promise_little_more() -> None:
    spectrum = mixture()
    one, many = seen(spectrum, "D65", "A"), seen(spectrum, *["D65"] * 6, *["A"] * 6)
    assert np.trace(many.covariance) > 0.4 * np.trace(one.covariance)
    assert float(de00(one.lab, many.lab)) < 0.3


def test_it_doesnt_hang_on_the_last_digits() -> None:
    spectrum = mixture()
    looks = [look(without_gloss(spectrum), light) for light in ("D65", "A")]
    trembled = replace(OPTICS, K=OPTICS.K * (1 + 1e-12), S=OPTICS.S * (1 - 1e-12))
    one, other = (piece_seen(as_read(spectrum), looks, optics) for optics in (OPTICS, trembled))
    assert one is not None
    assert other is not None
    assert np.abs(one.lab - other.lab).max() < 1e-6
    assert np.abs(one.spectra - other.spectra).max() < 1e-4
