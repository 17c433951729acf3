"""What the gloss of a surface does to a colour: it adds the same share of the light to every wavelength."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from finishmatch.colour.cielab import lab_to_xyz, xyz_to_lab
from finishmatch.colour.grid import Floats
from finishmatch.colour.tristimulus import white_point

_LEAST = 1e-4  # of white: without its gloss no colour is darker
_STEP = 0.01  # of L*, a*, b*, for slopes


def lab_with_gloss(lab: Floats, surface: float, light: str, observer: int) -> Floats:
    """Return CIELAB, shape (..., 3), with the share of the light that the surface throws back."""
    white = white_point(light, observer)
    return np.asarray(xyz_to_lab(lab_to_xyz(lab, white) + surface * white, white))


def lab_without_gloss(lab: Floats, surface: float, light: str, observer: int) -> Floats:
    """Return CIELAB, shape (..., 3), without the share of the light that the surface throws back."""
    white = white_point(light, observer)
    return np.asarray(xyz_to_lab(np.maximum(lab_to_xyz(lab, white) - surface * white, _LEAST * white), white))


def covariance_through(change: Callable[[Floats], Floats], lab: Floats, *covariances: Floats) -> tuple[Floats, ...]:
    """Return covariances of CIELAB, shape (3, 3) each, after a change of it, to first order about a colour."""
    slope = np.stack([(change(lab + step) - change(lab)) / _STEP for step in _STEP * np.eye(3)], axis=1)
    return tuple(slope @ covariance @ slope.T for covariance in covariances)
