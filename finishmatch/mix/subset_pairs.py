"""The last two tints of a subset in closed form: every pair that can follow the tints before, all subsets together."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from finishmatch.colour import Floats
from finishmatch.mix.subset_factors import ALIKE, Ints, Level

Fits = Callable[[Ints, Floats], NDArray[np.bool_]]
_BLOCK = 1 << 15  # subsets worked on at a time, so that the working arrays stay in cache
_ROWS = 64  # prefixes taken together when any tints may follow


@dataclass(frozen=True)
class Kept:
    """The best subsets so far: members (m, size), amounts (m, size) and misfits (m,); in no order."""

    members: Ints
    amounts: Floats
    misfit: Floats

    def best(self, keep: int) -> Kept:
        """Return the `keep` of least misfit."""
        if len(self.misfit) <= keep:
            return self
        chosen = np.argpartition(self.misfit, keep - 1)[:keep]
        return Kept(self.members[chosen], self.amounts[chosen], self.misfit[chosen])


@dataclass(frozen=True)
class _Prefixes:
    """Prefixes that end in one tint, with what is left of each later tint once they are taken out of it.

    `rows` is a list of (m, later) arrays, the entries of the next row of the Cholesky factor for each later tint;
    `left` and `dot`, of shape (m, later), what remains of its square and of the right-hand side.
    """

    level: Level
    later: Ints
    rows: list[Floats]
    left: Floats
    dot: Floats
    base: Floats


def best_completions(level: Level, gram: Floats, keep: int, fits: Fits, *, anywhere: bool = False) -> tuple[Kept, int]:
    """Return the best subsets that are a prefix and two more tints, and how many were tried.

    Parameters
    ----------
    level : Level
        Prefixes, their members rising.
    gram : ndarray, shape (n, n)
    keep : int
    fits : callable
        Given members (size, m) and amounts (size, m) that sum to 1, returns which are wanted.
    anywhere : bool
        Whether the two may be any tints, for when the prefixes are some of many. Else they come after the prefix, so
        that every prefix gives every subset once.

    Notes
    -----
    With the prefix taken out, two tints d and e leave the symmetric system [g_dd g_de; g_de g_ee] x = (r_d, r_e), whose
    solution is s_d = r_d g_ee - r_e g_de and s_e = r_e g_dd - r_d g_de over its determinant. Both must be positive, and
    1/misfit grows by (r_d s_d + r_e s_e)/determinant. So a pair costs a dozen operations on whole arrays; the prefix's
    own amounts are worked out only where the two are positive and the misfit is among the best so far. Tints that are
    alike once the prefix is taken out are passed over: a subset of one tint fewer does the same.
    """
    n = len(gram)
    size = len(level.members) + 2
    kept = Kept(np.empty((0, size), dtype=np.int64), np.empty((0, size)), np.empty(0))
    worst, counted = np.inf, 0
    for group, later in _groups(level.members[-1], n, anywhere):
        prefixes = _taken_out(level[group], gram, later)
        counted += group.size * (later.size * (later.size - 1) // 2)
        first, second = np.triu_indices(later.size, 1)
        block = max(1, _BLOCK // group.size)
        for start in range(0, first.size, block):
            pairs = first[start : start + block], second[start : start + block]
            found = _completed(prefixes, gram, *pairs, worst, fits)
            if not len(found.misfit):
                continue
            kept = _joined(kept, found, once=anywhere).best(keep)
            worst = float(kept.misfit.max()) if len(kept.misfit) == keep else np.inf
    return kept, counted


def _groups(last: Ints, n: int, anywhere: bool) -> Iterator[tuple[Ints, Ints]]:
    """Yield groups of prefixes with the tints that may follow them."""
    if anywhere:
        for start in range(0, last.size, _ROWS):
            yield np.arange(start, min(start + _ROWS, last.size)), np.arange(n)
        return
    by_last = np.argsort(last, kind="stable")
    ends = np.searchsorted(last[by_last], np.arange(n + 1))
    for tint in range(n - 2):
        group = by_last[ends[tint] : ends[tint + 1]]
        if group.size:
            yield group, np.arange(tint + 1, n)


def _taken_out(level: Level, gram: Floats, later: Ints) -> _Prefixes:
    diagonal = np.diag(gram)[later]
    rows: list[Floats] = []
    left = np.broadcast_to(diagonal, (level.members.shape[1], later.size)).copy()
    dot = np.ones_like(left)
    for i, z in enumerate(level.z):
        row = gram[level.members[i]][:, later]
        for j in range(i):
            row = row - level.lower[i, j][:, None] * rows[j]
        row = row / level.lower[i, i][:, None]
        left -= row * row
        dot -= row * z[:, None]
        rows.append(row)
    # a tint of the prefix itself can't follow it: its amount would be far below zero
    own = (level.members[:, :, None] == later).any(axis=0)
    left, dot = np.where(own, diagonal, np.maximum(left, ALIKE * diagonal)), np.where(own, -1e30, dot)
    return _Prefixes(level, later, rows, left, dot, level.promise)


def _completed(prefixes: _Prefixes, gram: Floats, d: Ints, e: Ints, worst: float, fits: Fits) -> Kept:
    """Return what is worth keeping of the prefixes with the d-th and the e-th later tint, each of shape (pairs,)."""
    g_dd, g_ee = prefixes.left.take(d, axis=1), prefixes.left.take(e, axis=1)
    r_d, r_e = prefixes.dot.take(d, axis=1), prefixes.dot.take(e, axis=1)
    g_de = -prefixes.rows[0].take(d, axis=1) * prefixes.rows[0].take(e, axis=1)
    for row in prefixes.rows[1:]:
        g_de -= row.take(d, axis=1) * row.take(e, axis=1)
    g_de += gram[prefixes.later[d], prefixes.later[e]]
    s_d = r_d * g_ee - r_e * g_de
    s_e = r_e * g_dd - r_d * g_de
    square = g_dd * g_ee
    determinant = square - g_de * g_de
    gain = r_d * s_d + r_e * s_e
    enough = (1 / worst - prefixes.base)[:, None] * determinant
    at, pair = np.nonzero((s_d > 0) & (s_e > 0) & (gain > enough) & (determinant > ALIKE * square))
    det = determinant[at, pair]
    d, e = d[pair], e[pair]
    x = np.empty((len(prefixes.rows) + 2, at.size))
    x[-2], x[-1] = s_d[at, pair] / det, s_e[at, pair] / det
    found = prefixes.level[at]
    for i in range(len(prefixes.rows) - 1, -1, -1):
        value = found.z[i] - prefixes.rows[i][at, d] * x[-2] - prefixes.rows[i][at, e] * x[-1]
        for j in range(i + 1, len(prefixes.rows)):
            value = value - found.lower[j, i] * x[j]
        x[i] = value / found.lower[i, i]
    members = np.concatenate([found.members, prefixes.later[d][None], prefixes.later[e][None]])
    total = x.sum(axis=0)
    amounts = x / total
    fine = (x > 0).all(axis=0)
    if fine.any():
        fine &= fits(members, amounts)
    return Kept(members[:, fine].T, amounts[:, fine].T, 1 / total[fine])


def _joined(a: Kept, b: Kept, once: bool) -> Kept:
    """Return both lists as one; `once` drops a subset that was come by a second way."""
    members = np.concatenate([a.members, b.members])
    amounts, misfit = np.concatenate([a.amounts, b.amounts]), np.concatenate([a.misfit, b.misfit])
    if once:
        order = np.argsort(members, axis=1)
        members, amounts = np.take_along_axis(members, order, axis=1), np.take_along_axis(amounts, order, axis=1)
        _, first = np.unique(members, axis=0, return_index=True)
        members, amounts, misfit = members[first], amounts[first], misfit[first]
    return Kept(members, amounts, misfit)
