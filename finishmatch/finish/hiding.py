"""How thick a film must be to hide, from one reading of its contrast ratio over a chart."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import lru_cache
from math import exp, log

import numpy as np
import scipy  # its `optimize`, slow to import, is loaded by the first paint whose build is solved for

from finishmatch.colour import Floats, de00, reflectance_to_lab, reflectance_to_xyz
from finishmatch.errors import InputError
from finishmatch.optics.beam import film_reading, hiding_k_over_s
from finishmatch.optics.surface import Surface, fresnel_diffuse_internal, fresnel_normal

LEAST_Y = 15.0  # of a paint whose hiding its contrast ratio tells: ASTM D2805, ISO 6504-3
UNSEEN_DE00 = 0.3  # what shows of a ground below this isn't seen («common practice»)
BINDER_INDEX = 1.5  # most binders («common practice»)
DARKEST, LIGHTEST = 25.0, 95.0  # L* of what may lie in the tin when its colour isn't given; gloss alone gives 24
THINNEST_UM, THICKEST_UM = 1.0, 2000.0
RATIO_REACH = 2 * 0.005  # how far a contrast ratio as read may be off: two standard deviations («common practice»)
# how much less and how much more the build may be, as powers of the step from the build read to the one found: what
# 95 in 100 mixtures of the bundled bank kept within; held against the virtual booth in docs/accuracy.md
SPREAD = {"spectrum": (0.08, 0.15), "lab": (0.1, 0.5), "": (0.0, 0.0)}
# and by what factors besides for a dark paint, which isn't judged by the ratio that was read; a colour that isn't given
# may be dark: what 95 in 100 mixtures of the bundled bank kept within
DARK_SPREAD = {"spectrum": (1.08, 1.02), "lab": (1.10, 1.15), "": (1.0, 1.7)}


@dataclass(frozen=True)
class HidingBuild:
    """The dry build that hides, µm, and the least and the most it may be."""

    build_um: float
    low_um: float
    high_um: float


def too_dark_for_ratio(lightness: float) -> bool:
    """Return whether a paint of a lightness L* is too dark for its contrast ratio to say when it hides.

    References
    ----------
    ASTM D2805 and ISO 6504-3: for paints of a Y over 15; CIE 15 for Y from L*.
    """
    return 100 * float(((lightness + 16) / 116) ** 3) <= LEAST_Y


def build_that_hides(
    contrast: float,
    at_um: float,
    black: float,
    white: float,
    wanted: float,
    colour: Floats | None = None,
    known_as: str = "",
) -> HidingBuild:
    """Return the build that hides, from the contrast ratio of one build over black and white.

    Parameters
    ----------
    contrast : float
        Y over black by Y over white (D65, 10°), above 0 and below 1.
    at_um : float
        Dry build it was read at, µm.
    black, white : float
        Reflectance of the chart in contact with the film.
    wanted : float
        The contrast ratio that counts as hiding.
    colour : ndarray of shape (31,), or None
        Reflectance of the film where it hides. When it isn't known, the answer is the middle of what greys of L* 25 to
        95 would need, and the interval holds them all.
    known_as : str
        "spectrum" when that was read, "lab" when it is only likely for the colour.

    Raises
    ------
    InputError
        A ratio or build that can't be; one that no film of that colour has.

    Notes
    -----
    K/S of every wavelength follows from the colour. S is taken to be the same at all wavelengths and follows from the
    contrast ratio. Where a paint is too dark for its ratio to say when it hides, the difference over black and white
    decides: ΔE00 0.3. The optics are those of the bank (`optics/beam.py`), for a binder of index 1.5 read with the
    gloss.

    References
    ----------
    Contrast ratio: ISO 6504-3, ASTM D2805.
    """
    if not 0 < contrast < 1:
        mend = "it is above 0 and below 1, as 0.93 or 93%"
        raise InputError("`contrast`", f"{contrast:g} is not a contrast ratio", mend)
    if not THINNEST_UM <= at_um <= THICKEST_UM:
        mend = f"give the dry build it was read at, {THINNEST_UM:g} to {THICKEST_UM:g} µm"
        raise InputError("`at_um`", f"{at_um:g} µm is not the build of a drawdown", mend)
    ratios = contrast, max(contrast - RATIO_REACH, contrast / 2), min(contrast + RATIO_REACH, (1 + contrast) / 2)
    films = _greys(black, white, wanted) if colour is None else (_Film(colour, black, white, wanted),)
    thinner, *others = [[film.hiding_build(at_um, one) for film in films] for one in ratios]
    found = [build for build in thinner if build is not None]
    if not found:
        film = "any film" if colour is None else "a film of that colour"
        raise InputError("`contrast`", f"{film} has more than {contrast:g}, however thin", "read it again")
    build = exp(sum(map(log, found)) / len(found))
    every = [*found, *(one for row in others for one in row if one is not None)]
    less, more = _spread(max(build / at_um, at_um / build), colour, known_as)
    return HidingBuild(build, min(every) / less, max(every) * more)


def _spread(step: float, colour: Floats | None, known_as: str) -> tuple[float, float]:
    """Return by what factors less and more the build may be, by the step from the build read to the one found."""
    less, more = (step**power for power in SPREAD[known_as])
    if colour is not None and not too_dark_for_ratio(float(reflectance_to_lab(colour)[0])):
        return less, more
    return less * DARK_SPREAD[known_as][0], more * DARK_SPREAD[known_as][1]


def _grey(lightness: float) -> Floats:
    """Return the reflectance of a grey of a lightness L* (CIE 15)."""
    return np.full(31, ((lightness + 16) / 116) ** 3)


class _Film:
    """A film of a colour over a chart, by S × build; what hides is found once for all ratios that are tried."""

    def __init__(self, colour: Floats, black: float, white: float, wanted: float) -> None:
        self.surface = Surface(fresnel_normal(BINDER_INDEX), fresnel_diffuse_internal(BINDER_INDEX))
        self.k_over_s = hiding_k_over_s(colour, self.surface)
        self.chart = np.array([[black], [white]])
        dark = too_dark_for_ratio(float(reflectance_to_lab(colour)[0]))
        self.hides = _depth(self.alike, -UNSEEN_DE00) if dark else _depth(self.contrast, wanted)

    def hiding_build(self, build_um: float, ratio: float) -> float | None:
        """Return the build that hides where one has the ratio read, None when none can have it."""
        read = None if self.hides is None else _depth(self.contrast, ratio)
        return None if read is None or self.hides is None else build_um * self.hides / read

    def over(self, depth: float) -> Floats:
        """Return what is read over black and over white, shape (2, 31)."""
        reading: Floats = film_reading(
            self.k_over_s * depth, np.full(31, depth), np.array(1.0), self.chart, self.surface
        )
        return reading

    def contrast(self, depth: float) -> float:
        """Return Y over black by Y over white."""
        y = reflectance_to_xyz(self.over(depth))[:, 1]
        return float(y[0] / y[1])

    def alike(self, depth: float) -> float:
        """Return less than nothing by how much, ΔE00, black and white differ under it."""
        return -float(de00(*reflectance_to_lab(self.over(depth))))


@lru_cache(maxsize=16)
def _greys(black: float, white: float, wanted: float) -> tuple[_Film, ...]:
    """Return films of greys, dark to light, over a chart: what a colour that isn't given may be."""
    return tuple(_Film(_grey(light), black, white, wanted) for light in np.linspace(DARKEST, LIGHTEST, 15))


def _depth(contrast: Callable[[float], float], wanted: float) -> float | None:
    """Return S × build at which a contrast ratio is reached, None when it is at none; it rises with the depth."""
    low, high = log(1e-6), log(1e4)
    if contrast(exp(low)) > wanted or contrast(exp(high)) < wanted:
        return None
    return exp(float(scipy.optimize.brentq(lambda depth: contrast(exp(depth)) - wanted, low, high, xtol=1e-7)))
