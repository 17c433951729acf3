"""The film left after a cut, and the chance that it is too little: sums of spread lengths, by convolution."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from finishmatch.defects.spread import Floats, Length

STEP_UM = 0.1  # a sixteenth of the finest spread that occurs (the gauge's)
MAX_POINTS = 1 << 16


@dataclass(frozen=True)
class FilmLeft:
    """What is left of a film: `chances[i]` is the chance that it is below `edges_um[i]`.

    `mean_um` is the mean of the readings less the mean cut, not below 0.
    """

    mean_um: float
    edges_um: Floats
    chances: Floats

    def chance_below(self, keep_um: float) -> float:
        """Return the chance that less than keep_um is left."""
        return float(np.interp(keep_um, self.edges_um, self.chances, left=0.0, right=1.0))

    def quantile_um(self, share: float) -> float:
        """Return the film that is exceeded 1 - share of the time, not below 0."""
        return max(0.0, float(np.interp(share, self.chances, self.edges_um)))


def film_left(film: Sequence[Length], removed: Sequence[Length]) -> FilmLeft:
    """Return the distribution of the sum of a film's layers less the sum of what is removed.

    Parameters
    ----------
    film : sequence of Length
        The builds of the layers at the spot; an empty one is no film.
    removed : sequence of Length
        The depth of the defect and the parts of the cut.

    Returns
    -------
    FilmLeft

    Notes
    -----
    The lengths are taken as independent and none is negative. Each becomes its exact masses on a grid of 0.1 µm
    (coarser only where the readings of a layer scatter by hundreds of µm), the grids are convolved by FFT, and
    within a step the mass is spread evenly. What lies beyond an upper 0.1 % of a length is counted at that limit. There
    are no random numbers in it: the same readings give the same chance.
    """
    total = sum(length.reach_um for length in (*film, *removed))
    step = max(STEP_UM, total / MAX_POINTS)
    plus = _convolve([_masses(item, step) for item in film])
    minus = _convolve([_masses(item, step) for item in removed])
    masses = _convolve([plus, minus[::-1]])
    edges = (np.arange(masses.size + 1) - (minus.size - 1) - 0.5) * step
    chances = np.concatenate(([0.0], np.minimum(np.cumsum(masses), 1.0)))
    chances[-1] = 1.0
    mean = math.fsum(item.mean_um for item in film) - math.fsum(item.mean_um for item in removed)
    return FilmLeft(max(0.0, mean), edges, chances)


def anywhere(chance: float, count: int) -> float:
    """Return the chance that it happens at one of `count` spots at least, the spots taken as independent."""
    if count == 1 or chance >= 1:
        return chance
    return -math.expm1(count * math.log1p(-chance))


def _masses(length: Length, step: float) -> Floats:
    """Return the chance of a length lying nearest to 0, step, 2·step, …; the ends hold what lies beyond them."""
    size = max(2, math.ceil(length.reach_um / step) + 1)
    below = length.below((np.arange(size - 1) + 0.5) * step)
    return np.diff(below, prepend=0.0, append=1.0)


def _convolve(parts: Sequence[Floats]) -> Floats:
    """Return the masses of the sum of independent lengths."""
    if not parts:
        return np.ones(1)
    size = sum(part.size - 1 for part in parts) + 1
    fast = 1 << (size - 1).bit_length()
    product = np.ones(fast // 2 + 1, dtype=complex)
    for part in parts:
        product *= np.fft.rfft(part, fast)
    masses: Floats = np.maximum(np.fft.irfft(product, fast)[:size], 0.0)
    return masses
