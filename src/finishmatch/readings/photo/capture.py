"""What lies between light and file values: tone, flare and the evenness of the light, as a few numbers to be fitted."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from finishmatch.colour import Floats

TONE, FLARE, LIGHT = slice(0, 3), slice(3, 6), slice(6, 11)
SIZE = 11
_LEAST = 1e-5


@dataclass(frozen=True)
class Priors:
    """Standard deviations of the numbers before anything is seen («common practice», tuned on rendered pictures).

    Parameters
    ----------
    tone : float
        Of the exponent that the file's curve is off by; its bends are a fraction of it.
    flare : float
        Of the stray light, of full scale.
    slope, bend : float
        Of the logarithm of the light across the frame's longer side.
    """

    tone: float = 0.05
    flare: float = 0.008
    slope: float = 0.35
    bend: float = 0.12

    def deviations(self) -> Floats:
        """Return them for each of the numbers, shape (SIZE,)."""
        tone = max(self.tone, 1e-6)
        return np.array([tone, tone / 4, tone / 12, *[self.flare] * 3, *[self.slope] * 2, *[self.bend] * 3])


def undo(numbers: Floats, linear: Floats, places: Floats) -> Floats:
    """Return camera values as they would be in even light, without flare and tone.

    Parameters
    ----------
    numbers : ndarray, shape (SIZE,)
        Tone (exponent less 1, two bends), flare of red, green, blue, light (slopes and bends).
    linear : ndarray, shape (n, 3)
        Values by the file's own curve, 1 at full scale.
    places : ndarray, shape (n, 2)
        In the frame, from its middle, by its longer side.

    Returns
    -------
    ndarray, shape (n, 3)
    """
    exponent, bend, twist = numbers[TONE]
    if exponent or bend or twist:
        # polynomial in the logarithm about a mid grey of 0.2, so that the numbers hardly depend on each other
        t = np.log(np.maximum(linear, _LEAST) / 0.2)
        values = 0.2 * np.exp(np.clip(t * (1 + exponent) + bend * t * t + twist * t * t * t, -14, 4))
    else:
        values = linear
    return np.asarray((values - numbers[FLARE]) / light_at(numbers, places)[:, None])


def light_at(numbers: Floats, places: Floats) -> Floats:
    """Return the light at places in the frame, shape (n,), 1 in the middle."""
    x, y = places[:, 0], places[:, 1]
    a, b, c, d, e = numbers[LIGHT]
    return np.asarray(np.exp(np.clip(a * x + b * y + c * x * x + d * x * y + e * y * y, -4, 4)))
