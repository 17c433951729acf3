"""Tints of which only colours are known are taken for a kind of pigment: by their name, or by what they look like.

A name counts unless what was seen refutes it; without one a kind is taken only where it is more probable than none. So
a wrong name seldom does harm: by how much is measured (`benchmarks/test_pigment_prior.py`).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np

from finishmatch.colour import Floats
from finishmatch.colour.grid import SIZE
from finishmatch.optics.bank import Tint
from finishmatch.optics.curvature import Processes, border_precision
from finishmatch.optics.pigment_kinds import BLACKS, LIKE, WHITE, PigmentKind, kind_of, pigment_kinds
from finishmatch.optics.posterior import Posterior, settled

REFUTED = 8.0  # by so much less probable (a logarithm) than no kind: the name is wrong
SURELY_WRONG = 20.0  # by so much less probable that it is said
LOOKS_LIKE = 1.0  # by so much more probable than no kind: a tint without a name is taken for what it looks like
_OFF_SD = 0.5  # of the logarithm of the strength that all tins of a bank have in common («common practice»)
_ROUNDS = 2


@dataclass(frozen=True)
class _Block:
    """log K of a tint, and the level of its log S: middle, precision with what was believed, and that alone."""

    middle: Floats
    precision: Floats
    believed: Floats
    believed_precision: Floats


def by_pigments(posterior: Posterior) -> tuple[Posterior, tuple[str, ...]]:
    """Return the posterior with kinds of pigment in place of what is believed of any tint, and what is to be said.

    Only tints that no spectrum was read of are taken for a kind, and only beside a white that sets the scale: a bank
    that an instrument read stays as it is.
    """
    tints = _only_seen(posterior)
    if not tints:
        return posterior, ()
    seen = posterior.problem.panels.seen
    fine = seen is not None and seen.looks is not None
    kinds, off, first = [""] * posterior.problem.tints, 0.0, posterior
    blocks = {tint: _block(first, tint) for tint in tints}
    warnings: dict[int, str] = {}
    for _ in range(_ROUNDS):
        for tint in tints:
            kinds[tint], warnings[tint] = _kind(first, tint, _evidence(first, tint, blocks[tint], off, fine))
        off = _common(posterior, kinds, fine)
        beliefs = replace(first.beliefs, kinds=tuple(kinds), kinds_off=off, kinds_fine=fine)
        posterior = settled(posterior.problem, beliefs, posterior.state, rounds=12, exact=1e-6)
    return posterior, tuple(said for said in warnings.values() if said)


def _only_seen(posterior: Posterior) -> list[int]:
    """Return the tints that are known by colours alone, none where no white sets the scale."""
    problem = posterior.problem
    panels = problem.panels
    if panels.seen is None or panels.tints[panels.anchor].role != WHITE:
        return []
    held = panels.fractions > 0
    read = held[problem.read].any(axis=0)
    return [int(tint) for tint in np.flatnonzero(held.any(axis=0) & ~read)]


def _kind(posterior: Posterior, tint: int, evidence: Mapping[str, float]) -> tuple[str, str]:
    """Return what a tint is taken for, and what is to be said of its name, "" for nothing."""
    panels = posterior.problem.panels
    tin = panels.tints[tint]
    named = kind_of(tin.colour_index)
    best = max(evidence, key=lambda kind: evidence[kind])
    like = f"{LIKE}{best}" if evidence[best] > LOOKS_LIKE else ""
    if named not in evidence:
        return like, ""
    if evidence[named] > -REFUTED:
        return named, ""
    if evidence[named] > -SURELY_WRONG or not like:
        return like, ""
    return like, f"tint {tin.name}: its panels look {like}, not like {tin.colour_index}: check its name and labels"


def _evidence(posterior: Posterior, tint: int, block: _Block, off: float, fine: bool) -> dict[str, float]:
    """Return by how much more probable the panels are with a tint of each kind than of none, logarithms.

    By the middle's curvature: what the panels say of the tint alone is a normal density, which is multiplied with what
    is believed.
    """
    anchor = tint == posterior.problem.panels.anchor
    said = block.precision - block.believed_precision
    pull = block.precision @ block.middle - block.believed_precision @ block.believed
    none = _probable(said, pull, block.believed, block.believed_precision)
    found = {}
    for name, kind in pigment_kinds(fine).items():
        if not name.startswith(LIKE) and may_be(posterior.problem.panels.tints[tint], name):
            found[name] = _probable(said, pull, *_believed(kind, anchor, off)) - none
    return found


def may_be(tint: Tint, kind: str) -> bool:
    """Return whether a tint of its role can be of a kind: whites are white, blacks black, and no other tint is either.

    A black may also be a tint among others, which some blacks are in the trade.
    """
    if tint.role == "tint":
        return kind != WHITE
    return kind == WHITE if tint.role == WHITE else kind in BLACKS


def _probable(said: Floats, pull: Floats, believed: Floats, precision: Floats) -> float:
    whole = said + precision
    towards = pull + precision @ believed
    probable = np.linalg.slogdet(precision)[1] - np.linalg.slogdet(whole)[1]
    probable += towards @ np.linalg.solve(whole, towards) - believed @ precision @ believed
    return float(probable / 2)


def _believed(kind: PigmentKind, anchor: bool, off: float) -> tuple[Floats, Floats]:
    """Return the middle and precision of a block of a kind."""
    if anchor:
        return kind.log_k, kind.precision
    precision = np.zeros((SIZE + 1, SIZE + 1))
    precision[:SIZE, :SIZE], precision[SIZE, SIZE] = kind.precision, kind.log_s[1] ** -2
    return np.append(kind.log_k + off, kind.log_s[0]), precision


def _block(posterior: Posterior, tint: int) -> _Block:
    """Return what panels and beliefs together say of a tint: the anchor has no level of its own."""
    problem, beliefs, state = posterior.problem, posterior.beliefs, posterior.state
    n, m = problem.tints, problem.factors.count
    size = SIZE + (tint != problem.panels.anchor)
    field, border = np.zeros((SIZE, 2 * n, size)), np.zeros((len(posterior.system.schur), size))
    field[np.arange(SIZE), tint, np.arange(SIZE)] = 1.0
    if size > SIZE:
        border[m + tint, SIZE] = 1.0
    moved, common = posterior.system.solve(field, border)
    covariance = np.concatenate([moved[:, tint], common[m + tint][None]])[:size]
    precision = np.linalg.inv((covariance + covariance.T) / 2)
    own = np.zeros((size, size))
    own[:SIZE, :SIZE] = Processes.believed(problem, beliefs).of_field(n, problem.panels.anchor)[tint]
    believed = np.full(size, beliefs.k_mean)
    middle = state.field[:, tint]
    if size > SIZE:
        own[SIZE, SIZE] = border_precision(problem, beliefs)[m + tint]
        believed[SIZE] = beliefs.s_mean
        middle = np.append(middle, state.level[tint])
    return _Block(middle, precision, believed, own)


def _common(posterior: Posterior, kinds: list[str], fine: bool) -> float:
    """Return by how much the tints of a bank are stronger than their kinds, all alike."""
    weight, sum_ = _OFF_SD**-2, 0.0
    for tint, name in enumerate(kinds):
        if name and tint != posterior.problem.panels.anchor:
            kind = pigment_kinds(fine)[name]
            whole = kind.precision.sum(axis=0)
            weight += float(whole.sum())
            sum_ += float(whole @ (posterior.state.field[:, tint] - kind.log_k))
    return sum_ / weight
