"""How thick a film must be to hide, over what, and which ground on the shelf saves the most paint."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from math import ceil

import numpy as np
from numpy.typing import NDArray

from finishmatch.colour import Floats, de00, reflectance_to_lab, reflectance_to_xyz
from finishmatch.finish.hiding import UNSEEN_DE00, too_dark_for_ratio
from finishmatch.optics import Backing, TintOptics, predicted_reflectance
from finishmatch.optics.mixture import film_series

Bools = NDArray[np.bool_]

CONTRAST_RATIO = 0.98  # counts as hiding: ISO 6504-3, ASTM D2805
COAT_UM = 25.0  # dry build of a coat («common practice»; the data sheet wins)
THICKEST_UM = 400.0
# Reflectance in contact of the black and white of a hiding chart, where the bank has no grounds of its own: a white
# that reads 0.80 bare without the gloss and 0.84 with it, a black that reads 0.004 without it. ASTM D2805, 6.1.2, asks
# for a white of at least 0.78 and a black of at most 0.01: the white holds whether its gloss is read or not
CHART_BLACK, CHART_WHITE = 0.01, 0.925


@dataclass(frozen=True)
class GroundChoice:
    """A ground on the shelf: the build at which it no longer shows through, None when it does at any, and the coats."""

    ground: str
    build_um: float | None
    coats: int | None


def contrast_ratio(optics: TintOptics, grams: Floats, build_um: float, black: Floats, white: Floats) -> float:
    """Return Y over black over Y over white of a film (D65, 10°).

    Parameters
    ----------
    optics : TintOptics
        Known per µm.
    grams : ndarray, shape (n,)
    build_um : float
    black, white : ndarray, shape (31,)
        Reflectance of the grounds in contact with the film.

    References
    ----------
    ISO 6504-3; ASTM D2805.
    """
    return float(_ratios(optics, grams, np.array([build_um]), black, white)[0])


def _ratios(optics: TintOptics, grams: Floats, builds_um: Floats, black: Floats, white: Floats) -> Floats:
    """Return the contrast ratios of several builds."""
    over = reflectance_to_xyz(film_series(optics, grams, builds_um, np.stack([black, white])))[..., 1]
    ratios: Floats = over[0] / over[1]
    return ratios


def darkest_and_lightest(grounds: Sequence[tuple[str, Floats]]) -> tuple[Floats, Floats]:
    """Return the darkest and the lightest of some grounds, or a chart's black and white of fewer than two."""
    shades = sorted((value for _, value in grounds), key=lambda r: float(reflectance_to_xyz(r)[1]))
    if len(shades) < 2:
        return np.full(31, CHART_BLACK), np.full(31, CHART_WHITE)
    return shades[0], shades[-1]


def seen_de00(optics: TintOptics, grams: Floats, build_um: float, black: Floats, white: Floats) -> float:
    """Return ΔE00 (D65, 10°) between a film over black and the same over white; parameters as for `contrast_ratio`."""
    return float(_seen(optics, grams, np.array([build_um]), black, white)[0])


def _seen(optics: TintOptics, grams: Floats, builds_um: Floats, black: Floats, white: Floats) -> Floats:
    """Return the ΔE00 between black and white of several builds."""
    over = reflectance_to_lab(film_series(optics, grams, builds_um, np.stack([black, white])))
    seen: Floats = de00(over[0], over[1])
    return seen


def endless_lab(optics: TintOptics, grams: Floats) -> Floats:
    """Return CIELAB (D65, 10°) of a film as thick as it gets, as the theory of films has it."""
    return reflectance_to_lab(
        predicted_reflectance(optics.over(Backing("", 50 * THICKEST_UM, np.full(31, 0.5))), grams)
    )


def hides_within_de00(optics: TintOptics, grams: Floats, unseen_de00: float | None = None) -> float | None:
    """Return the ΔE00 over black and white within which a film counts as hiding, or None: its contrast ratio decides.

    Parameters
    ----------
    optics : TintOptics
    grams : ndarray, shape (n,)
    unseen_de00 : float or None
        What is asked for; without it dark paints are judged by `UNSEEN_DE00`.

    References
    ----------
    ASTM D2805 and ISO 6504-3 are for paints of a Y over 15.
    """
    if unseen_de00 is not None or not optics.per_um:
        return unseen_de00
    return UNSEEN_DE00 if too_dark_for_ratio(float(endless_lab(optics, grams)[0])) else None


def hiding_build_um(
    optics: TintOptics,
    grams: Floats,
    grounds: Sequence[tuple[str, Floats]] = (),
    unseen_de00: float | None = None,
) -> float | None:
    """Return the dry build, µm, from which a film hides, or None beyond 400 µm or when unknown.

    Parameters
    ----------
    optics : TintOptics
    grams : ndarray, shape (n,)
    grounds : sequence of (name, ndarray of shape (31,))
        In contact with the film; the darkest and the lightest are used, or a chart's black and white when fewer than 2.
    unseen_de00 : float or None
        It hides when black and white ground make a difference of no more than this; None: by its contrast ratio, or of
        a dark paint by `UNSEEN_DE00`.

    References
    ----------
    ASTM D2805 and ISO 6504-3 are for paints of a Y over 15.
    """
    if not optics.per_um:
        return None
    black, white = darkest_and_lightest(grounds)
    within = hides_within_de00(optics, grams, unseen_de00)
    if within is not None:
        return _thinnest(lambda builds: _seen(optics, grams, builds, black, white) <= within)
    return _thinnest(lambda builds: _ratios(optics, grams, builds, black, white) >= CONTRAST_RATIO)


def ground_choices(
    optics: TintOptics,
    grams: Floats,
    grounds: Sequence[tuple[str, Floats]],
    unseen_de00: float = UNSEEN_DE00,
    coat_um: float = COAT_UM,
) -> tuple[GroundChoice, ...]:
    """Return for each ground the build from which the film shows its own colour, the ground that needs least first."""
    if not optics.per_um:
        return ()
    endless = endless_lab(optics, grams)
    choices = []
    for name, ground in grounds:

        def unseen(builds: Floats, ground: Floats = ground) -> Bools:
            films = reflectance_to_lab(film_series(optics, grams, builds, ground[None])[0])
            hidden: Bools = de00(endless, films) <= unseen_de00
            return hidden

        build = _thinnest(unseen)
        choices.append(GroundChoice(name, build, None if build is None else max(1, ceil(build / coat_um))))
    return tuple(sorted(choices, key=lambda choice: choice.build_um if choice.build_um is not None else np.inf))


def _thinnest(enough: Callable[[Floats], Bools]) -> float | None:
    """Return the least build, to 0.1 µm, from which a condition holds on to the thickest film looked at, or None."""
    builds = np.geomspace(1.0, THICKEST_UM, 40)
    failed = np.flatnonzero(~enough(builds))
    if not failed.size:
        return float(builds[0])
    if failed[-1] == builds.size - 1:
        return None
    low, high = float(builds[failed[-1]]), float(builds[failed[-1] + 1])
    while high - low > 0.1:
        middle = (low + high) / 2
        low, high = (low, middle) if enough(np.array([middle]))[0] else (middle, high)
    return round(high, 1)
