"""The Pareto set: what nothing else beats in every respect."""

from __future__ import annotations

import numpy as np

from finishmatch.colour import Floats


def pareto_front(merits: Floats, alike: Floats) -> list[int]:
    """Return the rows of `merits` that no other row beats.

    Parameters
    ----------
    merits : ndarray, shape (m, k)
        Each column is better when smaller.
    alike : ndarray, shape (k,)
        Differences no larger than this don't count as better.

    Returns
    -------
    list of int
        A row is left out when another is no worse by more than `alike` anywhere and better somewhere by more; of rows
        alike everywhere the first by the first merit stays.
    """
    order = np.lexsort(merits.T[::-1])
    kept: list[int] = []
    for i in order:
        others = merits[[j for j in order if j != i]]
        no_worse = (others <= merits[i] + alike).all(axis=1)
        better = (others < merits[i] - alike).any(axis=1)
        twin = any((np.abs(merits[j] - merits[i]) <= alike).all() for j in kept)
        if not (no_worse & better).any() and not twin:
            kept.append(int(i))
    return kept
