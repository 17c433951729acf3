"""Tinting strength and its kin, as ISO 18314-2 asks of a pair of letdowns."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from finishmatch.colour import WAVELENGTHS_NM, Floats
from finishmatch.optics.film import k_over_s
from finishmatch.optics.surface import Surface, internal


class TintingStrength(NamedTuple):
    """K/S of sample and reference where the reference absorbs most, that wavelength (nm), and the strength, percent."""

    wavelength_nm: float
    sample_k_over_s: float
    reference_k_over_s: float
    strength_percent: float


def tinting_strength(sample: Floats, reference: Floats, surface: Surface) -> TintingStrength:
    """Compare the strength of two letdowns of the same proportions at the absorption maximum.

    Parameters
    ----------
    sample, reference : ndarray, shape (31,)
        Readings of hiding letdowns.
    surface : Surface
        Its k1, k2 and whether the readings hold the specular part.

    Returns
    -------
    TintingStrength
        100 percent when the two are alike; the reference must absorb somewhere.

    References
    ----------
    ISO 18314-2: (K/S of sample) / (K/S of reference) · 100 at the maximum of K/S of the reference, K/S by Kubelka and
    Munk of readings freed of the surface by Saunderson.
    """
    ours, theirs = k_over_s(internal(sample, surface)), k_over_s(internal(reference, surface))
    at = int(np.argmax(theirs))
    return TintingStrength(
        float(WAVELENGTHS_NM[at]), float(ours[at]), float(theirs[at]), 100 * float(ours[at] / theirs[at])
    )
