"""What a poured and sprayed recipe may really differ by: bank, strength of today's tins, and weighing together."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import numpy as np

from finishmatch.colour import Floats
from finishmatch.colour.grid import SIZE
from finishmatch.evidence.target import ColourTarget, colour_target
from finishmatch.mix.target_noise import noise_left
from finishmatch.mix.weighing import POUR_SD_STEPS
from finishmatch.optics import TintOptics, mixture_reflectance, predicted_reflectance
from finishmatch.optics.panel_model import film_theory_sd
from finishmatch.optics.strength import PRIOR_SD
from finishmatch.readings import Reading

CARD_DRAWS = 384
# how far tins of a shop differ is known as surely as from so many of them, so that draws have a tail (Student's t):
# most lie within 15 to 20 % of their like, and one in twenty is off by half («common practice»)
TINS_WORTH = 5
U95_LIGHTS, U95_OBSERVER = ("D65",), 10
# of the logarithm of what comes to bear of a tint on one card of a tin and on the next: stirring, settling, the coat.
# What a bank shows of dispersal stays with a mixture, whose panels share it
STIRRED_SD = 0.01  # («common practice»)


@cache
def _standard(parts: int) -> tuple[Floats, Floats]:
    """Return draws that are the same every time, for strengths and for pours, each of shape (CARD_DRAWS, parts)."""
    r = np.random.default_rng(31)
    draws = r.standard_normal((CARD_DRAWS, parts)), r.standard_normal((CARD_DRAWS, parts))
    for each in draws:
        each.setflags(write=False)
    return draws


@cache
def _tails(parts: int) -> Floats:
    """Return draws of what makes a normal draw one of Student's t, shape (CARD_DRAWS, parts), the same every time."""
    draws = np.random.default_rng(37).chisquare(TINS_WORTH, (CARD_DRAWS, parts))
    wider: Floats = np.sqrt(TINS_WORTH / draws)
    wider.setflags(write=False)
    return wider


def drawn_strengths(covariance: Floats, amount_sd: Floats | float = 0.0) -> Floats:
    """Return draws of the factors of strengths and of amounts that come to bear, shape (CARD_DRAWS, k).

    `amount_sd` is of the logarithm of each amount, shape (k,), or of all of them alike.

    What no card has shown of a tin has the tail; what is known beside the tins before it, as surely as cards show it,
    hasn't.
    """
    k = len(covariance)
    strengths, _ = _standard(k)
    root = np.linalg.cholesky(covariance + np.eye(k) * (np.square(amount_sd) + 1e-12))
    unknown = np.minimum(np.diag(root) ** 2 / PRIOR_SD**2, 1.0)
    factors: Floats = np.exp((strengths * (1 + unknown * (_tails(k) - 1))) @ root.T)
    return factors


@cache
def _stirred(parts: int) -> Floats:
    """Return draws of how a batch is stirred, shape (CARD_DRAWS, parts), that are the same every time."""
    draws = np.random.default_rng(35).standard_normal((CARD_DRAWS, parts))
    draws.setflags(write=False)
    return draws


@cache
def _noise() -> Floats:
    """Return draws of noise of two readings, shape (2, CARD_DRAWS, 31), that are the same every time."""
    draws = np.stack([np.random.default_rng(seed).standard_normal((CARD_DRAWS, SIZE)) for seed in (32, 39)])
    draws.setflags(write=False)
    return draws


@cache
def _smooth(run: float) -> Floats:
    """Return draws that are alike over so many wavelengths in a row, shape (CARD_DRAWS, 31), the same every time."""
    draws = np.random.default_rng(34).standard_normal((CARD_DRAWS, SIZE))
    alike = (run - 1) / (run + 1)  # of neighbours; its integrated autocorrelation is the run
    for i in range(1, SIZE):
        draws[:, i] = alike * draws[:, i - 1] + np.sqrt(1 - alike**2) * draws[:, i]
    draws.setflags(write=False)
    return draws


@cache
def _shifts() -> Floats:
    """Return two draws, shape (2, CARD_DRAWS, 1), of what is off at all wavelengths together, the same every time."""
    draws = np.stack([np.random.default_rng(seed).standard_normal((CARD_DRAWS, 1)) for seed in (33, 38)])
    draws.setflags(write=False)
    return draws


def _of_target(target: ColourTarget, optics: TintOptics, grams: Floats, offset: Floats | None) -> Floats | float:
    """Return draws of what a target's reading is off by, shape (CARD_DRAWS, 31); 0 where nothing says so."""
    if target.reflectance is None:
        return 0.0 if target.conversion_sd is None else target.conversion_sd * _shifts()[0]
    if not target.reading_sd and not target.place_sd and target.conversion_sd is None:
        return 0.0
    shift, root = noise_left(target, optics, grams, offset)
    drawn: Floats = shift + _noise()[1] @ root.T
    return drawn


def drawn_differences(
    target: ColourTarget,
    optics: TintOptics,
    grams: Floats,
    pour_sd_g: Floats | float,
    log_covariance: Floats | None = None,
    offset: Floats | None = None,
    reading_sd: Floats | float = 0.0,
    already: Floats | None = None,
    place_sd: Floats | float = 0.0,
) -> Floats:
    """Return draws of the difference a recipe will show, ΔE00, shape (draws, lights).

    Parameters
    ----------
    target : ColourTarget
    optics : TintOptics
        Of the k tints, with their strengths as believed, and with what dispersal and theory leave open.
    grams : ndarray, shape (k,)
        As meant to be poured.
    pour_sd_g : float or ndarray, shape (k,)
        What a pour of each is off by, one standard deviation.
    log_covariance : ndarray, shape (k, k), or None
        Of the logarithms of the strengths; None is a tin nothing was sprayed of.
    offset : ndarray, shape (31,), or None
        Added to every predicted reflectance.
    reading_sd : float or ndarray, shape (31,)
        Of further readings that the difference rests on; the target's own noise is counted too (`noise_left`).
    already : ndarray, shape (k,), or None
        What of the grams is in a tin that a card was sprayed of: what that card read is known, and only what is added
        changes it by what isn't.
    place_sd : float or ndarray, shape (31,)
        Of the same readings as `reading_sd`, at all wavelengths together.
    """
    k = len(grams)
    _, pours = _standard(k)
    covariance = np.eye(k) * PRIOR_SD**2 if log_covariance is None else log_covariance
    to_pour = grams if already is None else grams - already
    poured = np.where(to_pour > 0, np.maximum(to_pour + pour_sd_g * pours, 0), 0)
    amounts = (poured if already is None else poured + already) * optics.dry_ml_per_g
    comes_to_bear = optics.spread_of_ratios(grams, optics.amount_sd if already is None else STIRRED_SD)
    factor = drawn_strengths(covariance, comes_to_bear if already is None else 0.0)[:, :, None]
    if optics.draws is None:
        K, S = optics.K * factor, optics.S * factor
    else:
        which = np.arange(CARD_DRAWS) % len(optics.draws)
        K, S = optics.draws[which, 0] * factor, optics.draws[which, 1] * factor
    again = 1.0 if already is None else np.sqrt(2)  # either card was stirred and read by itself
    if already is not None:
        amounts = amounts * np.exp(again * comes_to_bear * _stirred(k))
    reading = mixture_reflectance(amounts, K, S, optics.surface, optics.backing)
    if already is not None:
        was = already * optics.dry_ml_per_g
        known = mixture_reflectance(was, optics.K, optics.S, optics.surface, optics.backing)
        reading = reading + known - mixture_reflectance(was, K, S, optics.surface, optics.backing)
    noise = _of_target(target, optics, grams, offset) + reading_sd * _noise()[0] + place_sd * _shifts()[1]
    if optics.model_sd > 0:
        left = optics.model_sd * reading if optics.backing is None else film_theory_sd(optics, grams, reading)
        noise = noise + again * left * _smooth(optics.model_run)
    return target.differences(reading + noise if offset is None else reading + offset + noise)


@cache
def _colours() -> Floats:
    """Return draws of what a target's colour is off by, shape (CARD_DRAWS, 3), that are the same every time."""
    draws = np.random.default_rng(36).standard_normal((CARD_DRAWS, 3))
    draws.setflags(write=False)
    return draws


def itself_drawn(target: ColourTarget) -> ColourTarget | None:
    """Return a target as the colour itself may be, a draw for each of `drawn_differences`; None where that isn't known.

    Notes
    -----
    What it is off by in its first light it is taken to be off by in the others, in CIELAB.
    """
    if target.covariance is None:
        return None
    root = np.linalg.cholesky(target.covariance + 1e-12 * np.eye(3))
    return replace(target, labs=target.labs + (_colours() @ root.T)[:, None, :])


def intervals(target: ColourTarget, drawn: Floats) -> dict[str, tuple[float, float]]:
    """Return the range that holds the difference in each light 95 times in 100."""
    return {light: range_of_95(values) for light, values in zip(target.lights, drawn.T, strict=True)}


def range_of_95(drawn: Floats) -> tuple[float, float]:
    """Return the range of the least 95 in 100 of some draws of a difference, shape (draws,).

    Notes
    -----
    The few that aren't held all lie beyond its far end. How often a card comes very near goes with the third power of
    how unsure it is, which is only roughly known: a near end that leaves out some draws too holds too seldom.
    """
    ordered = np.sort(drawn)
    return float(ordered[0]), float(ordered[int(np.ceil(0.95 * len(ordered))) - 1])


def drawn_around(
    optics: TintOptics, grams: Floats, step_g: float, log_covariance: Floats | None, repeats: int = 1
) -> Floats:
    """Return draws of how far a card of a batch reads from what is predicted of it, ΔE00 (D65, 10°), shape (draws,).

    `step_g` is that of the scale, the others are as for `drawn_differences`; the noise of a reading is counted, as the
    mean of some `repeats` has it.
    """
    read = colour_target(Reading("batch", predicted_reflectance(optics, grams)[None]), U95_LIGHTS, U95_OBSERVER)
    itself = replace(read, reading_sd=0.0, place_sd=0.0)  # what is predicted has no noise: its card has
    root = np.sqrt(repeats)
    drawn = drawn_differences(
        itself,
        optics,
        grams,
        POUR_SD_STEPS * step_g,
        log_covariance,
        reading_sd=read.reading_sd / root,
        place_sd=read.place_sd / root,
    )
    return drawn[:, 0]


def within_95(optics: TintOptics, grams: Floats, step_g: float, log_covariance: Floats | None) -> float:
    """Return the ΔE00 (D65, 10°) of what is predicted of a batch within which a card of it lies 95 times in 100.

    The parameters are those of `drawn_around`; the noise of one reading is counted.
    """
    return float(np.percentile(drawn_around(optics, grams, step_g, log_covariance), 95))
