"""Colour inconstancy; and a pair in every light: its difference, its metamerism, and how inconstant each colour is."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from finishmatch.colour import (
    LIGHTS,
    Floats,
    de00,
    metamerism_index,
    reflectance_to_lab,
    reflectance_to_xyz,
    white_point,
    xyz_to_lab,
)

# CAT02: the matrix of CIECAM02 (CIE 159:2004), full adaptation
_CAT02 = np.array([[0.7328, 0.4296, -0.1624], [-0.7036, 1.6975, 0.0061], [0.0030, 0.0136, 0.9834]])


@dataclass(frozen=True)
class LightRow:
    """A match in one light, ΔE00: the pair's difference, its metamerism index, and each one's colour inconstancy."""

    light: str
    de00: float
    metamerism: float
    target_inconstancy: float
    recipe_inconstancy: float


def in_every_light(
    target: Floats, recipe: Floats, reference: str = "D65", observer: int = 10, lights: tuple[str, ...] = LIGHTS
) -> tuple[LightRow, ...]:
    """Return how a pair of spectra, each of shape (31,), fares in each light against a reference light."""
    return tuple(
        LightRow(
            light,
            float(de00(reflectance_to_lab(target, light, observer), reflectance_to_lab(recipe, light, observer))),
            float(metamerism_index(target, recipe, reference, light, observer)),
            colour_inconstancy(target, reference, light, observer),
            colour_inconstancy(recipe, reference, light, observer),
        )
        for light in lights
    )


def colour_inconstancy(reflectance: Floats, reference: str, test: str, observer: int = 10) -> float:
    """Return how much a colour seems to change from the reference light to a test light to an adapted eye, ΔE00.

    The tristimulus values under the test light are brought to the reference light by CAT02 with full adaptation, and
    compared with those under it.

    References
    ----------
    The form of CMCCON02 (Luo, Li, Hunt, Rigg and Smith 2003), with ΔE00 as its formula; CIE 159:2004.
    """
    old, new = white_point(test, observer), white_point(reference, observer)
    gain = (_CAT02 @ new) / (_CAT02 @ old)
    adapted = np.linalg.solve(_CAT02, gain * (_CAT02 @ reflectance_to_xyz(reflectance, test, observer)))
    return float(de00(reflectance_to_lab(reflectance, reference, observer), xyz_to_lab(adapted, new)))
