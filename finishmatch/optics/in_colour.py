"""A bank that the theory doesn't quite hold for, brought nearer where it is looked at: in colour.

Where panels are left further off than an eye sees, the theory is what is wrong, and no K and S set all wavelengths
right. Which of them are off is then decided by what is asked of a bank: its colours in daylight, lamp light and under a
tube, and, so that a match holds in any other light, the lightness of every wavelength by itself. Panels left out decide
whether that serves the bank.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from finishmatch.colour import Floats, de00, reflectance_to_lab
from finishmatch.colour.cielab import reflectance_to_lab_slope
from finishmatch.optics.bordered import Bordered
from finishmatch.optics.curvature import (
    Linear,
    Processes,
    border_off,
    border_precision,
    by_border,
    field_off,
    linearised,
    system,
)
from finishmatch.optics.panel_model import panel_readings, with_amounts
from finishmatch.optics.panel_set import Bools, PanelSet
from finishmatch.optics.posterior import Posterior, cost_of, settled
from finishmatch.optics.unknowns import Problem, State, moved

LIGHTS = ("D65", "A", "F11")
_SEEN_DE00 = 0.5  # median of the panels themselves, up to which nothing is gained that is seen
_LEAST_MIXTURES = 24  # of fewer nothing can be left out that would tell
_FOLDS = 3
_BETTER = 0.97  # of the mean ΔE00 of panels left out without it
_CAP_DE00 = 5.0  # a panel further off than this counts no more than this
_DARKEST = 0.01  # a reflectance below this is weighed as this
_ROUNDS, _EXACT = 12, 1e-3
_TURNS, _NEAR = 60, 1e-3  # of conjugate gradients, at most, and what of the residual they leave


@dataclass(frozen=True)
class ColourWeights:
    """What the theory leaves of a bank as it is seen, standard deviations.

    Parameters
    ----------
    colour_sd : float
        Of L*, a* and b* in each of the lights.
    lightness_sd : float
        Of the lightness of each wavelength by itself, 116 times the cube root of its reflectance; as many as are off
        alike in a row count as one.
    """

    colour_sd: float
    lightness_sd: float

    def reading_sd(self, panels: PanelSet, counted: Bools) -> Floats:
        """Return the standard deviation of each reading, shape (p, 31), which is endless where it doesn't count."""
        theory = self.lightness_sd * 3 / 116 * np.maximum(panels.readings, _DARKEST) ** (2 / 3)
        return np.where(counted[:, None], np.hypot(panels.reading_sd, theory), 1e6)


def nearer_in_colour(posterior: Posterior) -> Posterior:
    """Return the posterior with its middle where colours are nearest, where that brings panels left out nearer.

    What is left open about the middle stays as it was. Where the theory holds, where few panels are, or where some are
    known by their colour alone, the posterior stays as it is.
    """
    problem = posterior.problem
    if problem.panels.seen is not None or np.unique(problem.panels.mixture[problem.read]).size < _LEAST_MIXTURES:
        return posterior
    if (weights := _weights(posterior)) is None:
        return posterior
    middle = _settled_in_colour(posterior, weights)
    return _with_middle(posterior, weights, middle) if _helps(posterior, middle, weights) else posterior


def _weights(posterior: Posterior) -> ColourWeights | None:
    """Return what the theory leaves of a bank's colours, by the middle panel; None where it isn't seen.

    Whether it is seen is asked of the amounts the fit finds in the panels: what weighing leaves isn't the theory's. How
    much it is is asked of those that were weighed, as what is foretold will be.
    """
    panels, read, state = posterior.problem.panels, posterior.problem.read, posterior.state
    true, ours, as_poured = panels.readings[read], _readings(panels, state)[read], posterior.linear.reading[read]
    if float(np.median(de00(reflectance_to_lab(true), reflectance_to_lab(as_poured)))) < _SEEN_DE00:
        return None
    colours = np.abs(_labs(ours) - _labs(true))
    lightness = 116 * np.abs(np.cbrt(np.maximum(ours, _DARKEST)) - np.cbrt(np.maximum(true, _DARKEST)))
    colour_sd, lightness_sd = (1.4826 * float(np.median(off)) for off in (colours, lightness))
    return ColourWeights(colour_sd, lightness_sd * float(np.sqrt(posterior.beliefs.run)))


def _helps(posterior: Posterior, middle: State, weights: ColourWeights) -> bool:
    """Whether mixtures left out, a third at a time, come out nearer by colour than by reflectance."""
    problem = posterior.problem
    mixture = problem.panels.mixture
    # at random: in their order a third might be all of one build
    mixtures = np.random.default_rng(6).permutation(np.unique(mixture[problem.read]))
    by_reflectance, by_colour = [], []
    for fold in range(_FOLDS):
        aside = np.isin(mixture, mixtures[fold::_FOLDS]) & problem.read
        rest = replace(posterior, problem=replace(problem, trusted=problem.trusted & ~aside))
        without = settled(rest.problem, rest.beliefs, rest.state, rounds=3)
        by_reflectance.append(_off(problem.panels, aside, without.state))
        by_colour.append(_off(problem.panels, aside, _settled_in_colour(replace(rest, state=middle), weights)))
    return float(np.concatenate(by_colour).mean()) <= _BETTER * float(np.concatenate(by_reflectance).mean())


def _off(panels: PanelSet, rows: Bools, state: State) -> Floats:
    """Return how far some panels are from what a state makes of what was weighed, ΔE00 on the mean of the lights."""
    true, ours = (each[rows] for each in (panels.readings, _readings(panels, state)))
    each = [de00(reflectance_to_lab(true, light), reflectance_to_lab(ours, light)) for light in LIGHTS]
    mean: Floats = np.minimum(np.mean(each, axis=0), _CAP_DE00)
    return mean


def _readings(panels: PanelSet, state: State) -> Floats:
    """Return what panels should read in a state, of what was weighed, shape (p, 31)."""
    return panel_readings(panels, *state.optics(panels.anchor), state.surface)


def _with_middle(posterior: Posterior, weights: ColourWeights, state: State) -> Posterior:
    """Return the posterior about another middle.

    What pulls at the middle by colours is put into the readings that the panels are fitted to, so that the middle stays
    where it is when cards are put to it. The surface is held: it was found by reflectance. As readings are further off
    about it than they were, the theory leaves more of them.
    """
    held = replace(posterior.problem, free_surface=False)
    trusted, readings = held.trusted, held.panels.readings
    before = posterior.linear.misfit[trusted]
    after = linearised(held, state, posterior.beliefs).misfit[trusted]
    more = float(np.sqrt((after**2).mean() / (before**2).mean()))
    beliefs = replace(posterior.beliefs, theory=posterior.beliefs.theory * max(1.0, more))
    linear = linearised(held, state, beliefs)
    off = linear.reading - readings
    pull = _Pull(held.panels, trusted, weights, linear.reading)
    shifted = np.where(trusted[:, None], off - linear.sd**2 * pull.gradient(off), 0.0)
    return Posterior(replace(held, shifted=shifted), beliefs, state)


class _Pull:
    """What readings and their colours count about what panels read in one state."""

    def __init__(self, panels: PanelSet, counted: Bools, weights: ColourWeights, reading: Floats) -> None:
        self.precision = weights.reading_sd(panels, counted) ** -2.0
        slopes = np.concatenate([reflectance_to_lab_slope(reading, light) for light in LIGHTS], axis=1)
        self.slopes = slopes * (counted / weights.colour_sd)[:, None, None]
        self.colours = (_labs(reading) - _labs(panels.readings)) * (counted / weights.colour_sd)[:, None]

    def gradient(self, off: Floats) -> Floats:
        """Return the slope of half the cost by each reading, (p, 31), where readings are off by so much."""
        by_colour: Floats = (self.colours[:, None] @ self.slopes)[:, 0]
        return off * self.precision + by_colour

    def curved(self, change: Floats) -> Floats:
        """Return how that slope changes with the readings."""
        colours = self.slopes @ change[:, :, None]
        by_colour: Floats = (colours.transpose(0, 2, 1) @ self.slopes)[:, 0]
        return change * self.precision + by_colour


def _settled_in_colour(posterior: Posterior, weights: ColourWeights) -> State:
    """Return the state in which readings and their colours are nearest, by Levenberg-Marquardt; the surface is held."""
    problem, beliefs, state = replace(posterior.problem, free_surface=False), posterior.beliefs, posterior.state
    damping, cost = 1e-4, _cost(problem, posterior, weights, state)
    for _ in range(_ROUNDS):
        here = Posterior(problem, beliefs, state)
        step = _Step(here, here.linear, weights)
        after, trial = np.inf, state
        while damping < 1e6:
            trial = moved(problem, state, step.found(damping))
            after = _cost(problem, posterior, weights, trial)
            if after <= cost * (1 + 1e-12):
                break
            damping *= 10
        else:
            break
        done = cost - after < _EXACT * cost
        state, cost, damping = trial, after, max(damping * 0.1, 1e-8)
        if done:
            break
    return state


def _cost(problem: Problem, posterior: Posterior, weights: ColourWeights, state: State) -> float:
    panels, counted = problem.panels, problem.trusted
    K, S = state.optics(panels.anchor)
    reading = panel_readings(with_amounts(panels, problem.factors, state.factors), K, S, state.surface)
    spectra = (reading - panels.readings) / weights.reading_sd(panels, counted)
    colours = (_labs(reading) - _labs(panels.readings)) * (counted / weights.colour_sd)[:, None]
    processes = Processes.believed(problem, posterior.beliefs)
    return cost_of(problem, posterior.beliefs, processes, state, np.concatenate([spectra.ravel(), colours.ravel()]))


class _Step:
    """A step from one state: colours couple all wavelengths, so it is found by conjugate gradients.

    What readings alone say, whose matrix is a band, is the preconditioner.
    """

    def __init__(self, at: Posterior, linear: Linear, weights: ColourWeights) -> None:
        panels = at.problem.panels
        sd = weights.reading_sd(panels, at.problem.trusted)
        ratio = (linear.sd / sd)[:, None]
        self.linear = replace(
            linear,
            sd=sd,
            misfit=(linear.reading - panels.readings) / sd,
            by_field=linear.by_field * ratio,
            by_factor=linear.by_factor * ratio,
            by_surface=linear.by_surface * ratio,
        )
        self.at, self.pull = at, _Pull(panels, at.problem.trusted, weights, linear.reading)

    def found(self, damping: float) -> tuple[Floats, Floats]:
        """Return the step of the field, shape (31, 2n), and of the border, with so much damping.

        References
        ----------
        Hestenes and Stiefel 1952, preconditioned.
        """
        problem, beliefs, state = self.at.problem, self.at.beliefs, self.at.state
        self.precision = border_precision(problem, beliefs)
        curvature, self.each = system(problem, beliefs, self.linear, damping)
        normal = np.einsum("puw,puw->wu", self.linear.by_field, self.linear.by_field)
        self.damped = damping * (np.diagonal(self.each, axis1=1, axis2=2).T + normal)
        field, border = self._back(self.pull.gradient(self.linear.reading - problem.panels.readings) * self.linear.sd)
        field += np.einsum("uwv,vu->wu", self.each, field_off(problem, beliefs, state))
        border += border_off(problem, beliefs, state) * self.precision
        return self._solved(curvature, -_joined(field, border), field.shape)

    def _solved(self, curvature: Bordered, right: Floats, shape: tuple[int, ...]) -> tuple[Floats, Floats]:
        def eased(rest: Floats) -> Floats:
            field, border = _parted(rest, shape)
            own, common = curvature.solve(field[:, :, None], border[:, None])
            return _joined(own[:, :, 0], common[:, 0])

        found, rest = np.zeros_like(right), right
        way = towards = eased(rest)
        size = first = float(rest @ towards)
        for _ in range(_TURNS):
            curved = self._curved(way, shape)
            along = size / float(way @ curved)
            found, rest = found + along * way, rest - along * curved
            towards = eased(rest)
            before, size = size, float(rest @ towards)
            if size <= _NEAR**2 * first:
                break
            way = towards + size / before * way
        return _parted(found, shape)

    def _curved(self, way: Floats, shape: tuple[int, ...]) -> Floats:
        """Return the curvature times a way."""
        field, border = _parted(way, shape)
        m, n = self.at.problem.factors.count, self.at.problem.tints
        linear = self.linear
        change = np.einsum("puw,wu->pw", linear.by_field, field, optimize=True)
        change += np.einsum("puw,u->pw", linear.by_field[:, n:], border[m : m + n], optimize=True)
        factors = np.append(border[:m], 0.0)[self.at.problem.factors.slots]
        change += np.einsum("pkw,pk->pw", linear.by_factor, factors)
        own, common = self._back(self.pull.curved(change * linear.sd) * linear.sd)
        own += np.einsum("uwv,vu->wu", self.each, field) + self.damped * field
        return _joined(own, common + self.precision * border)

    def _back(self, values: Floats) -> tuple[Floats, Floats]:
        """Return sums of values, shape (p, 31), times slopes by field and by border."""
        field = np.einsum("puw,pw->wu", self.linear.by_field, values, optimize=True)
        return field, by_border(self.at.problem.factors, self.linear, values)


def _joined(field: Floats, border: Floats) -> Floats:
    return np.concatenate([field.ravel(), border])


def _parted(both: Floats, shape: tuple[int, ...]) -> tuple[Floats, Floats]:
    size = int(np.prod(shape))
    return both[:size].reshape(shape), both[size:]


def _labs(readings: Floats) -> Floats:
    """Return CIELAB in each of the lights, shape (p, 9)."""
    return np.concatenate([reflectance_to_lab(readings, light) for light in LIGHTS], axis=1)
