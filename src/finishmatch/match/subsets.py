"""Every subset of the tints, each with its best positive amounts, from one shared Gram matrix."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from math import comb

import numpy as np
from numpy.typing import NDArray

from finishmatch.colour import Floats

Ints = NDArray[np.int64]
Accepts = Callable[[Ints], NDArray[np.bool_]]
_CHUNK = 1 << 15  # subsets worked on at a time, so that the working arrays stay in cache


@dataclass(frozen=True)
class SubsetList:
    """The best subsets found.

    `members` of shape (m, largest) holds tint indices, -1 where a subset is smaller; `amounts` of the same shape the
    best amounts (0 there); `misfit` of shape (m,) the least of |rows·x|², rising; `searched` how many were solved.
    """

    members: Ints
    amounts: Floats
    misfit: Floats
    searched: int


@dataclass(frozen=True)
class _Level:
    """All subsets of one size with their Cholesky factors: members and z of (size, m), lower of (size, size, m)."""

    members: Ints
    lower: dict[tuple[int, int], Floats]
    z: list[Floats]


@dataclass(frozen=True)
class ShareLimits:
    """The largest share of the batch's weight each tint may take, shape (n,), and its weight per amount, shape (n,)."""

    weight_per_amount: Floats
    largest_share: Floats


def search_subsets(
    rows: Floats,
    scale: Floats,
    largest: int,
    keep: int,
    limits: ShareLimits | None = None,
    accepts: Accepts | None = None,
) -> SubsetList:
    """Find the subsets whose positive mixtures best solve rows·x ≈ 0 with scale·x = 1; none is missed.

    Parameters
    ----------
    rows : ndarray, shape (p, n)
        One column per tint.
    scale : ndarray, shape (n,)
        Positive; fixes the size of the mixture, so that x = 0 isn't the answer.
    largest : int
        Most tints in a subset, 1 to n.
    keep : int
        How many subsets of each size are kept.
    limits : ShareLimits or None
        Subsets that need more of a tint than its share are left out.
    accepts : callable or None
        Given members of shape (size, m), tells which subsets are wanted, shape (m,).

    Returns
    -------
    SubsetList

    Notes
    -----
    For a subset T the least of xᵀGx with Σx = 1 is 1 / 1ᵀG⁻¹1, at x ∝ G⁻¹1. When x has a negative part the best
    positive mixture of T leaves a tint out, and is found with that smaller subset. The Cholesky factor of a subset is
    that of its prefix with a row added, so each costs one triangular solve; they are done in blocks by NumPy.
    """
    scaled = rows / scale
    gram = scaled.T @ scaled
    n = gram.shape[0]
    gram[np.diag_indices(n)] *= 1 + 1e-12
    if limits is None:
        limits = ShareLimits(np.ones(n), np.ones(n))
    limits = ShareLimits(limits.weight_per_amount / scale, limits.largest_share)
    found: list[tuple[Ints, Floats, Floats]] = []
    level = _first(gram)
    searched = n
    found.append(_best(level.members, _amounts(level), _misfit(level), limits, keep, largest, accepts))
    for size in range(2, largest + 1):
        last = size == largest
        pieces, kept = [], []
        for block in _children(level.members, n):
            grown = _grow(level, gram, *block)
            searched += grown.members.shape[1]
            kept.append(_best(grown.members, _amounts(grown), _misfit(grown), limits, keep, largest, accepts))
            if not last:
                pieces.append(grown)
        found.append(_merge(kept, keep))
        if not last:
            level = _join(pieces)
    assert searched == sum(comb(n, size) for size in range(1, largest + 1))
    members, amounts, misfit = _merge(found, keep * largest)
    return SubsetList(members, amounts / scale[members] * (members >= 0), misfit, searched)


def _first(gram: Floats) -> _Level:
    root = np.sqrt(np.diag(gram))
    return _Level(np.arange(len(gram))[None], {(0, 0): root}, [1 / root])


def _children(members: Ints, n: int) -> list[tuple[Ints, Ints]]:
    """Return blocks of (which prefix, which tint is added): each tint after the prefix's last one."""
    counts = n - 1 - members[-1]
    parent = np.repeat(np.arange(members.shape[1]), counts)
    start = np.repeat(np.cumsum(counts) - counts, counts)
    added = members[-1][parent] + 1 + np.arange(parent.size) - start
    return [(parent[i : i + _CHUNK], added[i : i + _CHUNK]) for i in range(0, parent.size, _CHUNK)]


def _grow(level: _Level, gram: Floats, parent: Ints, added: Ints) -> _Level:
    size = level.members.shape[0]
    members = np.concatenate([level.members[:, parent], added[None]])
    lower = {key: values[parent] for key, values in level.lower.items()}
    z = [values[parent] for values in level.z]
    diagonal = gram[added, added]
    left = diagonal.copy()
    dot = np.ones(parent.size)
    for i in range(size):
        entry = gram[members[i], added]
        for j in range(i):
            entry = entry - lower[i, j] * lower[size, j]
        entry = entry / lower[i, i]
        lower[size, i] = entry
        left -= entry * entry
        dot -= entry * z[i]
    root = np.sqrt(np.maximum(left, 1e-13 * diagonal))
    lower[size, size] = root
    z.append(dot / root)
    return _Level(members, lower, z)


def _join(pieces: list[_Level]) -> _Level:
    return _Level(
        np.concatenate([piece.members for piece in pieces], axis=1),
        {key: np.concatenate([piece.lower[key] for piece in pieces]) for key in pieces[0].lower},
        [np.concatenate([piece.z[i] for piece in pieces]) for i in range(len(pieces[0].z))],
    )


def _misfit(level: _Level) -> Floats:
    total = level.z[0] ** 2
    for z in level.z[1:]:
        total = total + z * z
    least: Floats = 1 / total
    return least


def _amounts(level: _Level) -> Floats:
    """Return x with Σx = 1, shape (size, m), by back substitution of Lᵀx = z."""
    size = len(level.z)
    x = np.empty((size, level.z[0].size))
    for i in range(size - 1, -1, -1):
        value = level.z[i]
        for j in range(i + 1, size):
            value = value - level.lower[j, i] * x[j]
        x[i] = value / level.lower[i, i]
    shares: Floats = x / x.sum(axis=0)
    return shares


def _best(
    members: Ints,
    amounts: Floats,
    misfit: Floats,
    limits: ShareLimits,
    keep: int,
    largest: int,
    accepts: Accepts | None,
) -> tuple[Ints, Floats, Floats]:
    """Return the best subsets of a block with positive amounts within the limits, padded to the largest size."""
    weight = amounts * limits.weight_per_amount[members]
    within = weight <= limits.largest_share[members] * weight.sum(axis=0) * (1 + 1e-12)
    fine = ((amounts > 0) & within).all(axis=0)
    if accepts is not None:
        fine &= accepts(members)
    valid = np.flatnonzero(fine)
    if valid.size > keep:
        valid = valid[np.argpartition(misfit[valid], keep)[:keep]]
    pad = ((0, 0), (0, largest - members.shape[0]))
    return (
        np.pad(members[:, valid].T, pad, constant_values=-1),
        np.pad(amounts[:, valid].T, pad),
        misfit[valid],
    )


def _merge(found: list[tuple[Ints, Floats, Floats]], keep: int) -> tuple[Ints, Floats, Floats]:
    members, amounts, misfit = (np.concatenate([part[i] for part in found]) for i in range(3))
    order = np.argsort(misfit, kind="stable")[:keep]
    return members[order], amounts[order], misfit[order]
