"""The correction: held against real camera values, against refits, and against what must not matter."""

from __future__ import annotations

import colour
import numpy as np
import pytest

from finishmatch.colour import de00, lab_to_xyz, reflectance_to_xyz, white_point, xyz_to_lab
from finishmatch.photo.correct.capture import SIZE, TINT, Known, Priors, light_at, undo
from finishmatch.photo.correct.colour_fit import Plan, fit_colours, terms
from finishmatch.photo.correct.correction import choose_correction, distance_outside, untinted, with_noise
from finishmatch.photo.find.chart import usual_chart
from finishmatch.photo.open.icc_profile import srgb_curve
from tests.conftest import ROOT

WHITE = white_point("D50", 2)


def real_values(photo: str) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Camera values 0 to 1, CIELAB (D50, 2°), index of the patches in a real photograph: see the head of the file."""
    lines = (ROOT / "tests/reference/chart_patches.csv").read_text("utf-8").splitlines()
    rows = np.array([line.split(",")[1:] for line in lines if line.startswith(f"{photo},")], float)
    return rows[:, 1:4], rows[:, 4:], rows[:, 0].astype(int) - 1


def known_by(linear: np.ndarray, slope: np.ndarray, lab: np.ndarray, number: np.ndarray) -> Known:
    """The chart with the noise that steps of 1/255 in the file leave."""
    places = np.stack([number % 6 - 2.5, number // 6 - 1.5], axis=1) / 10
    known = Known(linear, places, lab_to_xyz(lab, WHITE), WHITE, np.ones(len(lab)))
    noise = np.array([np.diag((one / 255) ** 2 / 12) for one in slope])
    return with_noise(known, noise)


def errors_when_left_out(photo: str) -> np.ndarray:
    """ΔE00 of every patch of a real chart, read by a correction made without it, its curve not known."""
    values, lab, number = real_values(photo)
    slope = (srgb_curve(values + 1e-3) - srgb_curve(np.maximum(values - 1e-3, 0))) / 2e-3
    curves = [known_by(srgb_curve(values), slope, lab, number), known_by(values, np.ones_like(values), lab, number)]
    spectra = np.asarray(usual_chart().spectra)[number]
    errors = []
    for patch in range(len(values)):
        others = [(curves[0].without([patch]), False), (curves[1].without([patch]), True)]
        correction, which = choose_correction(others, np.delete(spectra, patch, axis=0), "D50", 2)
        at = curves[which]
        errors.append(de00(lab[patch], correction.lab(at.linear[[patch]], at.places[[patch]])[0]))
    return np.array(errors)


def test_a_real_machine_camera_under_a_fluorescent_lamp_whose_values_are_linear() -> None:
    assert np.median(errors_when_left_out("A")) <= 1.9


def test_a_real_phone_outdoors() -> None:
    assert np.median(errors_when_left_out("B")) <= 3.5


@pytest.mark.parametrize(("photo", "most"), [("C", 1.8), ("D", 1.5)])
def test_real_raw_files_of_a_camera_developed_without_a_balance_of_white(photo: str, most: float) -> None:
    assert np.median(errors_when_left_out(photo)) <= most


@pytest.mark.parametrize(("lamp", "most"), [("D65", 0.6), ("FL11", 1.7)])
def test_what_a_patch_left_out_is_read_to_where_nothing_else_is_wrong(lamp: str, most: float) -> None:
    """A measured sensor (colour-science's first), no noise, no flare, an even light: what is left is the camera's own.

    Under a tube no picture of such a sensor tells a patch nearer than this, however it was taken.
    """
    spectra, grid = np.asarray(usual_chart().spectra), colour.SpectralShape(400, 700, 10)
    sensor = next(iter(colour.MSDS_CAMERA_SENSITIVITIES.values())).copy().align(grid).values
    power = colour.SDS_ILLUMINANTS[lamp].copy().align(grid).values
    values = spectra @ (power[:, None] * sensor)
    lab = xyz_to_lab(reflectance_to_xyz(spectra, "D50", 2), WHITE)
    known = known_by(0.9 * values / values.max(), np.full((24, 3), 0.05), lab, np.arange(24))
    off = []
    for patch in range(24):
        correction, _ = choose_correction([(known.without([patch]), True)], np.delete(spectra, patch, axis=0), "D50", 2)
        off.append(float(de00(lab[patch], correction.lab(known.linear[[patch]], known.places[[patch]])[0])))
    print(f"\n{lamp}: median {np.median(off):.2f}, mean {np.mean(off):.2f}")
    assert np.median(off) <= most


@pytest.mark.parametrize("degree", [1, 2, 3])
def test_terms_scale_with_the_exposure(degree: int) -> None:
    rgb = np.random.default_rng(2).uniform(0.01, 1, (50, 3))
    np.testing.assert_allclose(terms(0.3 * rgb, degree), 0.3 * terms(rgb, degree), rtol=1e-12)


def test_what_is_left_out_is_estimated_as_a_refit_would_find_it() -> None:
    values, lab, number = real_values("B")
    known = known_by(srgb_curve(values), np.ones_like(values), lab, number)
    plan = Plan(1, 0.0, Priors(tone=0.3))
    estimated = np.linalg.norm(fit_colours(known, plan).misses, axis=1)
    refitted = []
    for patch in range(24):
        fit = fit_colours(known.without([patch]), plan)
        refitted.append(de00(lab[patch], fit.lab(known.linear[[patch]], known.places[[patch]])[0]))
    assert np.median(estimated) == pytest.approx(np.median(refitted), rel=0.1)
    assert np.corrcoef(estimated, refitted)[0, 1] > 0.9


def test_tone_flare_and_slope_of_the_light_are_undone_together() -> None:
    """A perfect camera (linear in XYZ), then an exponent, stray light and a falling light laid on."""
    xyz = usual_chart().xyz("D65", 10)
    white = white_point("D65", 10)
    number = np.arange(24)
    places = np.stack([number % 6 - 2.5, number // 6 - 1.5], axis=1) / 8
    rgb = xyz @ np.array([[0.012, -0.003, 0.0], [-0.004, 0.013, -0.001], [0.0, 0.0, 0.009]])
    seen = rgb * np.exp(-0.3 * places[:, :1]) + 0.01
    known = Known(seen**1.05, places, xyz, white, np.ones(24))
    fit = fit_colours(known, Plan(1, 0.0, Priors(tone=0.06)))
    assert np.median(de00(xyz_to_lab(xyz, white), fit.lab(known.linear, places))) < 0.15
    assert fit.numbers[6] == pytest.approx(-0.3, abs=0.03)


def test_a_light_that_bends_and_is_of_two_colours_is_undone_and_can_still_be_seen() -> None:
    """A perfect camera between a window and a wall: red falls and blue rises to the right, the middle is lit most."""
    chart = usual_chart()
    xyz, white, number = chart.xyz("D65", 10), white_point("D65", 10), np.arange(24)
    places = np.stack([number % 6 - 2.5, number // 6 - 1.5], axis=1) / 8
    bent, tint = np.exp(-1.2 * (places**2).sum(axis=1, keepdims=True)), np.exp(places[:, :1] * [-0.15, 0, 0.2])
    seen = xyz @ np.array([[0.012, -0.003, 0.0], [-0.004, 0.013, -0.001], [0.0, 0.0, 0.009]]) * bent * tint
    known = with_noise(Known(seen, places, xyz, white, np.ones(24)), np.tile(1e-7 * np.eye(3), (24, 1, 1)))
    correction, _ = choose_correction([(known, True)], chart.spectra, "D65", 10)
    lab = xyz_to_lab(xyz, white)
    assert np.median(de00(lab, correction.lab(seen, places))) < 0.5
    assert correction.base.numbers[TINT] == pytest.approx([-0.15, 0, 0.2, 0], abs=0.03)
    across = (untinted(correction).lab(seen, places) - lab)[[18, 23], 2]
    assert across[0] - across[1] > 3  # the white at the left is yellower than the black at the right, less the light


def test_undo_with_nothing_to_undo_changes_nothing() -> None:
    rgb, places = np.full((3, 3), 0.4), np.zeros((3, 2))
    np.testing.assert_array_equal(undo(np.zeros(SIZE), rgb, places), rgb)
    np.testing.assert_array_equal(light_at(np.zeros(SIZE), places), 1)


def test_the_distance_outside_a_hull() -> None:
    cube = np.array([[x, y, z] for x in (0, 10) for y in (0, 10) for z in (0, 10)], float)
    assert distance_outside(np.array([5.0, 5, 5]), cube) == 0
    assert distance_outside(np.array([5.0, 5, 17]), cube) == pytest.approx(7, abs=0.05)
    assert distance_outside(np.array([13.0, 14, 5]), cube) == pytest.approx(5, abs=0.05)
