"""What lies between light and file values, as a few numbers to be fitted, and what they are fitted on.

The numbers are tone, flare, and the evenness of the light and of its colour. They are fitted on the known colours in a
picture, and on bare paper.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from finishmatch.colour import Floats

TONE, FLARE, LIGHT, TINT, CHROMA = slice(0, 3), slice(3, 6), slice(6, 11), slice(11, 15), 15
SIZE = 16
GREY = np.array([0.2126, 0.7152, 0.0722])  # what colours are set off against: luminance, ITU-R BT.709
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
    tint : float
        Of the logarithm of its red and of its blue over its green, likewise.
    chroma : float
        Of the logarithm of how much further from grey colours lie in the file.
    """

    tone: float = 0.05
    flare: float = 0.008
    slope: float = 0.35
    bend: float = 0.12
    tint: float = 0.0
    chroma: float = 0.0

    def deviations(self) -> Floats:
        """Return them for each of the numbers, shape (SIZE,)."""
        tone, tint, chroma = (max(each, 1e-6) for each in (self.tone, self.tint, self.chroma))
        return np.array(
            [tone, tone / 4, tone / 12, *[self.flare] * 3, *[self.slope] * 2, *[self.bend] * 3, *[tint] * 4, chroma]
        )


@dataclass(frozen=True)
class Paper:
    """Places in the frame that are of one colour, which isn't known: bare paper, which shows how the light falls off.

    Parameters
    ----------
    linear : ndarray, shape (n, 3)
        Values by the file's own curve, 1 at full scale.
    places : ndarray, shape (n, 2)
        In the frame, from its middle, by its longer side.
    deviations : ndarray, shape (n,)
        By what the values may be off, relative.
    """

    linear: Floats
    places: Floats
    deviations: Floats

    def unevenness(self, numbers: Floats) -> Floats:
        """Return by what the values differ in even light, in deviations, (n,) or (m, n); their mean has no say."""
        values = np.log(np.maximum(undo(numbers, self.linear, self.places).mean(axis=-1), _LEAST))
        weights = self.deviations**-2 / (self.deviations**-2).sum()
        return np.asarray((values - (values @ weights)[..., None]) / self.deviations)

    def slopes(self, numbers: Floats, deviations: Floats) -> Floats:
        """Return how that moves with the numbers, shape (n, SIZE), by steps far smaller than their deviations."""
        steps = 1e-4 * deviations
        moved = self.unevenness(numbers + np.diag(steps)) - self.unevenness(numbers)
        return np.asarray(moved.T / steps)


@dataclass(frozen=True)
class Known:
    """Known colours in a picture.

    Parameters
    ----------
    linear : ndarray, shape (n, 3)
        Camera values by the file's own curve, 1 at full scale.
    places : ndarray, shape (n, 2)
        In the frame, from its middle, by its longer side.
    xyz : ndarray, shape (n, 3)
        What they are, white 100.
    white : ndarray, shape (3,)
        XYZ of the perfect diffuser.
    weights : ndarray, shape (n,)
        1 for a patch of the chart.
    noise : ndarray, shape (n, 3, 3), or None
        Covariance of the camera values; None is none.
    paper : Paper or None
        Bare paper, which shows how the light falls off.
    raw : bool
        Whether the values are a sensor's own: no camera has made their colours livelier.
    """

    linear: Floats
    places: Floats
    xyz: Floats
    white: Floats
    weights: Floats
    noise: Floats | None = None
    paper: Paper | None = None
    raw: bool = False

    def without(self, left_out: Sequence[int]) -> Known:
        """Return them less some."""
        keep = np.setdiff1d(np.arange(len(self.linear)), np.asarray(left_out, int))
        noise = None if self.noise is None else self.noise[keep]
        kept = {name: getattr(self, name)[keep] for name in ("linear", "places", "xyz", "weights")}
        return replace(self, **kept, noise=noise)

    def variances(self) -> Floats:
        """Return the variance of each camera value, shape (n, 3)."""
        if self.noise is None:
            return np.zeros_like(self.linear)
        return np.asarray(np.einsum("nii->ni", self.noise))


def undo(numbers: Floats, linear: Floats, places: Floats) -> Floats:
    """Return camera values as they would be in even light, without flare and tone.

    Parameters
    ----------
    numbers : ndarray, shape (SIZE,) or (m, SIZE)
        Tone (exponent less 1, two bends), flare of red, green, blue, light (slopes and bends), its tint (slopes of red,
        then of blue); m sets of them.
    linear : ndarray, shape (n, 3)
        Values by the file's own curve, 1 at full scale.
    places : ndarray, shape (n, 2)
        In the frame, from its middle, by its longer side.

    Returns
    -------
    ndarray, shape (n, 3) or (m, n, 3)
    """
    tone = numbers[..., TONE]
    values = linear
    if numbers[..., CHROMA].any():  # a camera makes colours livelier in what its tone has been laid on already
        livelier = np.exp(numbers[..., CHROMA, None, None])
        grey = (linear @ GREY)[..., None]
        values = grey + (linear - grey) / livelier
    if tone.any():
        # polynomial in the logarithm about a mid grey of 0.2, so that the numbers hardly depend on each other
        exponent, bend, twist = (tone[..., i, None, None] for i in range(3))
        t = np.log(np.maximum(values, _LEAST) / 0.2)
        # no more and no less than any camera could mean
        values = 0.2 * np.exp(np.minimum(np.maximum(t * (1 + exponent + t * (bend + t * twist)), -14), 4))
    values = (values - numbers[..., None, FLARE]) / light_at(numbers, places)[..., None]
    if numbers[..., TINT].any():
        values[..., ::2] /= _red_and_blue(numbers, places)
    return np.asarray(values)


def undo_slopes(numbers: Floats, linear: Floats, places: Floats, steps: Floats) -> tuple[Floats, Floats]:
    """Return camera values undone, shape (n, 3), and when each of the numbers is a step larger, shape (SIZE, n, 3)."""
    moved = np.vstack([numbers, numbers + np.diag(steps)])
    found = undo(moved, linear, places)
    return found[0], found[1:]


def undo_raised(numbers: Floats, linear: Floats, places: Floats, steps: Floats) -> Floats:
    """Return camera values undone when one channel of the file is a step larger, shape (3, n, 3): the channel first.

    Parameters
    ----------
    numbers : ndarray, shape (SIZE,)
    linear, places
        As `undo` takes them.
    steps : ndarray, shape (n, 3)
    """
    return np.stack([undo(numbers, linear + steps * one, places) for one in np.eye(3)])


def light_at(numbers: Floats, places: Floats) -> Floats:
    """Return the light at places in the frame, shape (n,) or (m, n), 1 in the middle."""
    x, y = places.T
    power = numbers[..., LIGHT] @ np.stack([x, y, x * x, x * y, y * y])
    return np.asarray(np.exp(np.minimum(np.maximum(power, -4), 4)))


def _red_and_blue(numbers: Floats, places: Floats) -> Floats:
    """Return the light's red and blue over its green at places, shape (n, 2) or (m, n, 2), 1 in the frame's middle."""
    tint = numbers[..., TINT]
    power = places @ tint.reshape(*tint.shape[:-1], 2, 2).swapaxes(-1, -2)  # to each its slopes
    return np.asarray(np.exp(np.minimum(np.maximum(power, -4), 4)))
