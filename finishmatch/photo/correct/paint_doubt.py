"""What known colours leave open of other paints: few inks tell little of what a camera makes of each wavelength.

The fields of a print are mixtures of four inks, so one field left out is foretold by the others far better than a paint
is. What a paint may be off by is told instead by how far the camera's response is left open, in that paint's spectrum.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from finishmatch.colour import Floats, de00_metric
from finishmatch.photo.correct.capture import undo
from finishmatch.photo.correct.paint_prior import PaintFit, paint_lab, paint_spectra, real_paints

OPEN_SHARE = 0.45  # of what the response is left open by; its prior is wide («measured on rendered pictures»)
NEAR_LAB, NEAR_MANY = 8.0, 8  # paints this near a colour speak for it, or as many where none is


@dataclass(frozen=True)
class PaintDoubt:
    """How far the colours of paints may be off.

    Parameters
    ----------
    fit : PaintFit
    lab : ndarray, shape (n, 3)
        CIELAB of the family of paints.
    variances : ndarray, shape (n, 3)
        Of their camera values, as far as the response is left open.
    misses : ndarray, shape (n,)
        By what the interpolation is off at them, ΔE00².
    """

    fit: PaintFit
    lab: Floats
    variances: Floats
    misses: Floats

    def squared(self, linear: Floats, place: Floats) -> float:
        """Return the mean square by which a paint of some camera values, (3,), at a place, (2,), may be off, ΔE00²."""
        values = undo(self.fit.numbers, linear[None], place[None])
        lab = self.fit.interpolation.lab(values)
        apart = ((self.lab - lab) ** 2).sum(axis=1)
        reach = max(NEAR_LAB**2, float(np.partition(apart, NEAR_MANY)[NEAR_MANY]))
        weights = np.exp(-apart / (2 * reach))
        weights /= weights.sum()
        seen = de00_metric(lab)[0] @ self.fit.interpolation.slopes(values)[0]
        left_open = float((seen**2).sum(axis=0) @ (weights @ self.variances))
        return OPEN_SHARE**2 * left_open + float(weights @ self.misses)


def paint_doubt(fit: PaintFit, light: str, observer: int) -> PaintDoubt:
    """Return what the known colours of a fit leave open of other paints.

    Parameters
    ----------
    fit : PaintFit
    light, observer
        What the colours are told in.
    """
    spectra, lab = paint_spectra(), paint_lab(light, observer)
    seen = spectra @ fit.camera.response
    real = real_paints(seen)
    variances = np.stack(
        [((spectra[real] @ left) * spectra[real]).sum(axis=1) for left in fit.camera.left_open], axis=1
    )
    off = np.einsum("nij,nj->ni", de00_metric(lab[real]), fit.interpolation.lab(seen[real]) - lab[real])
    return PaintDoubt(fit, lab[real], np.maximum(variances, 0), (off**2).sum(axis=1))
