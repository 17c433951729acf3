"""Subsets of one size with their Cholesky factors, which larger subsets begin with: all, or the most promising."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from finishmatch.colour import Floats

Ints = NDArray[np.int64]
ALIKE = 1e-13  # what is left of a tint's square once others are taken out of it: below this share it is one of them
_AT_ONCE = 1 << 12  # subsets grown together


@dataclass(frozen=True)
class Level:
    """Subsets of one size with their Cholesky factors: members and z of (size, m), lower of (size, size, m).

    Each column of members rises. 1/Σz² is the least |rows·x|² with Σx = 1, whatever the signs of x.
    """

    members: Ints
    lower: dict[tuple[int, int], Floats]
    z: list[Floats]

    def __getitem__(self, chosen: NDArray[np.int64] | NDArray[np.bool_] | slice) -> Level:
        """Return some of the subsets."""
        return Level(
            self.members[:, chosen],
            {key: values[chosen] for key, values in self.lower.items()},
            [values[chosen] for values in self.z],
        )

    def __len__(self) -> int:
        """Return how many subsets there are."""
        return int(self.members.shape[1])

    @property
    def promise(self) -> Floats:
        """1/misfit of each with the signs of x left free, shape (m,)."""
        total: Floats = np.sum([z * z for z in self.z], axis=0)
        return total

    def amounts(self) -> Floats:
        """Return x with Σx = 1, shape (size, m), by back substitution of Lᵀx = z."""
        size = len(self.z)
        x = np.empty((size, len(self)))
        for i in range(size - 1, -1, -1):
            value = self.z[i]
            for j in range(i + 1, size):
                value = value - self.lower[j, i] * x[j]
            x[i] = value / self.lower[i, i]
        shares: Floats = x / x.sum(axis=0)
        return shares


def singles(gram: Floats) -> Level:
    """Return each tint as a subset, of a Gram matrix of shape (n, n)."""
    root = np.sqrt(np.diag(gram))
    return Level(np.arange(len(gram))[None], {(0, 0): root}, [1 / root])


def grown(level: Level, gram: Floats) -> Level:
    """Return the subsets of one tint more: each tint after a subset's last one is added to it."""
    size = level.members.shape[0]
    counts = len(gram) - 1 - level.members[-1]
    parent = np.repeat(np.arange(len(level)), counts)
    start = np.repeat(np.cumsum(counts) - counts, counts)
    added = level.members[-1][parent] + 1 + np.arange(parent.size) - start
    more = level[parent]
    diagonal = gram[added, added]
    left, dot = diagonal.copy(), np.ones(parent.size)
    for i in range(size):
        entry = gram[more.members[i], added]
        for j in range(i):
            entry = entry - more.lower[i, j] * more.lower[size, j]
        entry = entry / more.lower[i, i]
        more.lower[size, i] = entry
        left -= entry * entry
        dot -= entry * more.z[i]
    root = np.sqrt(np.maximum(left, ALIKE * diagonal))
    more.lower[size, size] = root
    return Level(np.concatenate([more.members, added[None]]), more.lower, [*more.z, dot / root])


def most_promising(level: Level, gram: Floats, keep: int) -> Level:
    """Return, of the subsets of one tint more than a level's, those whose positive mixtures come nearest by themselves.

    Parameters
    ----------
    level : Level
        All subsets of one or two tints.
    gram : ndarray, shape (n, n)
    keep : int

    Notes
    -----
    A subset counts by the best positive mixture of it or of some of it. With the signs left free, subsets that come
    near by taking paint away crowd out the others.
    """
    kept, merit = None, np.empty(0)
    for start in range(0, len(level), _AT_ONCE):
        block = grown(level[start : start + _AT_ONCE], gram)
        merits = np.concatenate([merit, _positive_promise(block, gram)])
        kept = block if kept is None else _joined(kept, block)
        if merits.size > keep:
            best = np.argpartition(-merits, keep - 1)[:keep]
            kept, merits = kept[best], merits[best]
        merit = merits
    assert kept is not None
    return kept


def _positive_promise(level: Level, gram: Floats) -> Floats:
    """Return 1/misfit of the best positive mixture within each subset of two or three, shape (m,)."""
    diagonal = np.diag(gram)
    best: Floats = np.max(1 / diagonal[level.members], axis=0)
    size = len(level.members)
    for i in range(size - 1):
        for j in range(i + 1, size):
            a, b = level.members[i], level.members[j]
            shared = gram[a, b]
            x_a, x_b = diagonal[b] - shared, diagonal[a] - shared
            pair = (x_a + x_b) / np.maximum(diagonal[a] * diagonal[b] - shared**2, ALIKE * diagonal[a] * diagonal[b])
            best = np.where((x_a > 0) & (x_b > 0), np.maximum(best, pair), best)
    return np.where((level.amounts() > 0).all(axis=0), level.promise, best)


def _joined(a: Level, b: Level) -> Level:
    return Level(
        np.concatenate([a.members, b.members], axis=1),
        {key: np.concatenate([values, b.lower[key]]) for key, values in a.lower.items()},
        [np.concatenate(pair) for pair in zip(a.z, b.z, strict=True)],
    )
