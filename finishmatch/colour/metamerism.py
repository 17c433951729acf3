"""Special metamerism index: the difference in a test light of a pair made to match in the reference light."""

from __future__ import annotations

import numpy as np

from finishmatch.colour.cielab import xyz_to_lab
from finishmatch.colour.difference import de00
from finishmatch.colour.grid import Floats
from finishmatch.colour.tristimulus import reflectance_to_xyz, white_point


def metamerism_index(
    standard: Floats, trial: Floats, reference: str = "D65", test: str = "A", observer: int = 10
) -> Floats:
    """Return the special metamerism index for a change of light, in ΔE00.

    The trial's tristimulus values in the test light are multiplied by the ratio of standard to trial in the
    reference light, so that a pair that differs everywhere isn't called metameric.

    Parameters
    ----------
    standard, trial : array_like, shape (..., 31)
        Reflectance factors on the house grid.
    reference, test : str
        CIE names of the lights.
    observer : int
        2 or 10.

    Returns
    -------
    ndarray
        The broadcast shape less its last axis.

    References
    ----------
    CIE 15:2018 §9.2 with multiplicative correction; ISO 18314-4; ΔE00 in place of ΔE*ab.
    """
    tiny = 1e-9
    in_reference = reflectance_to_xyz(standard, reference, observer) / np.maximum(
        reflectance_to_xyz(trial, reference, observer), tiny
    )
    white = white_point(test, observer)
    corrected = reflectance_to_xyz(trial, test, observer) * in_reference
    return de00(xyz_to_lab(reflectance_to_xyz(standard, test, observer), white), xyz_to_lab(corrected, white))
