"""Two exposures that went together: is one still guilty when the other is held, and the trial that would settle it."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

import numpy as np
from numpy.typing import NDArray
from scipy.stats import binom, hypergeom

from finishmatch.defects.fishers_exact import table_chances

Flags = NDArray[np.bool_]

MOST_PANELS = 60  # of one arm; nobody sprays more test panels than this
POWER = 0.8  # the chance of seeing it that a trial must have; common practice
LEVEL = 0.05


@dataclass(frozen=True)
class Trial:
    """The smallest trial that would settle it.

    Parameters
    ----------
    arms : tuple of str
        One set of panels each: the exposure met, the others of `arms` changed. With one arm, a second set without it.
    panels : int
        Test panels per set.
    guilty, innocent : float
        The shares of bad panels it reckons with.
    power : float
        The chance that it shows the guilty one.
    """

    arms: tuple[str, ...]
    panels: int
    guilty: float
    innocent: float
    power: float


def guilty_given(exposed: Flags, held: Flags, bad: Flags) -> float:
    """Return the p that an exposure does no harm, among coats alike in another one.

    Parameters
    ----------
    exposed, held, bad : ndarray of bool, shape (n,)
        Coats that met the exposure, that met the other, that came out bad.

    Returns
    -------
    float
        The chance of as many exposed bad coats or more, exact: the sum over both strata of two hypergeometric counts.

    References
    ----------
    Cox, Analysis of Binary Data, 1970: the exact test of a common odds ratio of 1.
    """
    seen, least, chance = 0, 0, np.ones(1)
    for stratum in (held, ~held):
        total, n = int(stratum.sum()), int((stratum & exposed).sum())
        k = int((stratum & bad).sum())
        seen += int((stratum & exposed & bad).sum())
        start, of_stratum = table_chances(n, k, total)
        least, chance = least + start, np.convolve(chance, of_stratum)
    return float(min(chance[seen - least :].sum(), 1.0))


def smallest_trial(arms: tuple[str, ...], guilty: float, innocent: float) -> Trial | None:
    """Return the fewest panels per set that show a guilty exposure with a chance of 8 in 10, or None beyond 60.

    Parameters
    ----------
    arms : tuple of str
        What is compared; the sets are compared two by two.
    guilty, innocent : float
        Share of bad panels with the guilty exposure, and without it.
    """
    if not guilty > innocent:
        return None
    for panels in range(2, MOST_PANELS + 1):
        power = _power(panels, guilty, innocent)
        if power >= POWER:
            return Trial(arms, panels, guilty, innocent, power)
    return None


def _power(panels: int, guilty: float, innocent: float) -> float:
    """Return the chance that the one-sided exact test of two sets of panels comes out at 5 %."""
    count = np.arange(panels + 1)
    worse, fewer = binom.pmf(count, panels, guilty), binom.pmf(count, panels, innocent)
    return float((worse[:, None] * fewer[None, :] * _significant(panels)).sum())


@cache
def _significant(panels: int) -> Flags:
    """Return which pairs of counts, bad with the exposure and without it, are significant, shape (panels + 1,) * 2."""
    count, both = np.arange(panels + 1), np.arange(2 * panels + 1)
    chance = hypergeom.pmf(count[None, :], 2 * panels, both[:, None], panels)
    at_least = chance[:, ::-1].cumsum(axis=1)[:, ::-1]  # per number bad in both: the chance of as many or more
    # three against three of them come to one in twenty exactly
    found: Flags = at_least[count[:, None] + count[None, :], count[:, None]] <= LEVEL * (1 + 1e-9)
    return found
