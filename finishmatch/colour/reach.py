"""How far in CIELAB a colour can lie from another that it differs from by no more than some ΔE00."""

from __future__ import annotations

import math

import numpy as np

from finishmatch.colour.grid import Floats

_STEPS = 6  # each only shrinks what held before
_HAIR = 1e-9  # for what floats lose


def de00_reach(lab: Floats, de00: float) -> tuple[Floats, Floats]:
    """Return a box outside of which no colour differs from one by `de00` or less.

    Parameters
    ----------
    lab : ndarray, shape (3,)
        CIELAB.
    de00 : float
        ΔE00, above 0.

    Returns
    -------
    low, high : ndarray, shape (3,)
        L*, a*, b*; infinite where no bound is known, which needs a `de00` of some dozens.

    Notes
    -----
    With x = ΔC'/S_C and y = ΔH'/S_H, ΔE00² = (ΔL'/S_L)² + x² + y² + R_T·x·y, and R_T lies between −√3 and 0.

    - Lightness: |ΔL'| ≤ ΔE00·S_L, and S_L grows with how far the mean lightness lies from 50, which is at most how far
      the colour's own does and |ΔL'|/2.
    - The rest: x² + y² + R_T·x·y ≥ (1 − |R_T|/2)(x² + y²); ΔC'² + ΔH'² = Δa'² + Δb², whatever the hues; and S_H ≤ S_C,
      since 0.015·T ≤ 0.029. So D = √(Δa'² + Δb²) ≤ ΔE00·S_C/√(1 − |R_T|/2), in which the mean chroma is at most the
      colour's own and D/2.
    - a' = (1 + G)a with one G, from 0 to 1/2, for both: |Δa| ≤ |Δa'|/(1 + G), and G falls as the mean chroma grows.
    - |R_T| = R_C·sin 2Δθ: R_C grows with the mean chroma, and Δθ falls as the mean hue leaves 275°, and that lies no
      further from the colour's own than half the angle under which a step of D is seen.

    A bound that holds bounds the means, and these give one that is no wider: so it is found in steps.

    References
    ----------
    CIE 142-2001; Sharma, Wu and Dalal 2005 for the form; the bound is derived above.
    """
    lightness, a, b = (float(value) for value in lab)
    up = _lightness_reach(abs(lightness - 50), de00)
    across, least_g = _plane_reach(a, b, de00)
    reach = np.array([up, across / (1 + least_g), across]) * (1 + _HAIR) + _HAIR
    centre = np.array([lightness, a, b])
    return centre - reach, centre + reach


def _lightness_reach(off_middle: float, de00: float) -> float:
    """Return the most that |ΔL'| can be, of a colour whose lightness lies so far from 50."""
    # S_L ≤ 1 + 0.015·t, at t from the middle
    left = 1 - 0.0075 * de00
    reach = de00 * (1 + 0.015 * off_middle) / left if left > 0 else math.inf
    for _ in range(_STEPS):
        if math.isfinite(reach):
            square = (off_middle + reach / 2) ** 2
            reach = min(reach, de00 * (1 + 0.015 * square / math.sqrt(20 + square)))
    return reach


def _plane_reach(a: float, b: float, de00: float) -> tuple[float, float]:
    """Return the most that D = √(Δa'² + Δb²) can be, and the least that G then is."""
    chroma = math.hypot(a, b)
    most_g, least_g = 0.5, 0.0
    rotation = math.sqrt(3)
    reach = math.inf
    for _ in range(_STEPS):
        own = math.hypot((1 + most_g) * a, b)
        share = de00 / math.sqrt(1 - rotation / 2)
        left = 1 - 0.0225 * share
        if left > 0:
            reach = min(reach, share * (1 + 0.045 * own) / left)
        if not math.isfinite(reach):
            break
        most_g, least_g = _g(max(chroma - reach / 2, 0.0)), _g(chroma + reach / 2)
        rotation = _most_rotation(a, b, most_g, least_g, reach)
    return reach, least_g


def _g(mean_chroma: float) -> float:
    """Return by how much a* is stretched."""
    return 0.5 * (1 - math.sqrt(_seventh(mean_chroma)))


def _seventh(chroma: float) -> float:
    return chroma**7 / (chroma**7 + 25.0**7) if chroma < 1e6 else 1.0


def _most_rotation(a: float, b: float, most_g: float, least_g: float, reach: float) -> float:
    """Return the most that |R_T| can be where the other colour lies no further off than `reach`."""
    nearest = math.hypot((1 + least_g) * a, b)  # the least that its own chroma can be
    furthest = math.hypot((1 + most_g) * a, b) + reach / 2
    strength = 2 * math.sqrt(_seventh(furthest))
    if reach >= nearest:
        return strength * math.sin(math.radians(60))
    hues = [math.degrees(math.atan2(b, (1 + g) * a)) % 360 for g in (most_g, least_g)]
    turned = math.degrees(math.asin(reach / nearest)) / 2
    apart = min(abs((hue - 275 + 180) % 360 - 180) for hue in hues)
    between = abs((hues[0] - hues[1] + 180) % 360 - 180)
    away = max(apart - turned - between, 0.0)
    angle = 30 * math.exp(-((away / 25) ** 2))
    return strength * math.sin(math.radians(2 * angle))
