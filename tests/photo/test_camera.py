"""The plain camera and the paints seen by it: held against cameras that are known, and against refits."""

from __future__ import annotations

import numpy as np
import pytest

from booth.photo_booth import CAMERAS, camera_rgb, chart_spectra
from booth.photo_scenes import paints
from booth.prints import invented_print
from finishmatch.colour import de00, reflectance_to_lab, reflectance_to_xyz, white_point, xyz_to_lab
from finishmatch.photo.correct.capture import LIGHT, Known, Priors, undo
from finishmatch.photo.correct.correction import PLAIN_TO, choose_correction
from finishmatch.photo.correct.paints import KNOTS, fit_paints, paint_doubt, paint_lab, paint_spectra
from finishmatch.photo.correct.plain_camera import fit_plain_camera
from finishmatch.photo.find.chart import usual_chart
from finishmatch.photo.open.icc_profile import srgb_curve
from tests.photo.test_colour_fit import known_by, real_values

PRIORS = Priors(tone=0.06)
SLOPE, FLARE, EXPONENT = -0.25, 0.012, 1.04


def places(count: int) -> np.ndarray:
    number = np.arange(count)
    return np.stack([number % 6 - 2.5, number // 6 % 4 - 1.5], axis=1) / 8


def seen(spectra: np.ndarray, camera: str, light: str) -> np.ndarray:
    """File values of spectra by a camera of colour-science: uneven light, stray light, a tone a little off."""
    value = camera_rgb(spectra, camera, light) * 0.8 * np.exp(SLOPE * places(len(spectra))[:, :1]) + FLARE
    return 0.2 * (value / 0.2) ** EXPONENT


def chart(camera: str, light: str) -> Known:
    xyz = usual_chart().xyz("D65", 10)
    return Known(seen(chart_spectra(), camera, light), places(24), xyz, white_point("D65", 10), np.ones(24))


@pytest.mark.parametrize("camera", CAMERAS)
@pytest.mark.parametrize("light", ["D65", "A", "F11"])
def test_light_flare_and_tone_are_undone(camera: str, light: str) -> None:
    found = fit_plain_camera(chart(camera, light), chart_spectra(), PRIORS)
    assert found.numbers[LIGHT][0] == pytest.approx(SLOPE, abs=0.05)
    ratio = found.values / camera_rgb(chart_spectra(), camera, light)
    assert np.std(ratio / ratio.mean()) < 0.02
    assert found.misfit < 0.03


@pytest.mark.parametrize("camera", CAMERAS)
def test_the_response_foretells_what_the_camera_makes_of_paints(camera: str) -> None:
    found = fit_plain_camera(chart(camera, "D65"), chart_spectra(), PRIORS)
    real = camera_rgb(paints(), camera, "D65")
    estimated = paints() @ found.response
    scale = float((estimated * real).sum() / (real**2).sum())
    off = np.abs(estimated / scale - real).max(axis=1) / real.mean(axis=1)
    assert np.median(off) < 0.02


@pytest.mark.parametrize("camera", CAMERAS)
def test_paints_are_read_nearer_than_by_any_polynomial_of_so_few_patches(camera: str) -> None:
    """Values without noise: what is left is that a camera doesn't see as an eye does."""
    known = chart(camera, "D65")
    fit = fit_paints(known, chart_spectra(), "D65", 10, PRIORS)
    values = seen(paints(), camera, "D65")
    error = de00(reflectance_to_lab(paints()), fit.lab(values, places(len(values))))
    assert np.median(error) < 0.8


def test_what_is_left_out_is_estimated_as_a_refit_would_find_it() -> None:
    known, spectra = chart("two", "A"), chart_spectra()
    lab = xyz_to_lab(known.xyz, known.white)
    estimated = np.linalg.norm(fit_paints(known, spectra, "D65", 10, PRIORS).misses, axis=1)
    refitted = []
    for patch in range(24):
        fit = fit_paints(known.without([patch]), np.delete(spectra, patch, axis=0), "D65", 10, PRIORS)
        refitted.append(float(de00(lab[patch], fit.lab(known.linear[[patch]], known.places[[patch]])[0])))
    assert np.median(estimated) == pytest.approx(np.median(refitted), rel=0.15)
    assert np.corrcoef(estimated, refitted)[0, 1] > 0.95


def test_one_dirty_patch_hardly_moves_the_others() -> None:
    clean = chart("one", "D50")
    linear = clean.linear.copy()
    linear[14] *= [0.6, 0.8, 0.7]
    dirty = Known(linear, clean.places, clean.xyz, clean.white, clean.weights)
    one, other = (fit_plain_camera(known, chart_spectra(), PRIORS) for known in (clean, dirty))
    ratio = undo(other.numbers, clean.linear, clean.places) / one.values
    assert np.abs(ratio / np.median(ratio) - 1).max() < 0.03


def test_the_slopes_are_those_of_the_colours() -> None:
    known = chart("one", "D65")
    fit = fit_paints(known, chart_spectra(), "D65", 10, PRIORS)
    by_number, by_camera = fit.slopes(known.linear, known.places)
    step = np.array([1e-4, -2e-4, 1e-4])
    moved = fit.lab(known.linear + step / 2, known.places) - fit.lab(known.linear - step / 2, known.places)
    np.testing.assert_allclose(by_camera @ step, moved, atol=2e-3, rtol=0.02)
    assert by_number.shape == (24, 3, len(fit.covariance))


@pytest.mark.parametrize(("photo", "linear"), [("A", True), ("B", False)])
def test_real_files_that_are_more_than_a_plain_cameras_are_known_by_what_they_miss(photo: str, linear: bool) -> None:
    """A machine camera under a tube, a phone that works on its pictures: see the head of chart_patches.csv."""
    values, lab, number = real_values(photo)
    known = known_by(values if linear else srgb_curve(values), np.ones_like(values), lab, number)
    found = fit_plain_camera(known, np.asarray(usual_chart().spectra), PRIORS)
    assert found.misfit > PLAIN_TO


def test_the_first_paints_of_the_family_lie_far_apart() -> None:
    lab = paint_lab("D65", 10)
    assert len(paint_spectra()) == len(lab) > 3 * KNOTS
    apart = np.linalg.norm(lab[:KNOTS, None] - lab[:KNOTS], axis=2) + 1e3 * np.eye(KNOTS)
    among = np.linalg.norm(lab[:, None] - lab, axis=2) + 1e3 * np.eye(len(lab))
    assert np.median(apart.min(axis=1)) > 2 * np.median(among.min(axis=1))


def printed(number: int, camera: str, light: str) -> tuple[Known, np.ndarray]:
    """The fields of an invented print seen by a camera, and their spectra."""
    spectra = np.array(list(invented_print(number).values()))
    white = white_point("D65", 10)
    xyz = reflectance_to_xyz(spectra, "D65", 10)
    return Known(seen(spectra, camera, light), places(len(spectra)), xyz, white, np.ones(len(spectra))), spectra


@pytest.mark.parametrize("light", ["D65", "A"])
def test_a_print_is_corrected_by_the_paints_however_well_its_inks_foretell_each_other(light: str) -> None:
    """Held against paints that are no inks: the correction which the fields left out would choose reads them worse."""
    others = paints()[::4]
    truth, values, at = reflectance_to_lab(others), seen(others, "one", light), places(len(others))
    off: dict[bool, list[float]] = {True: [], False: []}
    for number in range(4):
        known, spectra = printed(number, "one", light)
        for inks, found in off.items():
            correction, _ = choose_correction([(known, True)], spectra, "D65", 10, inks=inks)
            found += list(de00(truth, correction.lab(values, at)))
    assert np.median(off[True]) <= np.median(off[False])
    assert np.percentile(off[True], 95) < 0.8 * np.percentile(off[False], 95)


def test_a_print_leaves_more_open_of_paints_than_a_chart_does() -> None:
    doubts = []
    known, spectra = printed(0, "one", "D65")
    for one, its in ((chart("one", "D65"), chart_spectra()), (known, spectra)):
        doubt = paint_doubt(fit_paints(one, its, "D65", 10, PRIORS), "D65", 10)
        others = paints()[::4]
        pairs = zip(seen(others, "one", "D65"), places(len(others)), strict=True)
        doubts.append(np.sqrt([doubt.squared(value, place) for value, place in pairs]))
    assert np.median(doubts[1]) > 1.1 * np.median(doubts[0])


def test_a_print_of_which_only_lab_is_known_is_corrected_by_a_plain_matrix() -> None:
    known, _ = printed(0, "one", "D65")
    correction, _ = choose_correction([(known, True)], None, "D65", 10, inks=True)
    assert (correction.name, correction.inks, correction.doubt) == ("matrix", True, None)
