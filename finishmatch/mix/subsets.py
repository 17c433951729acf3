"""Every subset of the tints, each with its best positive amounts, from one shared Gram matrix."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from math import comb
from typing import Any

import numpy as np
from numpy.typing import NDArray

from finishmatch.colour import Floats
from finishmatch.mix.subset_factors import Ints, Level, grown, most_promising, singles
from finishmatch.mix.subset_pairs import Fits, Kept, best_completions

MOST_SUBSETS = 100_000_000  # two seconds or so; all fives of 105 tints
NOTHING = 1e-40  # the least square of a tint that is the colour itself: one processor finds 1e-33 there, another nought
Accepts = Callable[[Ints], NDArray[np.bool_]]


@dataclass(frozen=True)
class SubsetList:
    """The best subsets found.

    `members` of shape (m, largest) holds tint indices, -1 where a subset is smaller; `amounts` of the same shape the
    best amounts (0 there); `misfit` of shape (m,) the least of |rows·x|², rising; `searched` how many were solved, and
    `whole_up_to` the size up to which these were all there are.
    """

    members: Ints
    amounts: Floats
    misfit: Floats
    searched: int
    whole_up_to: int


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
    most_subsets: int = MOST_SUBSETS,
) -> SubsetList:
    """Find the subsets whose positive mixtures best solve rows·x ≈ 0 with scale·x = 1.

    None is missed where all subsets of a size are at most `most_subsets`. Of more, those are solved that hold one of
    the most promising subsets of two tints fewer, with every pair of others.

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
        Given members of shape (size, m), returns which subsets are wanted, shape (m,).
    most_subsets : int
        How many of a size are solved at most, about.

    Returns
    -------
    SubsetList

    Notes
    -----
    For a subset T the least of xᵀGx with Σx = 1 is 1 / 1ᵀG⁻¹1, at x ∝ G⁻¹1. When x has a negative part the best
    positive mixture of T leaves a tint out, and is found with that smaller subset. The Cholesky factor of a subset is
    that of its prefix with a row added; the last two tints of three or more are found in closed form
    (`best_completions`), on whole arrays by NumPy.
    """
    scaled = rows / scale
    gram = scaled.T @ scaled
    n = gram.shape[0]
    gram[np.diag_indices(n)] = np.maximum(np.diag(gram) * (1 + 1e-12), NOTHING)
    held = limits or ShareLimits(np.ones(n), np.ones(n))

    def fits(members: Ints, amounts: Floats) -> NDArray[np.bool_]:
        weight = amounts * (held.weight_per_amount / scale)[members]
        within = weight <= held.largest_share[members] * weight.sum(axis=0) * (1 + 1e-12)
        fine: NDArray[np.bool_] = (amounts > 0).all(axis=0) & within.all(axis=0)
        return fine if accepts is None else fine & accepts(members)

    found, searched, whole_up_to = _best_of_each_size(gram, largest, keep, fits, most_subsets)
    misfit = np.concatenate([part.misfit for part in found])
    order = np.argsort(misfit, kind="stable")
    members = np.concatenate([_padded(part.members, largest, -1) for part in found])[order]
    amounts = np.concatenate([_padded(part.amounts, largest, 0) for part in found])[order]
    return SubsetList(members, amounts / scale[members] * (members >= 0), misfit[order], searched, whole_up_to)


def _best_of_each_size(
    gram: Floats, largest: int, keep: int, fits: Fits, most_subsets: int
) -> tuple[list[Kept], int, int]:
    """Return the best subsets of each size, how many were solved, and the size up to which these were all there are."""
    n = len(gram)
    levels = [singles(gram)]
    found = [_best(levels[0], keep, fits)]
    searched, whole_up_to = n, min(2, largest)
    for size in range(2, largest + 1):
        if size == 2:
            levels.append(grown(levels[0], gram))
            found.append(_best(levels[1], keep, fits))
            searched += len(levels[1])
            continue
        if size == 3 or comb(n, size) <= most_subsets:
            whole_up_to = size
            if size == len(levels) + 3:
                levels.append(grown(levels[-1], gram))
            best, counted = best_completions(levels[size - 3], gram, keep, fits)
            assert counted == comb(n, size)
        else:
            begun = most_promising(levels[size - 4], gram, max(1, most_subsets // comb(n, 2)))
            best, counted = best_completions(begun, gram, keep, fits, anywhere=True)
        found.append(best)
        searched += counted
    return found, searched, whole_up_to


def _padded(values: NDArray[Any], width: int, filler: float) -> NDArray[Any]:
    return np.pad(values, ((0, 0), (0, width - values.shape[1])), constant_values=filler)


def _best(level: Level, keep: int, fits: Fits) -> Kept:
    """Return the best subsets of a small level."""
    amounts = level.amounts()
    fine = fits(level.members, amounts)
    return Kept(level.members[:, fine].T, amounts[:, fine].T, 1 / level.promise[fine]).best(keep)
