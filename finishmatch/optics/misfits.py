"""Panels that don't fit: mislabelled, misweighed or misread ones are set aside, so that they spoil no tint."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from itertools import combinations

import numpy as np

from finishmatch.colour import Floats, de00, reflectance_to_lab
from finishmatch.optics.panel_model import Indices, panel_readings, with_amounts
from finishmatch.optics.panel_set import Bools, PanelSet
from finishmatch.optics.parts import LARGE_TINTS, often_mixed
from finishmatch.optics.posterior import Posterior, settled

# a panel further off than this, and far from its fellows, is named; the theory leaves more of a thin film
MISFIT_DE00 = 0.8
MISFIT_THIN_DE00 = 2.0
_SEEN_SD = 3.0  # standard deviations of what is known of a colour, up to which it is no misfit
_CAP_DE00 = 10.0  # a panel further off than this counts no more than this
_SUSPECTS = 5  # fitted without, each in turn, at most
_PAIRED = 3  # of the furthest off, fitted without two by two
_MOST = 12  # mixtures set aside: where more are wrong nothing is right
_ROUNDS = 5  # of steps of such a fit
# as far off as a mean of all wavelengths is that of three numbers of a colour, which scatters more: their 99.9th
# percentiles are 16.3 and 61.1 (chi-squared, 3 and 31)
_OF_THREE = 1.66


def panel_residuals(posterior: Posterior, as_poured: bool = False) -> Floats:
    """Return how far each panel's reading is from what is fitted, ΔE00 under D65, 10°, shape (p,).

    It is fitted to the amounts that were written, or, `as_poured`, to those the fit finds were in the panel.
    """
    panels, state = posterior.problem.panels, posterior.state
    poured = with_amounts(panels, posterior.problem.factors, state.factors) if as_poured else panels
    fitted = panel_readings(poured, *state.optics(panels.anchor), state.surface)
    return de00(reflectance_to_lab(panels.readings), reflectance_to_lab(fitted))


def square_misfits(posterior: Posterior) -> Floats:
    """Return how far each panel's reading is off from the middle, shape (p,): the mean square, in its own deviations.

    Of a panel of which only a colour was seen it is that of the colour, over as much as three numbers scatter more than
    a spectrum: what stands for its spectrum says nothing.
    """
    linear, seen = posterior.linear, posterior.problem.panels.seen
    squares: Floats = (linear.misfit**2).mean(axis=1)
    if linear.seen is not None and seen is not None:
        squares[seen.rows[seen.colours]] = (linear.seen.misfit[seen.colours] ** 2).mean(axis=1) / _OF_THREE**2
    return squares


def misfit_floor(panels: PanelSet) -> Floats:
    """Return the ΔE00 up to which no panel is named, shape (p,): further where a colour is known less surely."""
    floor = np.where(panels.hiding, MISFIT_DE00, MISFIT_THIN_DE00)
    if panels.seen is not None:
        rows, unsure = panels.seen.rows[panels.seen.colours], panels.seen.unsure[panels.seen.colours]
        floor[rows] = np.maximum(floor[rows], _SEEN_SD * unsure)
    return floor


def misfit_limit(residuals: Floats, floor: Floats) -> Floats:
    """Return the ΔE00 from which panels are named: far off, and far from their fellows."""
    middle = float(np.median(residuals))
    return np.maximum(floor, middle + 6 * 1.4826 * float(np.median(np.abs(residuals - middle))))


def without_misfits(posterior: Posterior) -> Posterior:
    """Return the posterior of the panels that are believed; those that don't fit are set aside one by one.

    A mislabelled panel pulls its tint's other panels off too, so what is set aside is not the panel that is furthest
    off but the one without which the rest fit best. In a large bank that is tried on the tints it bears on alone.
    """
    floor = misfit_floor(posterior.problem.panels)
    large = posterior.problem.tints > LARGE_TINTS
    for _ in range(min(max(1, len(floor) // 5), _MOST)):
        residuals, trusted = panel_residuals(posterior), posterior.problem.trusted
        limit = misfit_limit(residuals[trusted], floor)
        bad = trusted & (residuals > limit)
        suspects = _suspects(posterior, residuals, limit) if bad.any() else []
        worst_liar = _worst_liar_near if large else _worst_liar
        found = worst_liar(posterior, residuals, limit, suspects)
        if found is None:
            break
        # settled to the end: what is tried next is settled on from here, and would seem better for that alone
        posterior = found if large else settled(found.problem, found.beliefs, found.state, exact=1e-2)
    if large:
        return settled(posterior.problem, posterior.beliefs, posterior.state, exact=1e-2)
    return posterior


def tints_near(posterior: Posterior, about: Bools) -> tuple[Bools, Indices, Posterior]:
    """Return the panels of a bank that hold only tints of some of them, these tints, and the posterior of them alone.

    The white and the tints that stand in most panels are always among them.
    """
    problem = posterior.problem
    holds = problem.panels.fractions > 0
    held: Bools = np.any(holds[about], axis=0)
    held[often_mixed(problem)] = True
    rows: Bools = np.logical_not(np.any(holds[:, np.logical_not(held)], axis=1))
    tints: Indices = np.flatnonzero(held)
    near, start = problem.of_some(posterior.state, rows, tints)
    return rows, tints, settled(replace(near, free_surface=False), posterior.beliefs, start, _ROUNDS, 1e-2)


def _worst_liar_near(
    posterior: Posterior, residuals: Floats, limit: Floats, tried: Sequence[tuple[int, ...]]
) -> Posterior | None:
    """Return what `_worst_liar` does, found on the tints of the mixtures that are tried and the panels of these alone.

    The other tints are left as they were, and how far amounts are off is left to the next fit of all.
    """
    if not tried:
        return None
    problem = posterior.problem
    rows, tints, found = tints_near(posterior, np.isin(problem.panels.mixture, [one for some in tried for one in some]))
    best = _worst_liar(found, panel_residuals(found), limit[rows], tried)
    if best is None:
        return None
    trusted, state, n = problem.trusted.copy(), posterior.state, problem.tints
    trusted[rows] = best.problem.trusted
    field, level = state.field.copy(), state.level.copy()
    field[:, np.concatenate([tints, n + tints])], level[tints] = best.state.field, best.state.level
    return replace(posterior, problem=replace(problem, trusted=trusted), state=replace(state, field=field, level=level))


def _worst_liar(
    posterior: Posterior, residuals: Floats, limit: Floats, tried_without: Sequence[tuple[int, ...]]
) -> Posterior | None:
    """Return the posterior without those mixtures without which the rest fit best, None when none betters the fit."""
    problem = replace(posterior.problem, free_surface=False)
    trusted, mixture = problem.trusted, problem.panels.mixture
    best, most = None, float(np.minimum(residuals[trusted], _CAP_DE00).sum())
    for suspects in tried_without:
        rest = trusted & ~np.isin(mixture, suspects)
        tried = settled(replace(problem, trusted=rest), posterior.beliefs, posterior.state, _ROUNDS, 1e-2)
        aside = trusted & ~rest
        own = np.minimum(residuals[aside], limit[aside]).sum() + MISFIT_DE00 * len(suspects)
        left = float(np.minimum(panel_residuals(tried)[rest], _CAP_DE00).sum() + own)
        if left < most:
            best, most = replace(tried, problem=replace(posterior.problem, trusted=rest)), left
    return best


def _suspects(posterior: Posterior, residuals: Floats, limit: Floats) -> list[tuple[int, ...]]:
    """Return the mixtures to fit without: those that pull most, and the furthest off, each and two by two.

    Two readings that were swapped hold each other up: without one of them the other pulls its tint further off still.
    """
    trusted, mixture = posterior.problem.trusted, posterior.problem.panels.mixture
    pull = np.bincount(mixture[trusted], square_misfits(posterior)[trusted])
    alone = [int(i) for i in np.argsort(-pull)[: min(_SUSPECTS, int((pull > 0).sum()))]]
    over = np.zeros(mixture.max() + 1)
    np.maximum.at(over, mixture[trusted], (residuals - limit)[trusted])
    furthest = [int(i) for i in np.argsort(-over)[:_PAIRED] if over[i] > 0]
    alone += [i for i in furthest if i not in alone]
    return [(i,) for i in alone] + list(combinations(furthest, 2))
