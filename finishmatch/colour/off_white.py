"""How far a white is from white: the yellowness and whiteness indices of ASTM E313, and the tint."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from finishmatch.colour.cielab import lab_to_lch, lab_to_xyz
from finishmatch.colour.grid import Floats
from finishmatch.colour.tristimulus import white_point
from finishmatch.errors import InputError

# light and observer: coefficients of X and Z in the yellowness index, ASTM E313 table 1
YELLOWNESS = {
    ("C", 2): (1.2769, 1.0592),
    ("C", 10): (1.2871, 1.0781),
    ("D65", 2): (1.2985, 1.1335),
    ("D65", 10): (1.3013, 1.1498),
}
# light and observer: chromaticity of the perfect diffuser, and the weight of x in the tint index
WHITE_XY = {
    ("C", 2): (0.3101, 0.3161),
    ("C", 10): (0.3104, 0.3191),
    ("D65", 2): (0.3127, 0.3290),
    ("D65", 10): (0.3138, 0.3310),
}
TINT_X = {2: 1000.0, 10: 900.0}

# What a painter would call white at all, and when it is rather a cream («common practice»)
WHITE_FROM_L = 82.0
WHITE_CHROMA = 22.0
CREAM_YELLOWNESS = 12.0
TINTED_CHROMA = 2.0
_HUES = ("pinkish", "orange", "yellow", "greenish yellow", "greenish", "blue-green", "bluish", "violet")


@dataclass(frozen=True)
class OffWhite:
    """A near-white: its indices, the hue of its tint in degrees and in a word, and whether it is a cream."""

    yellowness: float
    whiteness: float
    tint: float
    hue_degrees: float
    tint_word: str
    cream: bool


def _conditions(light: str, observer: int) -> tuple[str, int]:
    if (light, observer) not in YELLOWNESS:
        raise InputError(
            f"{light}, {observer}°", "the indices of ASTM E313 are not defined there", "use D65 (or C) with 2 or 10"
        )
    return light, observer


def yellowness_e313(xyz: Floats, light: str = "D65", observer: int = 10) -> Floats:
    """Return the yellowness index YI of ASTM E313, 100 (Cx X - Cz Z) / Y.

    Parameters
    ----------
    xyz : array_like, shape (..., 3)
        Tristimulus values under that light, Y = 100 for the perfect diffuser.
    light : str
        "C" or "D65".
    observer : int
        2 or 10 (degrees).

    Returns
    -------
    ndarray, shape (...)
        About 0 for the perfect diffuser; positive is yellow.

    Raises
    ------
    InputError
        For another light or observer.
    """
    cx, cz = YELLOWNESS[_conditions(light, observer)]
    xyz = np.asarray(xyz, dtype=float)
    index: Floats = 100 * (cx * xyz[..., 0] - cz * xyz[..., 2]) / np.maximum(xyz[..., 1], 1e-12)
    return index


def whiteness_e313(xyz: Floats, light: str = "D65", observer: int = 10) -> tuple[Floats, Floats]:
    """Return the whiteness index WI and the tint index T of ASTM E313.

    Parameters
    ----------
    xyz, light, observer
        As in `yellowness_e313`.

    Returns
    -------
    whiteness, tint : ndarray, shape (...)
        WI is 100 for the perfect diffuser; T is positive for a greenish, negative for a reddish white. They are meant
        for whites: 40 < WI < 5 Y - 280 and -3 < T < 3.

    Raises
    ------
    InputError
        For another light or observer.
    """
    light, observer = _conditions(light, observer)
    xn, yn = WHITE_XY[light, observer]
    xyz = np.asarray(xyz, dtype=float)
    total = np.maximum(xyz.sum(axis=-1), 1e-12)
    dx, dy = xn - xyz[..., 0] / total, yn - xyz[..., 1] / total
    return xyz[..., 1] + 800 * dx + 1700 * dy, TINT_X[observer] * dx - 650 * dy


def off_white(lab: Floats, observer: int = 10) -> OffWhite | None:
    """Return what a near-white is, or None for a colour nobody would call white.

    Parameters
    ----------
    lab : array_like, shape (3,)
        CIELAB under D65.
    observer : int
        2 or 10 (degrees).

    Returns
    -------
    OffWhite or None
        None below L* 82 or above a chroma of 22; a cream from a yellowness of 12 («common practice»).
    """
    lightness, chroma, hue = (float(value) for value in lab_to_lch(lab))
    if lightness < WHITE_FROM_L or chroma > WHITE_CHROMA:
        return None
    xyz = lab_to_xyz(lab, white_point("D65", observer))
    whiteness, tint = whiteness_e313(xyz, "D65", observer)
    yellowness = float(yellowness_e313(xyz, "D65", observer))
    word = "" if chroma < TINTED_CHROMA else _HUES[int((hue + 22.5) // 45) % 8]
    return OffWhite(yellowness, float(whiteness), float(tint), hue, word, yellowness >= CREAM_YELLOWNESS)
