"""The strength of today's tins, estimated from a card that was sprayed of them."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from finishmatch.colour import Floats
from finishmatch.colour.grid import SIZE
from finishmatch.correct.seen_tin import CARD_SD_LAB, SeenLabs, lab_beside, lab_read
from finishmatch.errors import InputError
from finishmatch.mix.weighing import POUR_SD_STEPS, Scale
from finishmatch.optics import Tint, TintOptics, mixture_reflectance, predicted_reflectance, strength_slope
from finishmatch.optics.strength import (
    PRIOR_SD,
    STRONGEST,
    StrengthEvidence,
    StrengthPrior,
    Strengths,
    strength_evidence,
)
from finishmatch.readings import Reading

# what a card's reading is off by from the film model, noise and theory together, one standard deviation: a floor and a
# share of the reflectance
CARD_SD_FLOOR, CARD_SD_SHARE = 0.0008, 0.004
# times the share: no bank of the booth's shops that was read by an instrument leaves more open (3.7 at most); those
# that a phone saw leave thirty to a hundred times as much
_ORDINARY = 4.0
_FAR = 0.165  # of the logarithm of a strength, from which it is said, and twice the spread of tins if that is more


@dataclass(frozen=True)
class CardStrengths:
    """The strengths of the tins of a batch, estimated from its card.

    Parameters
    ----------
    optics : TintOptics
        Of the tints of the batch, as the bank has them.
    grams : ndarray, shape (n,)
    clear_grams : float
        Of what makes no colour.
    believed : StrengthPrior
        Of the tins, before the card.
    stirred : StrengthPrior
        Of the tints of the batch as they come to bear in it, before the card.
    strengths : Strengths
        After it, slips of the pour and dispersal included.
    evidence : StrengthEvidence
        What the card by itself says of the tins.
    warnings : tuple of str
        Strengths that are hard to believe.
    """

    optics: TintOptics
    grams: Floats
    clear_grams: float
    believed: StrengthPrior
    stirred: StrengthPrior
    strengths: Strengths
    evidence: StrengthEvidence
    warnings: tuple[str, ...] = ()


def card_strengths(
    optics: TintOptics,
    tints: tuple[Tint, ...],
    batch: tuple[tuple[str, float], ...],
    sprayed: Reading,
    scale: Scale,
    prior: StrengthPrior | None,
    alternatives: tuple[tuple[TintOptics, TintOptics, float], ...] = (),
    shift_sd: Floats | None = None,
    beside: tuple[tuple[str, float], ...] = (),
) -> CardStrengths:
    """Return the strengths of the tins that a batch was poured from, estimated from its card.

    Parameters
    ----------
    optics : TintOptics
        Of the usable tints of the bank, as their film was sprayed.
    tints : tuple of Tint
        The bank's.
    batch : tuple of (tint, grams)
        As poured.
    sprayed : Reading
        Of the spray-out of that batch.
    scale : Scale
        It was poured on.
    prior : StrengthPrior or None
        What is known of the tins from other spray-outs.
    alternatives : tuple of (optics, optics, float)
        Films it may have been as well, so many standard deviations from one another: of another build, over another
        ground.
    shift_sd : ndarray, shape (31,), or None
        What the reading is off by at all wavelengths together, one standard deviation.
    beside : tuple of (tint, grams)
        Of a letdown that was seen beside a panel of the bank: what is in the panel, of the same tints.

    Raises
    ------
    InputError
        A tint of the batch that isn't among the usable ones, or a batch without colour.
    """
    poured, clear_grams = coloured_parts(optics, tints, batch)
    names, weights = tuple(poured), np.array(list(poured.values()))
    mine = optics.chosen(names)
    believed = prior or StrengthPrior.default(names)
    doubts = [
        np.subtract(*(predicted_reflectance(film.chosen(names), weights) for film in pair)) / sds
        for *pair, sds in alternatives
    ]
    doubts += [] if shift_sd is None else [shift_sd]
    # what was seen has that among its own doubts (`lasting_doubt`)
    doubts += [] if sprayed.seen else list(left_open(mine, weights))
    of_panel = np.array([dict(beside)[name] for name in names]) if beside else None
    labs = None if of_panel is None else lab_beside(mine, weights, of_panel, sprayed)
    comes_to_bear = mine.spread_of_ratios(weights, mine.amount_sd)
    stirred, doubt = believed.chosen(names).stirred_in(comes_to_bear), np.array(doubts) if doubts else None
    update = update_strengths(mine, weights, sprayed, prior=stirred, doubt=doubt, seen=labs)
    evidence = strength_evidence(names, weights, update, stirred, POUR_SD_STEPS * scale.step_g, comes_to_bear)
    warnings = tuple(_hard_to_believe(names, update.factors, believed.spread))
    return CardStrengths(mine, weights, clear_grams, believed, stirred, update, evidence, warnings)


def left_open(optics: TintOptics, grams: Floats) -> Floats:
    """Return what the bank leaves open of a mixture's reading, shape (d, 31), whose squares add up to its covariance.

    Of a bank that was read by an instrument it is no more than a few times what is counted for the theory anyway, and
    cards tell no better strengths where that is counted too; what goes beyond, as where panels are known by their
    colour alone, is returned.
    """
    if optics.draws is None:
        return np.zeros((0, SIZE))
    K, S = optics.draws[:, 0], optics.draws[:, 1]
    readings = mixture_reflectance(grams * optics.dry_ml_per_g, K, S, optics.surface, optics.backing)
    middle = readings.mean(axis=0)
    beyond = 1 - ((_ORDINARY * _share(optics) * middle) ** 2).sum() / max(float(readings.var(axis=0).sum()), 1e-300)
    found: Floats = (readings - middle) * np.sqrt(max(beyond, 0.0) / len(readings))
    return found if beyond > 0 else found[:0]


def _share(optics: TintOptics) -> float:
    """Return what a card's reading is off by, as a share of it: neighbouring wavelengths are off together."""
    return max(CARD_SD_SHARE, float(optics.model_sd * optics.model_run**0.5))


def _hard_to_believe(names: tuple[str, ...], factors: Floats, spread: float) -> Iterator[str]:
    """Yield a warning for each tin that a card makes stronger or weaker than any tin is, and for those far off."""
    for name, factor in zip(names, factors, strict=True):
        if not 1 / STRONGEST <= factor <= STRONGEST:
            yield (
                f"{name} comes out {factor:.2g} times as strong as the bank's, more than a tin can be off; it is "
                "counted as found: read the card again before anything is added"
            )
    limit = max(_FAR, 2 * spread)
    beyond = [name for name, factor in zip(names, factors, strict=True) if not -limit <= np.log(factor) <= limit]
    if beyond:
        yield f"{', '.join(beyond)}: today's strength is far from the bank's; check the weights poured and the tin"


def coloured_parts(
    optics: TintOptics, tints: tuple[Tint, ...], batch: tuple[tuple[str, float], ...]
) -> tuple[dict[str, float], float]:
    """Return the grams of each coloured tint of a batch, and those of its clears together."""
    clears = {tint.name for tint in tints if tint.role == "clear"}
    poured: dict[str, float] = {}
    for name, grams in batch:
        if grams > 0:
            poured[name] = poured.get(name, 0.0) + grams
    clear_grams = sum(poured.pop(name) for name in clears & poured.keys())
    for name in poured:
        if name not in optics.names:
            raise InputError(f"the batch, tint {name!r}", "its optics aren't known", "add letdowns of it to the bank")
    if not poured:
        raise InputError("the batch", "holds no coloured tint", "check the batch file")
    return poured, float(clear_grams)


def update_strengths(
    optics: TintOptics,
    grams: Floats,
    sprayed: Reading,
    prior_sd: float = PRIOR_SD,
    prior: StrengthPrior | None = None,
    doubt: Floats | None = None,
    seen: SeenLabs | None = None,
) -> Strengths:
    """Return the most likely strengths given what was poured and what was read.

    Parameters
    ----------
    optics : TintOptics
        Of the tints of the batch, as their film was sprayed: hiding, or over a ground.
    grams : ndarray, shape (n,)
        As poured.
    sprayed : Reading
        Of the spray-out; a spectrum says more than CIELAB.
    prior_sd : float
        Standard deviation of the logarithm of a strength before anything was sprayed.
    prior : StrengthPrior or None
        What is known of the tins from earlier spray-outs; in place of `prior_sd` for the tints it names.
    doubt : ndarray, shape (m, 31), or None
        What may also have moved the reading, each at all wavelengths together, by one standard deviation.
    seen : SeenLabs or None
        What is known of the card's CIELAB; None is what the reading says of it.

    Returns
    -------
    Strengths

    Notes
    -----
    Log-normal prior (around 1 where nothing is known) and normal errors of the reading: the mode by Gauss-Newton, the
    covariance from its curvature. Scaling all strengths together doesn't change a film that hides; the prior holds that
    direction. A doubt widens the errors of the reading.
    """
    amounts = grams * optics.dry_ml_per_g
    before = StrengthPrior.default(optics.names, prior_sd) if prior is None else prior.chosen(optics.names)
    log = before.log_mean.copy()
    precision = np.linalg.inv(before.log_covariance)
    share = _share(optics)
    labs = _labs(optics, grams, sprayed) if seen is None else seen
    for _ in range(20):
        # a strength scales K and S of its tint
        r, per_log = strength_slope(amounts, optics.strengthened(np.exp(log)))
        out, by_r = _off(r, sprayed.reflectance, share) if sprayed.reflectance is not None else labs.off(r)
        jacobian = by_r @ per_log.T
        if doubt is not None:
            also = doubt @ by_r.T
            whiten = np.linalg.inv(np.linalg.cholesky(np.eye(len(out)) + also.T @ also))
            out, jacobian = whiten @ out, whiten @ jacobian
        curvature = jacobian.T @ jacobian + precision
        step = -np.linalg.solve(curvature, jacobian.T @ out + precision @ (log - before.log_mean))
        log = log + np.clip(step, -0.3, 0.3)
        if np.abs(step).max() < 1e-9:
            break
    return Strengths(np.exp(log), np.asarray(np.linalg.inv(curvature), dtype=np.float64))


def _labs(optics: TintOptics, grams: Floats, sprayed: Reading) -> SeenLabs:
    """Return what a reading says of its card's CIELAB: nothing where its spectrum is known."""
    if sprayed.seen or sprayed.lab is None:
        return lab_read(optics, grams, sprayed)
    return SeenLabs(((sprayed.light, sprayed.observer),), sprayed.lab[None], CARD_SD_LAB**2 * np.eye(3))


def _off(r: Floats, read: Floats, share: float) -> tuple[Floats, Floats]:
    """Return what a spectrum is off from one that was read, in standard deviations, shape (31,), and its slopes."""
    sd: Floats = CARD_SD_FLOOR + share * read
    return (r - read) / sd, np.diag(1 / sd)
