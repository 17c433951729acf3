"""The readings of a bank about one state of what is unknown, and how surely they and what was believed hold it."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from finishmatch.colour import Floats
from finishmatch.colour.grid import SIZE
from finishmatch.optics.bordered import Bordered, bordered
from finishmatch.optics.panel_model import AmountFactors, panel_readings, panel_slopes, theory_sd, with_amounts
from finishmatch.optics.pigment_kinds import PigmentKind, pigment_kinds
from finishmatch.optics.priors import BEAM_BACK, K2, SCALE_SD, Beliefs, smooth_precision
from finishmatch.optics.seen_panels import SeenLinear, seen_linear
from finishmatch.optics.unknowns import Problem, State

_UNTRUSTED = 1e-4  # of a trusted reading's weight
_HELD = 1e10  # precision of what isn't fitted
_STEP = 1e-5  # of the surface's constants, for their slopes


@dataclass(frozen=True)
class Linear:
    """The readings about a state: misfits and slopes, each over the standard deviation of its reading.

    `by_field` has shape (p, 2n, 31), `by_factor` (p, k, 31) beside the factors' slots, `by_surface` (p, 2, 31). The
    slope by a level is that by the shape it is added to.
    """

    reading: Floats  # (p, 31)
    sd: Floats  # (p, 31), of a reading as it counts in the fit
    misfit: Floats  # (p, 31)
    by_field: Floats
    by_factor: Floats
    by_surface: Floats
    seen: SeenLinear | None = None


@dataclass(frozen=True)
class Processes:
    """Precisions of the smooth processes, shape (31, 31): log K, shape of log S, shape of the scale."""

    k: Floats
    s: Floats
    scale: Floats
    own: tuple[tuple[int, Floats], ...] = ()  # of log K, by tint, where it is taken for a kind of pigment

    @classmethod
    def believed(cls, problem: Problem, beliefs: Beliefs) -> Processes:
        """Return the precisions that beliefs ask for."""
        return cls(
            smooth_precision(beliefs.k_length_nm, beliefs.k_sd),
            smooth_precision(beliefs.s_length_nm, beliefs.s_sd),
            smooth_precision(beliefs.scale_length_nm, beliefs.scale_sd if problem.per_um else _HELD**-0.5),
            tuple((tint, kind.precision) for tint, kind in _kinds(beliefs)),
        )

    def of_field(self, n: int, anchor: int) -> Floats:
        """Return the precision of each of the field's columns, shape (2n, 31, 31)."""
        each = np.empty((2 * n, SIZE, SIZE))
        each[:n], each[n:], each[n + anchor] = self.k, self.s, self.scale
        for tint, precision in self.own:
            each[tint] = precision
        return each


def linearised(problem: Problem, state: State, beliefs: Beliefs) -> Linear:
    """Return the readings about a state."""
    panels, factors = problem.panels, problem.factors
    n, anchor = problem.tints, panels.anchor
    K, S = state.optics(anchor)
    poured = with_amounts(panels, factors, state.factors)
    reading, by_k, by_s = panel_slopes(poured, K, S, state.surface)
    theory = beliefs.theory * theory_sd(poured, K, S, state.surface, reading)
    sd = np.sqrt(panels.reading_sd**2 + beliefs.run * theory**2)
    sd[~problem.trusted] /= _UNTRUSTED
    if problem.doubt is not None:
        sd *= problem.doubt[:, None]
    c = poured.fractions[:, :, None]
    field = np.concatenate([by_k[:, None] * c * K, by_s[:, None] * c * S], axis=1) / sd[:, None]
    by_tint = field[:, :n] + field[:, n:]
    whole = by_tint.sum(axis=1)
    field[:, n + anchor] = whole
    tint = np.append(factors.tint, -1)[factors.slots]  # (p, k)
    by_factor = np.where((tint < 0)[:, :, None], whole[:, None], np.take_along_axis(by_tint, tint[:, :, None] % n, 1))
    by_factor[factors.slots == factors.count] = 0.0
    moved = (
        replace(state.surface, k2=state.surface.k2 + _STEP),
        replace(state.surface, beam_back=state.surface.beam_back + _STEP),
    )
    surface = np.stack([(panel_readings(poured, K, S, other) - reading) / (_STEP * sd) for other in moved], axis=1)
    seen = None
    if panels.seen is not None:
        variance = beliefs.run * theory**2
        weight = np.where(problem.trusted, 1.0, _UNTRUSTED) / (1.0 if problem.doubt is None else problem.doubt)
        seen = seen_linear(panels.seen, reading, variance, state.shared, state.surface, weight)
    return Linear(reading, sd, (reading - problem.aimed_at) / sd, field, by_factor, surface, seen)


def border_precision(problem: Problem, beliefs: Beliefs) -> Floats:
    """Return the prior precision of factors, levels, surface and shared errors, shape (m + n + 2 + 3 g,)."""
    levels = np.full(problem.tints, beliefs.s_level_sd**-2)
    for tint, kind in _kinds(beliefs):
        levels[tint] = kind.log_s[1] ** -2
    levels[problem.panels.anchor] = SCALE_SD**-2 if problem.per_um else _HELD
    surface = np.array([K2[1] ** -2, BEAM_BACK[1] ** -2]) if problem.free_surface else np.full(2, _HELD)
    shared = np.ones(3 * problem.panels.shared)
    return np.concatenate([_factor_sd(problem.factors, beliefs) ** -2, levels, surface, shared])


def border_off(problem: Problem, beliefs: Beliefs, state: State) -> Floats:
    """Return how far the border lies from what was believed before, shape (m + n + 2 + 3 g,)."""
    levels = state.level - beliefs.s_mean
    for tint, kind in _kinds(beliefs):
        levels[tint] = state.level[tint] - kind.log_s[0]
    levels[problem.panels.anchor] = state.level[problem.panels.anchor] - beliefs.scale_mean
    surface = np.array([state.surface.k2 - K2[0], state.surface.beam_back - BEAM_BACK[0]])
    surface = surface if problem.free_surface else np.zeros(2)
    return np.concatenate([state.factors, levels, surface, state.shared.ravel()])


def told_pull(factors: AmountFactors, logs: Floats) -> Floats:
    """Return how strongly what is told of the factors beforehand draws their logarithms, both of shape (m,)."""
    if factors.told is None:
        return np.zeros(factors.count)
    precision, information = factors.told
    return np.asarray(precision @ logs - information)


def field_off(problem: Problem, beliefs: Beliefs, state: State) -> Floats:
    """Return how far the field lies from what was believed before, shape (31, 2n)."""
    off = state.field.copy()
    off[:, : problem.tints] -= beliefs.k_mean
    for tint, kind in _kinds(beliefs):
        off[:, tint] += beliefs.k_mean - kind.log_k
        if tint != problem.panels.anchor:
            off[:, tint] -= beliefs.kinds_off
            off[:, problem.tints + tint] -= kind.s_shape
    return off


def _kinds(beliefs: Beliefs) -> list[tuple[int, PigmentKind]]:
    """Return the tints that are taken for a kind of pigment, and which."""
    return [(tint, pigment_kinds(beliefs.kinds_fine)[name]) for tint, name in enumerate(beliefs.kinds) if name]


def by_border(factors: AmountFactors, linear: Linear, values: Floats, shared: int = 0) -> Floats:
    """Return the sums of values, shape (..., p, 31), times the slopes by factors, levels, surface and shared errors.

    No spectrum says anything of the `shared` errors of colours.
    """
    n = linear.by_field.shape[1] // 2
    by_slot = np.einsum("pkw,...pw->pk...", linear.by_factor, values)
    by_factor = np.zeros((factors.count + 1, *by_slot.shape[2:]))
    np.add.at(by_factor, factors.slots, by_slot)
    return np.concatenate(
        [
            np.moveaxis(by_factor[:-1], 0, -1),
            np.tensordot(values, linear.by_field[:, n:], ((-2, -1), (0, 2))),
            np.tensordot(values, linear.by_surface, ((-2, -1), (0, 2))),
            np.zeros((*values.shape[:-2], 3 * shared)),
        ],
        axis=-1,
    )


def system(problem: Problem, beliefs: Beliefs, linear: Linear, damping: float = 0.0) -> tuple[Bordered, Floats]:
    """Return the curvature, factored, and the processes' precisions, shape (2n, 31, 31)."""
    n, m, slots = problem.tints, problem.factors.count, problem.factors.slots
    by_wavelength = np.ascontiguousarray(linear.by_field.transpose(2, 1, 0))  # (31, 2n, p), as products want it
    normal = by_wavelength @ by_wavelength.transpose(0, 2, 1)
    size = m + 1 + n + 2  # a row for slots that no factor fills, left out at the end
    cross, border = np.zeros((SIZE, 2 * n, size)), np.zeros((size, size))
    levels, surface = slice(m + 1, m + 1 + n), slice(m + 1 + n, size)
    cross[:, :, levels] = normal[:, :, n:]
    by_surface = linear.by_surface.transpose(2, 0, 1)
    cross[:, :, surface] = by_wavelength @ by_surface
    border[levels, levels], border[levels, surface] = normal[:, n:, n:].sum(0), cross[:, n:, surface].sum(0)
    border[surface, surface] = (by_surface.transpose(0, 2, 1) @ by_surface).sum(0)
    np.add.at(border, (slots[:, :, None], slots[:, None]), linear.by_factor @ linear.by_factor.transpose(0, 2, 1))
    np.add.at(border[: m + 1, surface], slots, linear.by_factor @ linear.by_surface.transpose(0, 2, 1))
    for k, slot in enumerate(slots.T):
        own = linear.by_factor[:, k]
        order = np.argsort(slot, kind="stable")
        filled, first = np.unique(slot[order], return_index=True)
        by_slot = np.add.reduceat(linear.by_field[order] * own[order, None], first, axis=0)
        cross[:, :, filled] += by_slot.transpose(2, 1, 0)
    border[: m + 1, levels] = cross[:, n:, : m + 1].sum(0).T
    border[levels, : m + 1], border[surface, : m + 1] = border[: m + 1, levels].T, border[: m + 1, surface].T
    border[surface, levels] = border[levels, surface].T
    kept = np.delete(np.arange(size), m)
    cross, border = cross[:, :, kept], border[np.ix_(kept, kept)]
    if linear.seen is not None:
        cross, border = _with_seen(problem, linear, linear.seen, cross, border)
    precision = border_precision(problem, beliefs)
    believed = np.arange(precision.size), np.arange(precision.size)
    border[believed] += precision
    if problem.factors.told is not None:
        border[:m, :m] += problem.factors.told[0]
    each = Processes.believed(problem, beliefs).of_field(n, problem.panels.anchor)
    bands = [np.diagonal(each, -k, 1, 2).T.copy() for k in range(3)]
    if damping:
        bands[0] += damping * (bands[0] + np.einsum("wuu->wu", normal))
        border[believed] *= 1 + damping
    return bordered(normal, (bands[0], bands[1], bands[2]), cross, border), each


def _with_seen(
    problem: Problem, linear: Linear, seen: SeenLinear, cross: Floats, border: Floats
) -> tuple[Floats, Floats]:
    """Return the coupling and the border with unknowns for shared errors, and for the colours that were seen."""
    at = problem.panels.seen
    assert at is not None
    n, m, before = problem.tints, problem.factors.count, len(border)
    q, first = len(at.rows), before + 3 * problem.panels.shared
    size, colours = first + 3 * q, slice(first, first + 3 * q)
    wide, grown = np.zeros((*cross.shape[:2], size)), np.zeros((size, size))
    wide[:, :, :before], grown[:before, :before] = cross, border
    sd = linear.sd[at.rows][:, None]
    by_field, by_factor = linear.by_field[at.rows] * sd, linear.by_factor[at.rows] * sd
    wide[:, :, colours] = np.einsum("quw,qjw->wuqj", by_field, seen.by_reading).reshape(*cross.shape[:2], -1)
    rows = np.zeros((3 * q, m + 1))
    each = np.einsum("qjw,qkw->qjk", seen.by_reading, by_factor)
    for k, slots in enumerate(problem.factors.slots[at.rows].T):
        np.add.at(rows, (np.arange(3 * q), np.repeat(slots, 3)), each[:, :, k].ravel())
    grown[colours, :m] = rows[:, :m]
    grown[colours, m : m + n] = np.einsum("qjw,qtw->qjt", seen.by_reading, by_field[:, n:]).reshape(3 * q, n)
    by_surface = linear.by_surface[at.rows] * sd
    grown[colours, m + n : before] = np.einsum("qjw,qsw->qjs", seen.by_reading, by_surface).reshape(3 * q, 2)
    grown[colours, before:first] = seen.by_shared.reshape(3 * q, -1)
    grown[:, colours] = grown[colours].T
    grown[colours, colours] = -np.eye(3 * q)
    return wide, grown


def _factor_sd(factors: AmountFactors, beliefs: Beliefs) -> Floats:
    """Return the standard deviation of each factor's logarithm, shape (m,)."""
    of_amounts: Floats = np.hypot(beliefs.dispersal_sd, factors.weighing_sd)
    of_panels = np.where(factors.of_build, beliefs.build_sd, of_amounts)
    return of_panels if factors.known_sd is None else np.where(factors.known_sd > 0, factors.known_sd, of_panels)
