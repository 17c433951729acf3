"""A shadow over a part of the chart: its patches are darker on one side of a line, by one share, than their paints are.

A correction takes the light for one that changes smoothly. By a shadow's edge it is wrong everywhere, also where the
samples lie.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from finishmatch.colour import Floats
from finishmatch.photo.correct.capture import Known

# chosen on rendered photographs: of 168 beside a chart without a shadow, with glare, shading and tone curves among
# them, none has a step of more than 0.12 or of more than 4.3 deviations, and of 180 of cards and sheets none is told
# of; of 15 sharp edges of 20 to 50 % over the chart 13 are, of as many 10 mm wide 10, of softer ones few
LEAST_STEP, LEAST_CLEAR = 0.15, 5.0
DEEP_STEP, DEEP_CLEAR = 0.25, 6.0
_TURNS_DEG = np.arange(0, 180, 7.5)
_LEAST_PATCHES = 3  # on either side: fewer may be dirty
_FLARE = 0.05  # of the white: where stray light tells as much as paint does
_NOTHING = 1e-12


@dataclass(frozen=True)
class ChartShadow:
    """How much of the light is missing in the shade, 0 to 1; whether so much that nothing can be read by the chart."""

    missing: float
    deep: bool

    @property
    def words(self) -> str:
        """What lies over the chart, with what to change."""
        return (
            f"a shadow lies over a part of the chart (about {100 * self.missing:.0f} % of the light is missing there): "
            "keep yourself, the phone and what stands beside it out of the light, and photograph it anew"
        )


def shadow_over_chart(known: Known) -> ChartShadow | None:
    """Return the shadow whose edge runs over a chart, or None.

    Parameters
    ----------
    known : Known
        The patches as the picture shows them.

    Notes
    -----
    The light over each patch, as its known Y and what the camera counted tell it, is a slope over the frame and a step
    at a line. What the camera makes of red, green and blue, and stray light, are found in the same solution, so that
    it doesn't rest on a correction that the shadow has spoilt. A soft shadow looks like uneven light, and isn't found.
    """
    places = known.places - known.places.mean(axis=0)
    y = known.xyz[:, 1] / known.white[1]
    weights = 1 / np.hypot(1, _FLARE / y)
    camera = np.column_stack([known.linear / y[:, None], _FLARE / y])
    shades = _shades(places)
    if not len(shades) or len(y) < 12:
        return None
    step, left = _solved(np.column_stack([camera, -places]), np.array(shades), weights)
    clear = abs(step) / max(left, 1e-6)
    if abs(step) < LEAST_STEP or clear < LEAST_CLEAR:
        return None
    missing = -step if step < 0 else step / (1 + step)
    return ChartShadow(float(missing), abs(step) >= DEEP_STEP and clear >= DEEP_CLEAR)


def _solved(even: Floats, shades: NDArray[np.bool_], weights: Floats) -> tuple[float, float]:
    """Return how much brighter one side of the line that fits best is, as a share of the other, and what is left.

    Least squares of what is `even`, shape (n, k), and a step at each line, shape (m, n), in turn: what the former
    explains is taken out of both once (Frisch and Waugh, Econometrica 1 (1933) 387, from memory).
    """
    basis = np.linalg.qr(even * weights[:, None])[0]
    steps = -weights * shades
    steps -= (steps @ basis) @ basis.T
    rest = weights - basis @ (basis.T @ weights)
    heights = steps @ rest / np.maximum((steps * steps).sum(axis=1), _NOTHING)
    left = ((rest - heights[:, None] * steps) ** 2).sum(axis=1)
    best = int(left.argmin())
    freedom = max(len(weights) - even.shape[1] - 1, 1)
    return float(heights[best]), float(np.sqrt(left[best] / freedom))


def _shades(places: Floats) -> list[NDArray[np.bool_]]:
    """Return which patches lie on one side of a line, the fewer of them, for all lines that tell patches apart."""
    found: dict[bytes, NDArray[np.bool_]] = {}
    for turn in np.radians(_TURNS_DEG):
        along = places @ np.array([np.cos(turn), np.sin(turn)])
        order = np.sort(along)
        for cut in (order[1:] + order[:-1]) / 2:
            side = along > cut
            side = side if 2 * side.sum() <= len(side) else ~side
            if side.sum() >= _LEAST_PATCHES:
                found[side.tobytes()] = side
    return list(found.values())
