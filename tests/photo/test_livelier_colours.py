"""A camera that makes colours livelier once it has laid its tones on: undone in that order, and not of a raw file."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from booth.phone_look import PhoneLook
from booth.photo_booth import camera_rgb, chart_spectra
from booth.photo_scenes import paints
from finishmatch.colour import de00, reflectance_to_lab, white_point
from finishmatch.photo.correct.capture import CHROMA, GREY, SIZE, Known, Priors, undo, undo_raised
from finishmatch.photo.correct.correction import CHROMA_FREE, choose_correction
from finishmatch.photo.correct.paints import fit_paints
from finishmatch.photo.correct.plain_camera import fit_plain_camera, told_of_changes
from finishmatch.photo.find.chart import usual_chart
from tests.photo.test_camera import places

TONE, LIVELIER = 0.25, 1.15
STIFF = Priors(tone=0.06)
FREE = replace(STIFF, chroma=CHROMA_FREE)


def seen(spectra: np.ndarray, livelier: float = LIVELIER) -> np.ndarray:
    """Linear file values of spectra by a phone: tones first, colours after them."""
    value = np.clip(0.8 * camera_rgb(spectra, "one", "D65"), 0, 1)
    toned = value ** (1 + TONE * (1 - value))
    return np.asarray(PhoneLook(saturation=livelier).of(toned[None].astype(np.float32))[0], float)


def chart(livelier: float = LIVELIER) -> Known:
    xyz, white = usual_chart().xyz("D65", 10), white_point("D65", 10)
    return Known(seen(chart_spectra(), livelier), places(24), xyz, white, np.ones(24))


def test_paints_are_read_nearer_where_it_is_looked_for() -> None:
    known, truth = chart(), reflectance_to_lab(paints())
    off, found = dict[str, float](), dict[str, float]()
    for name, priors in (("stiff", STIFF), ("free", FREE)):
        fit = fit_paints(known, chart_spectra(), "D65", 10, priors)
        off[name] = float(np.median(de00(truth, fit.lab(seen(paints()), places(len(truth))))))
        found[name] = fit.camera.misfit
    print(f"\n{off}, {found}")
    assert off["free"] < 0.95 * off["stiff"]
    assert found["free"] < 0.9 * found["stiff"]


def test_the_livelier_the_more_is_undone() -> None:
    found = [fit_plain_camera(chart(one), chart_spectra(), FREE).numbers[CHROMA] for one in (1.0, 1.1, 1.2)]
    assert found == sorted(found)
    assert found[2] - found[0] == pytest.approx(np.log(1.2), rel=0.5)


def test_a_grey_stays_as_it_is_and_a_colour_comes_nearer_to_it() -> None:
    numbers = np.zeros(SIZE)
    numbers[CHROMA] = np.log(1.25)
    values = np.array([[0.3, 0.3, 0.3], [0.6, 0.2, 0.1]])
    undone = undo(numbers, values, np.zeros((2, 2)))
    np.testing.assert_allclose(undone[0], values[0], rtol=1e-12)
    np.testing.assert_allclose(undone @ GREY, values @ GREY, rtol=1e-12)
    np.testing.assert_allclose(undone[1] - undone[1] @ GREY, (values[1] - values[1] @ GREY) / 1.25, rtol=1e-12)
    of_red = undo_raised(numbers, values, np.zeros((2, 2)), np.full((2, 3), 0.01))[0] - undone
    assert (of_red > 0).all()  # a value undone goes by all three of the file
    assert of_red[1].argmax() == 0


def test_a_sensors_own_values_are_left_as_they_are() -> None:
    known = chart()
    raw, developed = (
        choose_correction([(replace(known, raw=raw), True)], chart_spectra(), "D65", 10)[0] for raw in (True, False)
    )
    assert raw.paints is not None
    assert developed.paints is not None
    assert abs(raw.paints.numbers[CHROMA]) < 1e-6
    assert developed.paints.numbers[CHROMA] > 0.03
    assert raw.paints.priors.chroma == 0


def test_what_patches_tell_of_a_change_is_what_taking_it_out_saves() -> None:
    """To first order: the amount is found again that was put in, and none where there is none."""
    known, spectra = chart(1.0), chart_spectra()
    camera = fit_plain_camera(known, spectra, FREE)
    change = np.random.default_rng(4).standard_normal((24, 1, 2)) * known.linear.mean(axis=1)[:, None, None]
    changes = np.repeat(change, 3, axis=1)
    normal, pull = told_of_changes(known, spectra, FREE, camera, changes)
    assert np.linalg.solve(normal, pull) == pytest.approx([0, 0], abs=0.01)
    put_in = np.array([0.03, 0.0])
    changed = replace(known, linear=known.linear - changes @ put_in)
    normal, pull = told_of_changes(changed, spectra, FREE, fit_plain_camera(changed, spectra, FREE), changes)
    found = np.linalg.solve(normal, pull)
    assert found == pytest.approx(put_in, abs=0.012)
    assert pull @ found > 10
