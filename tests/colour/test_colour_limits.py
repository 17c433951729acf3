"""Colour at its limits: where a word, an index or a formula changes, and what is refused."""

from __future__ import annotations

import numpy as np
import pytest

from finishmatch.colour import (
    LIGHTS,
    cielab_delta,
    de00,
    difference_words,
    metamerism_index,
    reflectance_to_lab,
    reflectance_to_lab_slope,
    reflectance_to_xyz,
    weights,
    white_point,
    xyz_to_lab,
    xyz_to_lab_slope,
)
from finishmatch.colour.cielab import lab_to_lch, lab_to_xyz
from finishmatch.colour.difference import de00_parts
from finishmatch.colour.display import lab_to_hex, lab_to_srgb, lost_on_screen, srgb_to_lab
from finishmatch.colour.inconstancy import colour_inconstancy, in_every_light
from finishmatch.colour.off_white import (
    munsell_chroma,
    off_white,
    whiteness_e313,
    whiteness_holds,
    yellowness_e313,
)
from finishmatch.colour.smoothest_spectrum import smoothest_spectrum
from finishmatch.colour.tristimulus import light_name
from finishmatch.errors import InputError

NM = np.arange(400, 701, 10)
GREEN = 0.2 + 0.25 * np.exp(-(((NM - 520) / 60) ** 2))


def test_a_light_is_known_whatever_its_case_and_others_are_told() -> None:
    assert [light_name(text) for text in (" d65 ", "f11", "led-b3")] == ["D65", "F11", "LED-B3"]
    with pytest.raises(InputError) as caught:
        light_name("D66")
    assert str(caught.value) == "light 'D66': not a light known here; use one of D65, D50, A, F2, F11, LED-B3"
    with pytest.raises(InputError) as caught:
        weights("D65", 5)
    assert str(caught.value) == "observer 5: not a CIE standard observer; use 2 or 10"
    with pytest.raises(ValueError, match=r"a spectrum has 31 values on its last axis, not shape \(2, 30\)"):
        reflectance_to_xyz(np.zeros((2, 30)))


def test_what_is_left_out_is_daylight_and_ten_degrees() -> None:
    np.testing.assert_array_equal(weights(), weights("D65", 10))
    np.testing.assert_array_equal(white_point(), white_point("D65", 10))
    np.testing.assert_array_equal(reflectance_to_xyz(GREEN), reflectance_to_xyz(GREEN, "D65", 10))
    np.testing.assert_array_equal(reflectance_to_lab(GREEN), reflectance_to_lab(GREEN, "D65", 10))
    np.testing.assert_array_equal(reflectance_to_lab_slope(GREEN), reflectance_to_lab_slope(GREEN, "D65", 10))
    other = GREEN[::-1]
    assert metamerism_index(GREEN, other) == metamerism_index(GREEN, other, "D65", "A", 10)
    assert yellowness_e313(np.array([80.0, 85, 90])) == yellowness_e313(np.array([80.0, 85, 90]), "D65", 10)
    for values in weights("A", 2), weights("D65", 10):
        with pytest.raises(ValueError, match="read-only"):
            values[0, 0] = 1.0


def test_cielab_meets_its_straight_part_smoothly() -> None:
    white = white_point()
    edge = (6 / 29) ** 3
    for scale in (edge * (1 - 1e-9), edge * (1 + 1e-9)):
        assert float(xyz_to_lab(white * scale, white)[0]) == pytest.approx(8.0, abs=1e-6)
    np.testing.assert_allclose(xyz_to_lab(0 * white, white), 0, atol=1e-12)
    for lab in ([3.0, 1.0, -2.0], [8.0, 0.5, 0.5], [60.0, 40.0, -30.0]):
        xyz = lab_to_xyz(np.array(lab), white)
        np.testing.assert_allclose(xyz_to_lab(xyz, white), lab, atol=1e-10)
        slope = xyz_to_lab_slope(xyz, white)
        for i in range(3):
            step = 1e-6 * np.eye(3)[i]
            by_step = (xyz_to_lab(xyz + step, white) - xyz_to_lab(xyz - step, white)) / 2e-6
            np.testing.assert_allclose(slope[:, i], by_step, rtol=1e-5, atol=1e-7)
    dark = np.full(31, 0.004)
    by_step = [(reflectance_to_lab(dark + 1e-7 * e) - reflectance_to_lab(dark - 1e-7 * e)) / 2e-7 for e in np.eye(31)]
    np.testing.assert_allclose(reflectance_to_lab_slope(dark), np.transpose(by_step), rtol=1e-5, atol=1e-4)
    assert lab_to_lch(np.array([50.0, -3.0, -4.0])).tolist() == pytest.approx([50.0, 5.0, 233.130102])


def test_differences_of_many_and_of_opposite_colours() -> None:
    r = np.random.default_rng(2)
    one, two = r.uniform(-60, 60, (2, 20_000, 3))
    one[:, 0], two[:, 0] = r.uniform(0, 100, (2, 20_000))
    many = de00(one, two)
    assert many.shape == (20_000,)
    at = [0, 16_383, 16_384, 19_999]
    np.testing.assert_allclose(many[at], [float(de00(one[i], two[i])) for i in at], rtol=1e-12)
    grid = de00(one[:200, None], two[None, :100])
    np.testing.assert_allclose(grid[7, 9], de00(one[7], two[9]))
    # opposite hues: the mean hue is half way round by the smaller angle, as the standard has it
    for a, b in (((50, 10, 0), (50, -10, 0)), ((50, 0, 10), (50, 0, -10)), ((50, -6, 8), (50, 6, -8))):
        left, right = np.array(a, float), np.array(b, float)
        near = right + np.array([0, 1e-9, 1e-9])
        assert float(de00(left, right)) == pytest.approx(float(de00(right, left)))
        assert float(de00_parts(left, right).hue) * float(de00_parts(right, left).hue) < 0
        assert np.isfinite(float(de00(left, near)))
    delta = cielab_delta(np.array([50.0, 3, 4]), np.array([52.0, 4, 3]))
    assert [float(v) for v in delta] == pytest.approx([2, 1, -1, 0, -np.sqrt(2), np.sqrt(6)])


def test_words_begin_where_a_part_is_seen() -> None:
    grey = np.array([50.0, 0, 0])
    assert difference_words(grey, grey + np.array([0.31, 0, 0])) == ["lighter"]
    assert difference_words(grey, grey - np.array([0.31, 0, 0])) == ["darker"]
    assert difference_words(grey, grey + np.array([0.29, 0, 0])) == []
    assert difference_words(grey, grey + np.array([0.29, 0, 0]), 0.2) == ["lighter"]
    # near the grey axis a* counts half as much again
    assert difference_words(grey, grey + np.array([0, 0.21, 0])) == ["redder"]
    assert difference_words(grey, grey + np.array([0, -0.21, 0])) == ["greener"]
    assert difference_words(grey, grey + np.array([0, 0.19, 0])) == []
    assert difference_words(grey, grey + np.array([0, 0.4, 0.5])) == ["redder", "yellower"]
    assert difference_words(grey, grey + np.array([0, 0.2, -0.5])) == ["bluer", "redder"]
    # from a chroma of six, on either side, it is cleaner and dirtier
    assert difference_words(np.array([50.0, 5.9, 0]), np.array([50.0, 5.0, 0]))[0] == "greener"
    assert difference_words(np.array([50.0, 6.1, 0]), np.array([50.0, 5.0, 0]))[0] == "dirtier"
    assert difference_words(np.array([50.0, 5.0, 0]), np.array([50.0, 6.1, 0]))[0] == "cleaner"


@pytest.mark.parametrize(
    ("hue", "up", "down"),
    [(0, "yellower", "bluer"), (45, "yellower", "redder"), (68, "greener", "redder"), (67, "yellower", "redder"),
     (90, "greener", "redder"), (135, "greener", "yellower"), (180, "bluer", "yellower"), (225, "bluer", "greener"),
     (270, "redder", "greener"), (315, "redder", "bluer"), (22, "yellower", "bluer"), (23, "yellower", "redder")],
)  # fmt: skip
def test_a_hue_turns_to_the_axis_ahead(hue: float, up: str, down: str) -> None:
    def at(degrees: float) -> np.ndarray:
        return np.array([50.0, 40 * np.cos(np.radians(degrees)), 40 * np.sin(np.radians(degrees))])

    assert difference_words(at(hue - 2), at(hue + 2))[0] == up
    assert difference_words(at(hue + 2), at(hue - 2))[0] == down


def test_a_swatch_is_the_colour_as_a_screen_shows_it() -> None:
    assert lab_to_hex(np.array([100.0, 0, 0])) == "#ffffff"
    assert lab_to_hex(np.array([0.0, 0, 0])) == "#000000"
    for levels in ([255, 0, 0], [18, 52, 86], [2, 9, 11], [200, 199, 7]):
        lab = srgb_to_lab(np.array(levels))
        np.testing.assert_array_equal(lab_to_srgb(lab), levels)
        assert lab_to_hex(lab) == "#" + "".join(f"{level:02x}" for level in levels)
        assert lost_on_screen(lab) == pytest.approx(0, abs=1e-9)
    assert float(srgb_to_lab(np.array([119, 119, 119]))[0]) == pytest.approx(50.03, abs=0.1)
    vivid = np.array([60.0, -80.0, 60.0])
    assert lost_on_screen(vivid) > 1
    clipped = lab_to_srgb(vivid)
    assert lost_on_screen(vivid) == pytest.approx(float(de00(vivid, srgb_to_lab(clipped))), abs=0.5)


def test_a_pair_is_looked_at_in_every_light() -> None:
    other = GREEN + 0.02 * np.sin((NM - 400) / 30)
    rows = in_every_light(GREEN, other, "D50", 2)
    assert tuple(row.light for row in rows) == LIGHTS
    for row in rows:
        labs = [reflectance_to_lab(one, row.light, 2) for one in (GREEN, other)]
        assert row.de00 == pytest.approx(float(de00(*labs)))
        assert row.metamerism == pytest.approx(float(metamerism_index(GREEN, other, "D50", row.light, 2)))
        assert row.target_inconstancy == pytest.approx(colour_inconstancy(GREEN, "D50", row.light, 2))
        assert row.recipe_inconstancy == pytest.approx(colour_inconstancy(other, "D50", row.light, 2))
    assert colour_inconstancy(GREEN, "D65", "D65") == pytest.approx(0, abs=1e-9)
    assert colour_inconstancy(np.full(31, 0.4), "D65", "A") == pytest.approx(0, abs=1e-9)


def test_metamerism_takes_off_what_the_reference_light_shows() -> None:
    """ISO 18314-4: the trial's tristimulus values are brought to the standard's by their ratio in the reference."""
    trial = GREEN * np.linspace(0.9, 1.1, 31)
    ratio = reflectance_to_xyz(GREEN, "D65", 10) / reflectance_to_xyz(trial, "D65", 10)
    in_a = reflectance_to_xyz(trial, "A", 10) * ratio
    expected = de00(reflectance_to_lab(GREEN, "A", 10), xyz_to_lab(in_a, white_point("A", 10)))
    assert float(metamerism_index(GREEN, trial, "D65", "A", 10)) == pytest.approx(float(expected))
    assert np.isfinite(metamerism_index(GREEN, np.zeros(31)))


def test_the_smoothest_spectrum_is_flat_for_a_grey_and_smoother_than_the_paints_own() -> None:
    def of(lab: np.ndarray) -> np.ndarray:
        return smoothest_spectrum(float(lab[0]), lambda r: (reflectance_to_lab(r) - lab, reflectance_to_lab_slope(r)))

    for value in (0.05, 0.5, 0.9):
        np.testing.assert_allclose(of(reflectance_to_lab(np.full(31, value))), value, atol=2e-3)
    lab = reflectance_to_lab(GREEN)
    found = of(lab)
    np.testing.assert_allclose(reflectance_to_lab(found), lab, atol=1e-3)
    logit = [np.log(one / (1 - one)) for one in (found, GREEN)]
    rough = [float((np.diff(one) ** 2).sum()) for one in logit]
    assert rough[0] < rough[1]
    # no change that no eye sees would be smoother
    unseen = np.linalg.svd(reflectance_to_lab_slope(found) * found * (1 - found))[2][3:]
    difference = np.diff(np.eye(31), axis=0)
    pull = difference.T @ difference @ logit[0]
    assert np.abs(unseen @ pull).max() < 0.02 * np.linalg.norm(pull)
    assert (of(np.array([-1.0, 0, 0])) > 0).all()


def test_a_white_is_a_white_up_to_its_limits() -> None:
    assert off_white(np.array([81.9, 0, 0])) is None
    assert off_white(np.array([82.0, 0, 0])) is not None
    assert off_white(np.array([90.0, 22.1, 0])) is None
    assert off_white(np.array([90.0, 22.0, 0])) is not None
    neutral = off_white(np.array([95.0, 0.1, 0.1]))
    assert neutral is not None
    assert (neutral.yellowness, neutral.tint_word, neutral.cream) == (None, "", False)
    assert neutral.whiteness is not None
    words = ("pinkish", "orange", "yellow", "greenish yellow", "greenish", "blue-green", "bluish", "violet")
    for i, word in enumerate(words):
        for degrees in (45 * i - 22, 45 * i + 22):
            hue = np.radians(degrees)
            found = off_white(np.array([95.0, 2.1 * np.cos(hue), 2.1 * np.sin(hue)]))
            assert found is not None
            assert found.tint_word == word
            assert found.hue_degrees == pytest.approx(degrees % 360)
    faint = off_white(np.array([95.0, 1.9, 0]))
    assert faint is not None
    assert faint.tint_word == ""


def test_indices_are_given_where_they_mean_something() -> None:
    """The first b* whose yellowness is twelve is a cream, and a whiteness ends at a Munsell chroma of 0.8."""
    creams = [off_white(np.array([92.0, -0.5, b])) for b in np.arange(3.0, 12.0, 0.25)]
    for found in creams:
        assert found is not None
        assert found.cream == (found.yellowness is not None and found.yellowness >= 12)
        xyz = lab_to_xyz(np.array([92.0, -0.5, 0]), white_point())
        assert found.whiteness is None or xyz[1] > 65
    assert {found.cream for found in creams if found} == {True, False}
    white = white_point("D65", 10)
    whiteness, tint = whiteness_e313(white)
    assert (float(whiteness), float(tint)) == pytest.approx((100, 0), abs=0.2)
    for hue, limit in ((95.0, 0.8), (220.0, 0.5), (150.0, 0.3), (0.0, 0.3)):
        step = 1 / munsell_chroma(1.0, hue)
        for share, holds in ((0.98, True), (1.02, False)):
            chroma = share * limit * step
            lab = np.array([95.0, chroma * np.cos(np.radians(hue)), chroma * np.sin(np.radians(hue))])
            assert whiteness_holds(lab, 80.0) == holds
            assert not whiteness_holds(lab, 65.0)
    with pytest.raises(InputError) as caught:
        yellowness_e313(white, "A", 10)
    assert str(caught.value) == ("A, 10°: the indices of ASTM E313 are not defined there; use D65 (or C) with 2 or 10")
