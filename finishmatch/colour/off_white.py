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

# Observer: chromaticities of 570 and 580 nm, between whose directions from the white a dominant wavelength must lie for
# a yellowness to mean anything (ASTM E313-20, 5.2). CIE 15:2018, by colour-science.
YELLOW_LOCUS_XY = {
    2: ((0.444062, 0.555714), (0.512486, 0.486591)),
    10: ((0.479038, 0.520962), (0.538560, 0.461440)),
}
# Hue angle, degrees, and how much C*ab a step of Munsell chroma is there: the renotation at value 9, by colour-science
MUNSELL_STEP = (
    (15.2, 2.81), (30.1, 3.21), (66.2, 5.44), (84.7, 7.18), (92.6, 7.87), (99.3, 8.42), (108.0, 9.07), (118.0, 9.10),
    (157.5, 7.21), (181.3, 5.91), (198.8, 5.02), (209.5, 4.47), (219.4, 3.99), (238.5, 3.24), (266.4, 2.77),
    (308.2, 2.66), (375.2, 2.81),
)  # fmt: skip
# Greatest Munsell chroma of a white whose whiteness means anything, by hue (blue, yellow, others), and the least Y
WHITE_BLUE, WHITE_YELLOW, WHITE_OTHER, WHITE_LEAST_Y = 0.5, 0.8, 0.3, 65.0
BLUE_HUES, YELLOW_HUES = (198.8, 238.5), (84.7, 108.0)  # 10BG to 10B, 10YR to 10Y
LEAST_CHROMA = 0.3  # of C*ab: below it there is no hue to speak of («common practice»)

# What a painter would call white at all, and when it is rather a cream («common practice»)
WHITE_FROM_L = 82.0
WHITE_CHROMA = 22.0
CREAM_YELLOWNESS = 12.0
TINTED_CHROMA = 2.0
_HUES = ("pinkish", "orange", "yellow", "greenish yellow", "greenish", "blue-green", "bluish", "violet")


@dataclass(frozen=True)
class OffWhite:
    """A near-white: its indices, the hue of its tint in degrees and in a word, and whether it is a cream.

    Yellowness is None, and whiteness with the tint index too, where ASTM E313 doesn't mean them to be used.
    """

    yellowness: float | None
    whiteness: float | None
    tint: float | None
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


def munsell_chroma(chroma: float, hue: float) -> float:
    """Return about which Munsell chroma a near-white has.

    Parameters
    ----------
    chroma, hue : float
        C*ab and the hue angle in degrees.

    References
    ----------
    The Munsell renotation at value 9, by colour-science; whites lighter or darker are judged alike.
    """
    angles, steps = zip(*MUNSELL_STEP, strict=True)
    return chroma / float(np.interp((hue - angles[0]) % 360 + angles[0], angles, steps))


def yellowness_holds(xyz: Floats, observer: int = 10) -> bool:
    """Return whether a yellowness means anything: the dominant wavelength is 570 to 580 nm (ASTM E313-20, 5.2).

    Parameters
    ----------
    xyz : array_like, shape (3,)
        Under D65.
    observer : int
        2 or 10 (degrees).
    """
    xyz = np.asarray(xyz, dtype=float)
    white = np.array(WHITE_XY["D65", observer])

    def direction(xy: Floats) -> float:
        return float(np.arctan2(*(xy - white)[::-1]))

    low, high = (direction(np.array(xy)) for xy in reversed(YELLOW_LOCUS_XY[observer]))
    return low <= direction(xyz[:2] / max(float(xyz.sum()), 1e-12)) <= high


def whiteness_holds(lab: Floats, luminance: float) -> bool:
    """Return whether a whiteness means anything: Munsell chroma at most 0.5 (B), 0.8 (Y), 0.3 (others), Y over 65.

    Parameters
    ----------
    lab : array_like, shape (3,)
    luminance : float
        Y, 100 for the perfect diffuser.

    References
    ----------
    ASTM E313-20, 5.2.
    """
    _, chroma, hue = (float(value) for value in lab_to_lch(lab))
    limit = WHITE_OTHER
    for limits, (low, high) in ((WHITE_BLUE, BLUE_HUES), (WHITE_YELLOW, YELLOW_HUES)):
        if low <= hue % 360 <= high:
            limit = limits
    return luminance > WHITE_LEAST_Y and munsell_chroma(chroma, hue) <= limit


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
        None below L* 82 or above a chroma of 22; a cream from a yellowness of 12 («common practice»), where yellowness
        means anything.
    """
    lightness, chroma, hue = (float(value) for value in lab_to_lch(lab))
    if lightness < WHITE_FROM_L or chroma > WHITE_CHROMA:
        return None
    xyz = lab_to_xyz(lab, white_point("D65", observer))
    yellowness = whiteness = tint = None
    if chroma >= LEAST_CHROMA and yellowness_holds(xyz, observer):
        yellowness = float(yellowness_e313(xyz, "D65", observer))
    if whiteness_holds(lab, float(xyz[1])):
        whiteness, tint = (float(index) for index in whiteness_e313(xyz, "D65", observer))
    word = "" if chroma < TINTED_CHROMA else _HUES[int((hue + 22.5) // 45) % 8]
    return OffWhite(yellowness, whiteness, tint, hue, word, yellowness is not None and yellowness >= CREAM_YELLOWNESS)
