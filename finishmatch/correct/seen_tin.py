"""A tin of which only the difference from its standard was seen: what that leaves open, and what it is brought to.

The aim is that the difference be none, not the standard's own colour: what isn't known of the standard moves trial and
target alike, and counts only where the card is to tell of its tins.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache, cached_property

import numpy as np

from finishmatch.colour import Floats, reflectance_to_lab, reflectance_to_lab_slope
from finishmatch.colour.grid import SIZE
from finishmatch.evidence.target import ColourTarget
from finishmatch.mix.expected_difference import CARD_DRAWS
from finishmatch.optics import TintOptics, mixture_reflectance, predicted_reflectance, strength_slope
from finishmatch.optics.panel_set import MODEL_SHARE
from finishmatch.readings.reading import Reading, SeenDifference
from finishmatch.readings.seen import covariance_within

CARD_SD_LAB = 0.15  # what the CIELAB of a card is off by from the film model, noise and theory together

Lights = Sequence[tuple[str, int]]  # each with its observer


@dataclass(frozen=True)
class SeenLabs:
    """The CIELAB of one card in k lights.

    Parameters
    ----------
    lights : tuple of (light, observer)
    labs : ndarray, shape (k, 3)
    covariance : ndarray, shape (3k, 3k)
        Of all of it, light after light: what isn't known of standard, theory and bank moves all lights together, so a
        card seen in several lights tells less than as many cards.
    """

    lights: tuple[tuple[str, int], ...]
    labs: Floats
    covariance: Floats

    @cached_property
    def whiten(self) -> Floats:
        """What makes errors independent and of standard deviation 1, shape (3k, 3k)."""
        return np.asarray(np.linalg.inv(np.linalg.cholesky(self.covariance)))

    def off(self, r: Floats) -> tuple[Floats, Floats]:
        """Return how far a spectrum, shape (31,), is off in standard deviations, (3k,), and the slopes, (3k, 31)."""
        away = _labs_in(r, self.lights) - self.labs.ravel()
        return self.whiten @ away, self.whiten @ _slopes_in(r, self.lights)


def _labs_in(r: Floats, lights: Lights) -> Floats:
    """Return the CIELAB of spectra, shape (..., 31), in k lights, shape (..., 3k)."""
    return np.concatenate([np.zeros((*r.shape[:-1], 0)), *(reflectance_to_lab(r, *light) for light in lights)], axis=-1)


def _slopes_in(r: Floats, lights: Lights) -> Floats:
    """Return the slopes of `_labs_in` of a spectrum, shape (3k, 31)."""
    return np.concatenate([np.zeros((0, SIZE)), *(reflectance_to_lab_slope(r, *light) for light in lights)])


def lasting_doubt(optics: TintOptics, grams: Floats, lights: Lights) -> Floats:
    """Return what theory and bank leave open of a mixture's CIELAB in k lights, the covariance, shape (3k, 3k).

    It is one card's as much as the next one's of the same tin, and a spectrum's that is off is so in all lights.

    Parameters
    ----------
    optics : TintOptics
        Of the n tints.
    grams : ndarray, shape (n,)
    lights : sequence of (light, observer)
    """
    r = predicted_reflectance(optics, grams)
    found = CARD_SD_LAB**2 * np.eye(3 * len(lights)) + _of_theory(optics, r, r, lights)
    return found if optics.draws is None or not lights else found + np.cov(_drawn(optics, grams, lights).T)


def _of_theory(optics: TintOptics, r: Floats, part: Floats, lights: Lights) -> Floats:
    """Return what the theory leaves of `part` of a reading `r`, shape (31,): the covariance of its CIELAB, (3k, 3k)."""
    slope = _slopes_in(r, lights) * ((optics.model_sd or MODEL_SHARE) * part)
    alike = (optics.model_run - 1) / (optics.model_run + 1)  # of neighbouring wavelengths
    apart = np.abs(np.subtract.outer(np.arange(SIZE), np.arange(SIZE)))
    found: Floats = slope @ alike**apart @ slope.T
    return found


def _drawn(optics: TintOptics, grams: Floats, lights: Lights) -> Floats:
    """Return the CIELAB of a mixture by each draw of the bank, shape (draws, 3k)."""
    assert optics.draws is not None
    amounts = grams * optics.dry_ml_per_g
    drawn = mixture_reflectance(amounts, optics.draws[:, 0], optics.draws[:, 1], optics.surface, optics.backing)
    return _labs_in(drawn, lights)


def _of_standard(seen: Sequence[SeenDifference]) -> Floats:
    """Return what isn't known of the standard in k lights that it is known in, the covariance, shape (3k, 3k).

    It is off by one colour: by as much of what it is known to in each light, and in the same direction.
    """
    roots = np.zeros((0, 3))
    for one in seen:
        values, vectors = np.linalg.eigh(_known(one.standard_covariance))
        roots = np.concatenate([roots, vectors * np.sqrt(np.maximum(values, 0)) @ vectors.T])
    return roots @ roots.T


def _of_pictures(seen: Sequence[SeenDifference]) -> Floats:
    """Return how well differences were seen in k lights, the covariance, shape (3k, 3k): each light by itself."""
    k, found = np.arange(len(seen)), np.zeros((len(seen), 3, len(seen), 3))
    for at, one in zip(k, seen, strict=True):
        found[at, :, at] = _known(one.covariance)
    return found.reshape(3 * k.size, 3 * k.size)


def lab_read(optics: TintOptics, grams: Floats, trial: Reading) -> SeenLabs:
    """Return what a trial seen beside its standard shows of its own colour.

    The difference is of a standard that is itself known only so well; in a light in which it isn't known it shows none.
    """
    seen = [one for one in trial.seen if one.standard is not None]
    lights = _lights(seen)
    doubt = _of_pictures(seen) + _of_standard(seen) + lasting_doubt(optics, grams, lights)
    return SeenLabs(lights, _colours(seen), doubt)


def lab_beside(optics: TintOptics, grams: Floats, panel: Floats, trial: Reading) -> SeenLabs:
    """Return what a letdown seen beside a panel of the same tints shows, as `lab_read` does of a card.

    What theory and bank leave of a colour moves both alike, and counts as far as they are of other amounts. What was
    weighed into the panel is as far off as into any mixture.

    Parameters
    ----------
    optics : TintOptics
        Of the n tints, as in the panel.
    grams, panel : ndarray, shape (n,)
        Of letdown and panel.
    trial : Reading
        Its standard is what the bank makes of the panel.
    """
    model, per_log = strength_slope(panel * optics.dry_ml_per_g, optics)
    per_log = per_log * optics.spread_of_ratios(panel, optics.amount_sd)[:, None]
    apart, lights = predicted_reflectance(optics, grams) - model, _lights(trial.seen)
    weighed = _slopes_in(model, lights) @ per_log.T
    doubt = _of_pictures(trial.seen) + CARD_SD_LAB**2 * np.eye(len(weighed)) + weighed @ weighed.T
    doubt = doubt + _of_theory(optics, model, apart, lights)
    if optics.draws is not None:
        doubt = doubt + np.cov((_drawn(optics, grams, lights) - _drawn(optics, panel, lights)).T)
    return SeenLabs(lights, _colours(trial.seen), doubt)


def _lights(seen: Sequence[SeenDifference]) -> tuple[tuple[str, int], ...]:
    return tuple((one.light, one.observer) for one in seen)


def _colours(seen: Sequence[SeenDifference]) -> Floats:
    """Return the CIELAB that trials were seen in, beside standards that are known, shape (k, 3)."""
    return np.array([_known(one.standard) + one.delta for one in seen]).reshape(-1, 3)


def _known(found: Floats | None) -> Floats:
    assert found is not None
    return found


def _of_standards_alone(seen: Sequence[SeenDifference]) -> Floats:
    """Return what standards that were photographed apart from their trials are off by that these aren't, (3k, 3k).

    It is no part of what a trial shows of its own colour, and all of what is left of their difference.
    """
    k, found = np.arange(len(seen)), np.zeros((len(seen), 3, len(seen), 3))
    for at, one in zip(k, seen, strict=True):
        if one.by_itself is not None and one.standard is not None:
            found[at, :, at] = covariance_within(one.u95, one.standard) - _known(one.covariance)
    return found.reshape(3 * k.size, 3 * k.size)


def brought_to(
    target: ColourTarget, optics: TintOptics, grams: Floats, log_covariance: Floats, trial: Reading
) -> tuple[ColourTarget, Floats, Floats]:
    """Return what a tin is brought to by a difference, in the lights it was seen in.

    Parameters
    ----------
    target : ColourTarget
    optics : TintOptics
        Of all usable tints, with today's strengths.
    grams : ndarray, shape (n,)
        In the tin.
    log_covariance : ndarray, shape (n, n)
        Of the logarithms of the strengths, before the trial was seen.
    trial : Reading
        With its differences.

    Returns
    -------
    target : ColourTarget
        The standard in each light.
    offset : ndarray, shape (lights, 3)
        By which the difference departs from what the model makes of it, as far as that stays: the rest is how the
        difference was seen.
    root : ndarray, shape (3 lights, 3 lights)
        A root of the covariance that is left of the difference in all lights, light after light.

    Notes
    -----
    The difference as the model has it and as it was seen, each weighted by its covariance (Bayes, all normal). What
    the model leaves open is much the same in lights that go together, so that each of them tells of the others too. In
    a light in which the standard isn't known the model says nothing of the difference: it is as it was seen.
    """
    model, per_log = strength_slope(grams * optics.dry_ml_per_g, optics)
    known = [one.standard is not None for one in trial.seen]
    seen, lights = [one for one in trial.seen if one.standard is not None], _lights(trial.seen)
    made = _labs_in(model, lights).reshape(-1, 3)
    labs = np.array([lab - one.delta for lab, one in zip(made, trial.seen, strict=True)])
    offset, root = np.zeros(made.shape), np.linalg.cholesky(_of_pictures(trial.seen))
    if seen:
        used = np.flatnonzero(grams > 0)
        mine, noise = optics.chosen([optics.names[i] for i in used]), _of_pictures(seen)
        lasting = lasting_doubt(mine, grams[used], _lights(seen)) + _of_standard(seen)
        slope = _slopes_in(model, _lights(seen)) @ per_log.T
        before = slope @ log_covariance @ slope.T + lasting
        left = before @ np.linalg.solve(before + noise, noise) + _of_standards_alone(seen)
        away = (_colours(seen) - made[known]).ravel()
        offset[known] = (lasting @ np.linalg.solve(lasting + noise, away)).reshape(-1, 3)
        labs[known] = [_known(one.standard) for one in seen]
        at = np.flatnonzero(np.repeat(known, 3))
        root[np.ix_(at, at)] = np.linalg.cholesky((left + left.T) / 2 + 1e-12 * np.eye(len(at)))
    goal = ColourTarget(target.name, target.reflectance, tuple(light for light, _ in lights), trial.observer, labs)
    return goal, offset, np.asarray(root)


@cache
def _normals(lights: int) -> Floats:
    """Return draws that are the same every time, shape (CARD_DRAWS, 3 lights)."""
    draws = np.random.default_rng(36).standard_normal((CARD_DRAWS, 3 * lights))
    draws.setflags(write=False)
    return draws


def drawn_labs(labs: Floats, root: Floats) -> Floats:
    """Return draws of the standard's CIELAB about `labs`, shape (draws, lights, 3), by a root (3 lights, 3 lights)."""
    return np.asarray(labs + (_normals(len(labs)) @ root.T).reshape(-1, *labs.shape))
