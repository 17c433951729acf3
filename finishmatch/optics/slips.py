"""The likeliest slip behind panels that don't fit: exchanged readings, a wrong weight, a wrong tint."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from itertools import combinations
from typing import Any

import numpy as np

from finishmatch.colour import Floats, de00, reflectance_to_lab
from finishmatch.optics.bank import volume_fractions
from finishmatch.optics.misfits import square_misfits
from finishmatch.optics.panel_model import Indices, amount_factors, panel_readings
from finishmatch.optics.panel_set import Bools, PanelSet
from finishmatch.optics.posterior import Posterior, log_evidence, settled
from finishmatch.optics.unknowns import State

FACTORS = (0.1, 0.5, 2.0, 10.0)  # by which a weight is usually mistaken: a place of the point, once for twice
_SUSPECTS = 8  # mixtures looked at
_PAIRS = 3  # exchanges that are worked out
_PAIRED = 4  # panels that don't fit, exchanged two by two whatever is foretold
_PARTNERS = 3  # of each suspect, looked at
_ALIKE_DE00 = 0.5  # readings nearer than this may as well be exchanged
_FEW = 2  # mixtures set aside, up to which those that are left can be trusted
_FIRST = 6  # slips that are settled to the end
_DISPERSAL_SD = (0.02, 0.06)  # least and most that panels' amounts are believed to go off while slips are looked for
_LEAST_THEORY = 0.5
_FAR_DE00 = 8.0  # a slip that leaves its panel further off than this isn't worked out
_ROUNDS, _ROUNDS_WITHOUT = 4, 8  # of steps at most
_EXACT = 1e-2


@dataclass(frozen=True)
class Slip:
    """A slip thought of.

    Parameters
    ----------
    kind : str
        "exchanged" (two readings), "amount" (of `tint`, `factor` times what is written), "tint" (`other` in place of
        `tint`) or "swapped" (the weights of `tint` and `other`).
    rows : tuple of int
        Of the panels; of an exchange the two that change places.
    log_odds : float
        How much more probable it makes all readings than no slip does, natural logarithm.
    """

    kind: str
    rows: tuple[int, ...]
    tint: int = -1
    other: int = -1
    factor: float = 1.0
    log_odds: float = 0.0


@dataclass(frozen=True)
class Explained:
    """A slip with the posterior in which its panels are as they would then have been made."""

    slip: Slip
    posterior: Posterior


def likely_slips(posterior: Posterior, misfits: Bools) -> tuple[Explained, ...]:
    """Return the slips that would explain panels which don't fit, the likeliest first.

    Parameters
    ----------
    posterior : Posterior
        Of the panels that are believed.
    misfits : ndarray, shape (p,)
        The panels that don't fit.

    Notes
    -----
    Slips are hypotheses: under each the panels are written as they would then have been made, the posterior is settled
    anew from that without the suspects, and the probability of all readings is compared with that under no slip. Which
    are worked out is decided by what the other panels predict for the suspects.
    """
    everyone = replace(posterior.problem, trusted=np.ones(len(misfits), dtype=bool), free_surface=False)
    sturdy = replace(
        posterior.beliefs,
        dispersal_sd=float(np.clip(posterior.beliefs.dispersal_sd, *_DISPERSAL_SD)),
        theory=max(posterior.beliefs.theory, _LEAST_THEORY),
    )
    none = settled(everyone, sturdy, posterior.state, rounds=12)
    believed = replace(posterior, problem=replace(posterior.problem, free_surface=False), beliefs=sturdy)
    without = {mixture: _without(believed, mixture) for mixture in _suspects(none, misfits)}
    tried = [
        (slip, settled(replace(everyone, **_as_if(everyone.panels, slip)), sturdy, start, _ROUNDS, _EXACT))
        for slip, start in [*_remade(everyone.panels, without), *_exchanges(believed, without, misfits)]
    ]
    level = log_evidence(none)
    found = []
    for slip, nearly in sorted(tried, key=lambda each: -log_evidence(each[1]))[:_FIRST]:
        after = settled(nearly.problem, sturdy, nearly.state, rounds=10)
        found.append(Explained(replace(slip, log_odds=log_evidence(after) - level), after))
    return tuple(sorted(found, key=lambda each: -each.slip.log_odds))


def _suspects(none: Posterior, misfits: Bools) -> list[int]:
    """Return the mixtures to look at: those that don't fit, those of the same tints, and those that pull most."""
    panels = none.problem.panels
    mixture, held = panels.mixture, np.delete(panels.fractions > 0, panels.anchor, axis=1)
    rare = held[misfits].any(axis=0) & (held.sum(axis=0) <= _SUSPECTS)
    pull = np.bincount(mixture, square_misfits(none))
    ranks = [np.bincount(mixture, flag) > 0 for flag in (misfits, held[:, rare].any(axis=1))]
    order = sorted(range(len(pull)), key=lambda i: (-int(ranks[0][i]), -int(ranks[1][i]), -pull[i]))
    return order[:_SUSPECTS]


def _without(believed: Posterior, *mixtures: int) -> Posterior:
    """Return the posterior of all panels but those of some mixtures; what alone was set aside is left out already."""
    panels, trusted = believed.problem.panels, believed.problem.trusted
    rest = ~np.isin(panels.mixture, mixtures)
    if np.array_equal(rest, trusted) or (len(mixtures) == 1 and _few_aside(believed) and not trusted[~rest].any()):
        return believed
    return settled(replace(believed.problem, trusted=rest), believed.beliefs, believed.state, _ROUNDS_WITHOUT, _EXACT)


def _few_aside(believed: Posterior) -> bool:
    """Whether so few mixtures were set aside that innocent ones are hardly among them."""
    return len(np.unique(believed.problem.panels.mixture[~believed.problem.trusted])) <= _FEW


def _remade(panels: PanelSet, without: dict[int, Posterior]) -> list[tuple[Slip, State]]:
    """Return slips of weights and tints of suspects, with the state to start from."""
    found = []
    for mixture, rest in without.items():
        rows = np.flatnonzero(panels.mixture == mixture)
        ways = list(_ways(panels, int(rows[0])))
        grams = np.array([_grams_as_if(panels.grams[rows[0]], slip) for slip in ways])
        read = _foretold(panels, rest, rows, grams)
        off = de00(reflectance_to_lab(panels.readings[rows]), reflectance_to_lab(read)).mean(axis=1)
        likeliest = {ways[i].kind: ways[i] for i in np.argsort(-off)}  # of each kind the one that fits best
        found += [(replace(slip, rows=tuple(map(int, rows))), rest.state) for slip in likeliest.values()]
    return found


def _ways(panels: PanelSet, row: int) -> Iterator[Slip]:
    """Yield the slips thought of in one panel's weights and tints."""
    grams = panels.grams[row]
    held = [int(i) for i in np.flatnonzero(grams)]
    largest = int(panels.fractions[row].argmax())
    for tint in held:
        if tint != largest or len(held) > 2:
            yield from (Slip("amount", (row,), tint, factor=factor) for factor in FACTORS)
        yield from (Slip("tint", (row,), tint, other) for other in range(grams.size) if other not in held)
    yield from (Slip("swapped", (row,), one, two) for one, two in combinations(held, 2) if grams[one] != grams[two])


def _grams_as_if(grams: Floats, slip: Slip) -> Floats:
    """Return what would have been weighed, shape (n,)."""
    made = grams.copy()
    if slip.kind == "amount":
        made[slip.tint] *= slip.factor
    else:
        made[[slip.tint, slip.other]] = grams[[slip.other, slip.tint]]
    return made


def _foretold(panels: PanelSet, rest: Posterior, rows: Indices, grams: Floats) -> Floats:
    """Return what rows would read with other weights, shape (ways, rows, 31)."""
    k = len(grams)
    at = np.tile(rows, k)
    made = replace(
        panels,
        fractions=np.repeat(volume_fractions(grams, panels.dry), len(rows), axis=0),
        build_um=panels.build_um[at],
        ground=panels.ground[at],
    )
    K, S = rest.state.optics(panels.anchor)
    return panel_readings(made, K, S, rest.state.surface).reshape(k, len(rows), -1)


def _exchanges(believed: Posterior, without: dict[int, Posterior], misfits: Bools) -> list[tuple[Slip, State]]:
    """Return exchanges of a suspect's reading with another, with the state to start from."""
    panels = believed.problem.panels
    labs = reflectance_to_lab(panels.readings)
    foretold = {mixture: _labs(rest) for mixture, rest in without.items()}
    scored: dict[tuple[int, int], tuple[float, State]] = {}
    for i in map(int, np.flatnonzero(np.isin(panels.mixture, list(without)))):
        rest = without[int(panels.mixture[i])]
        own = foretold[int(panels.mixture[i])]
        theirs = np.stack([foretold.get(int(m), own)[j] for j, m in enumerate(panels.mixture)])
        off = de00(own[i], labs) + de00(theirs, labs[i])
        own_row = np.array([name == panels.names[i] for name in panels.names])  # another photograph of it is no other
        unlike = own_row | (panels.hiding != panels.hiding[i]) | (panels.spectral != panels.spectral[i])
        off[unlike | (de00(labs[i], labs) < _ALIKE_DE00)] = np.inf
        for j in map(int, np.argsort(off)[:_PARTNERS]):
            pair = (min(i, j), max(i, j))
            if off[j] < scored.get(pair, (2 * _FAR_DE00, rest.state))[0]:
                scored[pair] = float(off[j]), rest.state
    best = sorted(scored, key=lambda pair: scored[pair][0])[:_PAIRS]
    aside = [i for i in np.flatnonzero(misfits) if int(panels.mixture[i]) in without][:_PAIRED]
    for i, j in combinations(map(int, aside), 2):
        alike = panels.hiding[i] == panels.hiding[j] and panels.spectral[i] == panels.spectral[j]
        if alike and panels.names[i] != panels.names[j] and (i, j) not in best:
            best.append((i, j))
            scored.setdefault((i, j), (0.0, without[int(panels.mixture[i])].state))
    if _few_aside(believed):
        return [(Slip("exchanged", pair), scored[pair][1]) for pair in best]
    return [(Slip("exchanged", pair), _without(believed, *map(int, panels.mixture[list(pair)])).state) for pair in best]


def _labs(rest: Posterior) -> Floats:
    """Return the colour of each panel as it is written, CIELAB, shape (p, 3)."""
    panels = rest.problem.panels
    return reflectance_to_lab(panel_readings(panels, *rest.state.optics(panels.anchor), rest.state.surface))


def _as_if(panels: PanelSet, slip: Slip) -> dict[str, Any]:
    """Return the panels and their factors as they would be."""
    if slip.kind == "exchanged":
        readings, sd = panels.readings.copy(), panels.reading_sd.copy()
        i, j = slip.rows
        readings[[i, j]], sd[[i, j]] = panels.readings[[j, i]], panels.reading_sd[[j, i]]
        seen = None if panels.seen is None else panels.seen.exchanged(i, j)
        return {"panels": replace(panels, readings=readings, reading_sd=sd, seen=seen)}
    grams = panels.grams.copy()
    grams[list(slip.rows)] = _grams_as_if(panels.grams[slip.rows[0]], slip)
    made = replace(panels, grams=grams, fractions=volume_fractions(grams, panels.dry))
    return {"panels": made, "factors": amount_factors(made)}
