"""Invented prints of the shop's card: four inks laid down as dots by some office printer, on some paper.

Neugebauer's equations with the exponent of Yule and Nielsen: what a print of halftone dots reads from what its inks
read over each other (Wyble and Berns, Color Res. Appl. 25 (2000) 4). The inks are made up: humps of density, as cyan,
magenta, yellow and black have them.
"""

from __future__ import annotations

from functools import cache

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import least_squares

from finishmatch.colour import reflectance_to_lab
from finishmatch.colour.display import srgb_to_lab
from finishmatch.photo.card.layout import card_layout
from finishmatch.readings.reading import Reading

Floats = NDArray[np.float64]
_NM = np.arange(400.0, 701.0, 10.0)
_OVERPRINTS = np.array([[(number >> ink) & 1 for ink in range(4)] for number in range(16)])


def _hump(r: np.random.Generator, middle_nm: float, width_nm: float, density: float) -> Floats:
    """Return a hump of density steeper on one side, with a little density everywhere, a tenth off what is usual."""
    middle, width = middle_nm + r.normal(0, 7), width_nm * r.lognormal(0, 0.12)
    side = np.where(middle > _NM, r.uniform(0.8, 1.4), r.uniform(0.7, 1.2))
    hump = np.exp(-(np.abs((_NM - middle) / (width * side)) ** r.uniform(1.7, 2.6)))
    return density * r.lognormal(0, 0.1) * (hump + r.uniform(0.01, 0.07))


@cache
def invented_print(seed: int) -> dict[str, Floats]:
    """Return the spectra, shape (31,), of the fields of an invented print, by their names.

    The printer lays down what comes nearest to the colour that was meant, and errs by a few hundredths of cover.
    """
    r = np.random.default_rng(seed)
    paper = r.uniform(0.82, 0.92) - r.uniform(0.02, 0.14) * np.exp(-(_NM - 400) / r.uniform(15, 35))
    black = r.uniform(1.4, 1.8) * (1 + r.normal(0, 0.08) * (_NM - 550) / 150)
    inks = np.stack([_hump(r, 640, 75, 1.4), _hump(r, 545, 48, 1.4), _hump(r, 430, 52, 1.35), black])
    surface, exponent = r.uniform(0.008, 0.02), r.uniform(1.0, 3.0)
    solids = (surface + (paper - surface) * 10 ** -(_OVERPRINTS @ inks)) ** (1 / exponent)

    def laid(cover: Floats) -> Floats:
        shares = np.prod(np.where(_OVERPRINTS == 1, cover, 1 - cover), axis=1)
        return np.asarray((shares @ solids) ** exponent)

    found = {}
    for field in card_layout().patches:
        grey = len(set(field.srgb)) == 1  # laid down in black alone
        most = np.array([1e-6] * 3 + [1.0]) if grey else np.array([1.0, 1.0, 1.0, 0.5])
        wanted = srgb_to_lab(np.array(field.srgb, dtype=float))
        cover = least_squares(
            lambda cover, wanted=wanted: reflectance_to_lab(laid(cover), "D50", 2) - wanted,
            0.4 * most,
            bounds=(0, most),
            ftol=1e-3,
        ).x
        astray = np.clip(cover + r.normal(0, 0.03, 4) * (most > 0.01) * (field.name != "white"), 0, most)
        found[field.name] = paper if field.name == "white" else laid(astray)
    return found


def registered_print(spectra: dict[str, Floats], seed: int) -> dict[str, Reading]:
    """Return what an instrument reads of a print, two readings a field: noise, and a scale that is a little off."""
    r = np.random.default_rng(seed)
    scale = r.normal(1, 0.003)
    return {
        name: Reading(name, scale * spectrum * (1 + r.normal(0, 0.002, (2, 31))) + r.normal(0, 0.0008, (2, 31)))
        for name, spectrum in spectra.items()
    }
