"""A photographed piece goes by what its camera saw: a mixture of the tints is told by it, in other lights as well."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from finishmatch.colour import Floats, de00, metamerism_index, reflectance_to_lab
from finishmatch.evidence.target import colour_target
from finishmatch.mix.metamers import likely_metamers
from finishmatch.mix.piece_seen import PieceSeen, piece_seen
from finishmatch.readings import Reading
from tests.helpers.another_eye import OPTICS, as_read, look, mixture, without_gloss


def seen(spectrum: Floats, *lights: str) -> PieceSeen:
    found = piece_seen(as_read(spectrum), [look(without_gloss(spectrum), light) for light in lights], OPTICS)
    assert found is not None
    return found


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
