"""A camera that isn't the eye, and what it sees of mixtures of a bank."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import numpy as np

from booth.banks import shelf
from finishmatch.colour import Floats, reflectance_to_lab, weights
from finishmatch.evidence.target import ColourTarget, colour_target
from finishmatch.optics import TintOptics, predicted_reflectance
from finishmatch.optics.camera_look import CameraLook, value_roots
from finishmatch.photo.correct.paints import paint_lab, paint_spectra
from finishmatch.readings import Reading

BANK, OPTICS = shelf(61, 9)
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


def mixture(grams: Floats = GRAMS) -> Floats:
    return np.asarray(predicted_reflectance(replace(OPTICS, draws=None), grams))
