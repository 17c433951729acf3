"""What cameras saw of panels: how it moves with spectra, stands beside colours, and what it tells of a bank."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from finishmatch.colour import WAVELENGTHS_NM, Floats, de00, reflectance_to_lab
from finishmatch.optics import Bank, Panel, Tint, fit_bank, mixture_reflectance, predicted_reflectance
from finishmatch.optics.bank import SeenColour
from finishmatch.optics.camera_look import PLAIN_TO, CameraLook, LookRows, to_lab_by_roots, value_roots
from finishmatch.optics.seen_panels import by_camera, seen_rows, stand_in, with_rows_below
from finishmatch.optics.surface import usual_surface

SURFACE = usual_surface(1.5, "45/0")
NAMES = ("white", "blue", "red", "yellow")


def _band(centre: float, width: float) -> Floats:
    return np.asarray(np.exp(-0.5 * ((WAVELENGTHS_NM - centre) / width) ** 2))


def _camera() -> Floats:
    """Sensors unlike the eye's, evened to a white of 1."""
    response = np.stack([_band(595, 35), _band(540, 38), _band(455, 28)], axis=1)
    return np.asarray(response / response.sum(axis=0))


def _look(spectrum: Floats, misfit: float = 0.01, light: str = "D65") -> CameraLook:
    response = _camera()
    values = spectrum @ response
    by_value = np.diag([40.0, 60.0, 50.0]) + 10.0
    return CameraLook(light, response, values, to_lab_by_roots(by_value, values), reflectance_to_lab(spectrum), misfit)


def _pigments() -> tuple[Floats, Floats]:
    K = np.stack(
        [
            2e-3 + 0.8 / (1 + np.exp((WAVELENGTHS_NM - 398) / 6)),
            0.05 + 9 * _band(625, 42) + 2 * _band(700, 40),
            0.05 + 5 * _band(520, 40) + 2 * _band(420, 40),
            0.02 + 4 / (1 + np.exp((WAVELENGTHS_NM - 505) / 9)),
        ]
    )
    S = np.array([1.0, 0.15, 0.3, 0.35])[:, None] * np.ones_like(K)
    return K, S


def _grams() -> Floats:
    rows = [[100.0, 0, 0, 0]]
    for tint in (1, 2, 3):
        for share in (3.0, 12.0):
            row = [0.0] * 4
            row[0], row[tint] = 100 - share, share
            rows.append(row)
    return np.array(rows)


def _bank(off: Floats, looks: bool) -> Bank:
    """Panels whose colours a camera read off alike for each tint; the looks say what it saw."""
    K, S = _pigments()
    tints = tuple(Tint(name, "white" if name == "white" else "tint", "", 1.0, 1.0, 0.0, 1000.0) for name in NAMES)
    panels = []
    for grams in _grams():
        spectrum = mixture_reflectance(grams, K, S, SURFACE)
        tint = int(grams[1:].argmax()) + 1 if grams[0] < 100 else 0
        lab = reflectance_to_lab(spectrum) + off[tint]
        seen = by_camera(lab, np.eye(3) * 1.2**2, "one")
        seen = replace(seen, looks=(_look(spectrum),)) if looks else seen
        parts = tuple((name, float(g)) for name, g in zip(NAMES, grams, strict=True) if g > 0)
        panels.append(Panel(" ".join(f"{g:g}" for g in grams), parts, None, None, stand_in(seen, SURFACE)[None], seen))
    return Bank("seen", "45/0", 1.5, tints, tuple(panels), (), "")


def _by_how_much_off(bank: Bank) -> Floats:
    optics = fit_bank(bank).optics
    grams = np.array([[90.0, 5, 0, 5], [90, 0, 5, 5], [92, 5, 3, 0], [80, 4, 4, 12]])
    truth = mixture_reflectance(grams, *_pigments(), SURFACE)
    found = predicted_reflectance(replace(optics, draws=None), grams)
    return np.asarray(
        [de00(reflectance_to_lab(t, "A"), reflectance_to_lab(f, "A")) for t, f in zip(truth, found, strict=True)]
    )


def test_how_a_look_moves_with_a_spectrum_is_its_slope() -> None:
    spectrum = 0.3 + 0.2 * _band(560, 60)
    rows = LookRows.of(2, [_look(spectrum), _look(0.5 * spectrum)])
    assert rows.are.tolist() == [False, False, True, True]
    spectra = np.stack([spectrum, 0.5 * spectrum]) * 1.05
    slopes, step = rows.slopes(spectra), 1e-6
    for w in (0, 9, 18, 30):
        moved = spectra.copy()
        moved[:, w] += step
        np.testing.assert_allclose(slopes[:, :, w], (rows.off(moved) - rows.off(spectra)) / step, rtol=1e-4, atol=1e-6)
    np.testing.assert_allclose(rows.off(np.stack([spectrum, 0.5 * spectrum])), 0, atol=1e-12)


def test_roots_go_on_below_nothing() -> None:
    values = np.linspace(-0.01, 1.2, 400)
    assert (np.diff(value_roots(values)) > 0).all()
    np.testing.assert_allclose(value_roots(np.array([0.125, 1.0])), [0.5, 1.0], atol=1e-3)


def test_the_worse_a_camera_explains_its_chart_the_less_its_look_says() -> None:
    spectrum = np.full(31, 0.4)
    plain, worked_on = _look(spectrum, PLAIN_TO), _look(spectrum, 5 * PLAIN_TO)
    np.testing.assert_allclose(worked_on.covariance(0.4), 25 * plain.covariance(0.4))
    np.testing.assert_allclose(_look(spectrum, 0.0).covariance(0.4), plain.covariance(0.4))


def test_looks_stand_below_the_colours_with_their_panel_and_their_picture() -> None:
    bank = _bank(np.zeros((4, 3)), looks=True)
    seen = seen_rows(bank.panels, np.eye(4)[[0, 1, 1, 2, 2, 3, 3]])
    assert seen is not None
    assert seen.looks is not None
    count = len(bank.panels)
    assert seen.rows.tolist() == [*range(count), *range(count)]
    assert seen.colours.tolist() == [True] * count + [False] * count
    plain = seen_rows(
        [replace(one, seen=replace(one.seen, looks=())) for one in bank.panels], np.eye(4)[[0, 1, 1, 2, 2, 3, 3]]
    )  # type: ignore[type-var]
    assert plain is not None
    np.testing.assert_array_equal(seen.shared[:count, 0], plain.shared[:, 0])
    assert not seen.shared[count:, 0].any()  # what the picture's colours are off by isn't what its values are
    exchanged = seen.exchanged(1, 3)
    assert exchanged.looks is not None
    for now, was in ((1, 3), (3, 1), (count + 1, count + 3), (count + 3, count + 1)):
        np.testing.assert_array_equal(exchanged.labs[now], seen.labs[was])
        np.testing.assert_array_equal(exchanged.looks.roots[now], seen.looks.roots[was])
    some = seen.chosen(np.arange(count) != 2)
    assert some is not None
    assert some.looks is not None
    assert len(some.rows) == len(some.looks.are) == 2 * (count - 1)
    below = with_rows_below(seen, count, [None, SeenColour(np.array([50.0, 0, 0]), np.eye(3), "", np.zeros((3, 3)))])
    assert below is not None
    assert below.looks is not None
    assert below.looks.are.tolist() == [*seen.looks.are.tolist(), False]
    assert below.rows[-1] == count + 1


def test_looks_in_further_pictures_tell_little_more_and_those_in_another_light_are_others() -> None:
    panel = _bank(np.zeros((4, 3)), looks=True).panels[1]
    spectrum = mixture_reflectance(_grams()[1], *_pigments(), SURFACE)

    def own(*lights: str) -> float:
        panels = [
            replace(panel, seen=replace(panel.seen, picture=str(i), looks=(_look(spectrum, light=light),)))
            for i, light in enumerate(lights)
        ]  # type: ignore[type-var]
        seen = seen_rows(panels, np.eye(4)[[1] * len(panels)])
        assert seen is not None
        return float(np.trace(seen.covariance[-1]))

    assert own("D65", "D65") == pytest.approx(1.9 * own("D65"))
    assert own("D65", "A") == pytest.approx(own("D65"))


def test_mixtures_come_nearer_by_what_the_camera_saw_than_by_its_colours_alone() -> None:
    off = np.array([[0, 0.3, -0.3], [0.4, 1.4, -1.0], [0.3, -1.2, 0.9], [-0.4, 0.8, 1.5]])
    with_looks, without = (_by_how_much_off(_bank(off, looks)) for looks in (True, False))
    print(f"\noff under A {np.round(with_looks, 2)} with looks, {np.round(without, 2)} by colours alone")
    assert (with_looks < without).all()
    assert with_looks.mean() < 0.8 * without.mean()


def test_of_very_many_looks_those_in_daylight_come_first(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("finishmatch.optics.seen_panels.MOST_LOOKS", 9)
    panels = []
    for panel in _bank(np.zeros((4, 3)), looks=True).panels:
        assert panel.seen is not None
        look = panel.seen.looks[0]
        panels.append(replace(panel, seen=replace(panel.seen, looks=(replace(look, light="A"), look))))
    seen = seen_rows(panels, np.eye(4)[[0, 1, 1, 2, 2, 3, 3]])
    assert seen is not None
    assert seen.looks is not None
    assert seen.rows[seen.looks.are].tolist() == [*range(7), 0, 1]
