"""Fisher's exact test of many two-by-two tables at once, and the odds ratio of one.

A table counts coats: exposed with and without the defect, others with and without it. Given its margins the first
count is hypergeometric; the two-sided p is the chance of all tables no likelier than the one seen (Fisher 1935). SciPy
tests one table at a time, which costs a search and two sums; here these run over all tables together.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.optimize import brentq
from scipy.stats import hypergeom

Floats = NDArray[np.float64]
Whole = NDArray[np.int64]

_TIE = 1e-7  # of a logarithm: tables this near in chance count as equally likely
_NOTHING = 1e-17  # a term this small against its sum no longer changes it


def fisher_two_sided(exposed_bad: ArrayLike, exposed: ArrayLike, bad: ArrayLike, total: ArrayLike) -> Floats:
    """Return the two-sided p of Fisher's exact test.

    Parameters
    ----------
    exposed_bad, exposed, bad, total : array_like of int, shape (n,)
        Coats that met the exposure and got the defect; that met it; that got the defect; all that are compared.

    Returns
    -------
    ndarray, shape (n,)

    References
    ----------
    Fisher, The Design of Experiments, 1935.
    """
    a, n, k, N = (np.atleast_1d(np.asarray(x, dtype=np.int64)) for x in (exposed_bad, exposed, bad, total))
    a, n, k, N = np.broadcast_arrays(a, n, k, N)
    seen = _log_chance(a, n, k, N)
    mode = ((n + 1) * (k + 1)) // (N + 2)
    below = a < mode
    own = _tail(a, n, k, N, below)
    far, found = _equally_unlikely(seen, mode, below, n, k, N)
    other = np.where(found, np.exp(_log_chance(far, n, k, N)) * _tail(far, n, k, N, ~below), 0.0)
    p = np.exp(seen) * own + other
    likeliest = seen >= _log_chance(mode, n, k, N) - _TIE
    return np.where(likeliest, 1.0, np.minimum(p, 1.0))


def table_chances(n: int, k: int, total: int) -> tuple[int, Floats]:
    """Return the least count of exposed coats with the defect, and the chance of each from there on, shape (m,)."""
    least, most = max(0, n + k - total), min(n, k)
    x = np.arange(least, most + 1)
    chance = np.exp(hypergeom.logpmf(x, total, k, n))
    return least, chance / chance.sum()


def odds_ratio(exposed_bad: int, exposed: int, bad: int, total: int, level: float = 0.95) -> tuple[float, float, float]:
    """Return the conditional odds ratio of a table and its exact interval.

    Parameters
    ----------
    exposed_bad, exposed, bad, total : int
        As for `fisher_two_sided`.
    level : float
        How often the interval holds the true ratio, at least.

    Returns
    -------
    tuple of float
        The likeliest ratio given the margins, and the ends of the interval; 0 and inf where nothing bounds them.

    References
    ----------
    Cornfield, Proc. 3rd Berkeley Symp. 4 (1956) 135; Fisher's noncentral hypergeometric distribution.
    """
    least, most = max(0, exposed + bad - total), min(exposed, bad)
    if least == most:
        return 1.0, 0.0, np.inf
    x = np.arange(least, most + 1)
    ways = hypergeom.logpmf(x, total, bad, exposed)
    beyond = (1 - level) / 2

    def chances(log_ratio: float) -> Floats:
        found = ways + x * log_ratio
        weight = np.exp(found - found.max())
        return np.asarray(weight / weight.sum())

    def where(rises: Callable[[Floats], float], aim: float) -> float:
        return float(np.exp(brentq(lambda log_ratio: rises(chances(log_ratio)) - aim, -50.0, 50.0, xtol=1e-10)))

    at_most, at_least = x <= exposed_bad, x >= exposed_bad
    lowest, highest = exposed_bad == least, exposed_bad == most
    ratio = 0.0 if lowest else np.inf if highest else where(lambda chance: float(chance @ x), exposed_bad)
    low = 0.0 if lowest else where(lambda chance: float(chance[at_least].sum()), beyond)
    high = np.inf if highest else where(lambda chance: -float(chance[at_most].sum()), -beyond)
    return ratio, low, high


def _log_chance(x: Whole, n: Whole, k: Whole, N: Whole) -> Floats:
    """Return ln of the chance that x of n exposed coats are among the k bad ones of N."""
    found: Floats = hypergeom.logpmf(x, N, k, n)  # its pmf takes a hundred times as long where N is large
    return found


def _tail(start: Whole, n: Whole, k: Whole, N: Whole, downward: NDArray[np.bool_]) -> Floats:
    """Return the chances from `start` away from the mode, summed, over the chance of `start` itself."""
    x = start.astype(float)
    term, total = np.ones(len(x)), np.ones(len(x))
    while True:
        down = x * (N - k - n + x) / np.maximum((k - x + 1) * (n - x + 1), 1)  # nil at the end of what can be
        up = (k - x) * (n - x) / np.maximum((x + 1) * (N - k - n + x + 1), 1)
        term = term * np.maximum(np.where(downward, down, up), 0.0)
        if not (term > _NOTHING * total).any():
            return total
        total += term
        x += np.where(downward, -1.0, 1.0)


def _equally_unlikely(
    seen: Floats, mode: Whole, below: NDArray[np.bool_], n: Whole, k: Whole, N: Whole
) -> tuple[Whole, NDArray[np.bool_]]:
    """Return, beyond the mode, the nearest count no likelier than the one seen, and whether there is one."""
    least, most = np.maximum(0, n + k - N), np.minimum(n, k)
    near, far = mode.copy(), np.where(below, most, least)
    found = _log_chance(far, n, k, N) <= seen + _TIE
    while (np.abs(far - near) > 1).any():  # `near` is likelier, `far` is not
        middle = (near + far) // 2
        unlikely = _log_chance(middle, n, k, N) <= seen + _TIE
        near, far = np.where(unlikely, near, middle), np.where(unlikely, middle, far)
    return far, found
