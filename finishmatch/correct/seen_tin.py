"""A tin of which only the difference from its standard was seen: what that leaves open, and what it is brought to.

The aim is that the difference be none, not the standard's own colour: what isn't known of the standard moves trial and
target alike, and counts only where the card is to tell of its tins.
"""

from __future__ import annotations

from functools import cache

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


def lasting_doubt(optics: TintOptics, grams: Floats, light: str, observer: int) -> Floats:
    """Return what theory and bank leave open of a mixture's CIELAB, the covariance, shape (3, 3).

    It is one card's as much as the next one's of the same tin.

    Parameters
    ----------
    optics : TintOptics
        Of the k tints.
    grams : ndarray, shape (k,)
    light, observer
    """
    r = predicted_reflectance(optics, grams)
    found = CARD_SD_LAB**2 * np.eye(3) + _of_theory(optics, r, r, light, observer)
    return found if optics.draws is None else found + np.cov(_drawn(optics, grams, light, observer).T)


def _of_theory(optics: TintOptics, r: Floats, part: Floats, light: str, observer: int) -> Floats:
    """Return what the theory leaves of `part` of a reading `r`, shape (31,): the covariance of its CIELAB, (3, 3)."""
    slope = reflectance_to_lab_slope(r, light, observer) * ((optics.model_sd or MODEL_SHARE) * part)
    alike = (optics.model_run - 1) / (optics.model_run + 1)  # of neighbouring wavelengths
    apart = np.abs(np.subtract.outer(np.arange(SIZE), np.arange(SIZE)))
    found: Floats = slope @ alike**apart @ slope.T
    return found


def _drawn(optics: TintOptics, grams: Floats, light: str, observer: int) -> Floats:
    """Return the CIELAB of a mixture by each draw of the bank, shape (draws, 3)."""
    assert optics.draws is not None
    amounts = grams * optics.dry_ml_per_g
    drawn = mixture_reflectance(amounts, optics.draws[:, 0], optics.draws[:, 1], optics.surface, optics.backing)
    return reflectance_to_lab(drawn, light, observer)


def lab_read(optics: TintOptics, grams: Floats, trial: Reading) -> list[tuple[str, int, Floats, Floats]]:
    """Return what a trial seen beside its standard shows of its own colour: light, observer, CIELAB and covariance.

    The difference is of a standard that is itself known only so well; in a light in which it isn't known it shows none.
    """
    read = []
    for one in trial.seen:
        if one.standard is not None:
            beside = _known(one.covariance) + _known(one.standard_covariance)
            doubt = beside + lasting_doubt(optics, grams, one.light, one.observer)
            read.append((one.light, one.observer, one.standard + one.delta, doubt))
    return read


def lab_beside(
    optics: TintOptics, grams: Floats, panel: Floats, trial: Reading
) -> list[tuple[str, int, Floats, Floats]]:
    """Return what a letdown seen beside a panel of the same tints shows, as `lab_read` does of a card.

    What theory and bank leave of a colour moves both alike, and counts as far as they are of other amounts. What was
    weighed into the panel is as far off as into any mixture.

    Parameters
    ----------
    optics : TintOptics
        Of the k tints, as in the panel.
    grams, panel : ndarray, shape (k,)
        Of letdown and panel.
    trial : Reading
        Its standard is what the bank makes of the panel.
    """
    model, per_log = strength_slope(panel * optics.dry_ml_per_g, optics)
    per_log = per_log * optics.spread_of_ratios(panel, optics.amount_sd)[:, None]
    apart = predicted_reflectance(optics, grams) - model
    read = []
    for one in trial.seen:
        assert one.standard is not None
        weighed = reflectance_to_lab_slope(model, one.light, one.observer) @ per_log.T
        doubt = _known(one.covariance) + CARD_SD_LAB**2 * np.eye(3) + weighed @ weighed.T
        doubt = doubt + _of_theory(optics, model, apart, one.light, one.observer)
        if optics.draws is not None:
            letdown, beside = (_drawn(optics, parts, one.light, one.observer) for parts in (grams, panel))
            doubt = doubt + np.cov((letdown - beside).T)
        read.append((one.light, one.observer, one.standard + one.delta, doubt))
    return read


def _of_standard_alone(one: SeenDifference) -> Floats:
    """Return what a standard that was photographed apart from its trial is off by that the trial isn't, (3, 3).

    It is no part of what a trial shows of its own colour, and all of what is left of their difference.
    """
    if one.by_itself is None or one.standard is None:
        return np.zeros((3, 3))
    return covariance_within(one.u95, one.standard) - _known(one.covariance)


def _known(covariance: Floats | None) -> Floats:
    assert covariance is not None
    return covariance


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
    root : ndarray, shape (lights, 3, 3)
        A root of the covariance that is left of the difference.

    Notes
    -----
    The difference as the model has it and as it was seen, each weighted by its covariance (Bayes, all normal).
    """
    model, per_log = strength_slope(grams * optics.dry_ml_per_g, optics)
    labs, offsets, roots = [], [], []
    used = np.flatnonzero(grams > 0)
    for one in trial.seen:
        lab = reflectance_to_lab(model, one.light, one.observer)
        slope = reflectance_to_lab_slope(model, one.light, one.observer) @ per_log.T
        seen = _known(one.covariance)
        if one.standard is None:
            labs.append(lab - one.delta)
            offsets.append(np.zeros(3))
            roots.append(np.linalg.cholesky(seen))
            continue
        lasting = lasting_doubt(optics.chosen([optics.names[i] for i in used]), grams[used], one.light, one.observer)
        lasting = lasting + _known(one.standard_covariance)
        kept = lasting @ np.linalg.inv(lasting + seen)
        before = slope @ log_covariance @ slope.T + lasting
        labs.append(one.standard)
        offsets.append(kept @ (one.standard + one.delta - lab))
        left = before @ np.linalg.inv(before + seen) @ seen + _of_standard_alone(one)
        roots.append(np.linalg.cholesky(left + 1e-12 * np.eye(3)))
    lights = tuple(one.light for one in trial.seen)
    goal = ColourTarget(target.name, target.reflectance, lights, trial.observer, np.stack(labs))
    return goal, np.stack(offsets), np.stack(roots)


@cache
def _normals(lights: int) -> Floats:
    """Return draws that are the same every time, shape (CARD_DRAWS, lights, 3)."""
    draws = np.random.default_rng(36).standard_normal((CARD_DRAWS, lights, 3))
    draws.setflags(write=False)
    return draws


def drawn_labs(labs: Floats, root: Floats) -> Floats:
    """Return draws of the standard's CIELAB about `labs`, shape (draws, lights, 3)."""
    return np.asarray(labs + np.einsum("lij,dlj->dli", root, _normals(len(labs))))
