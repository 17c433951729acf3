"""What a spray-out tells of the tins it was mixed from: their strength today against the bank's."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from finishmatch.colour import Floats, reflectance_to_lab, reflectance_to_lab_slope
from finishmatch.optics import TintOptics, strength_slope
from finishmatch.readings import Reading

PRIOR_SD = 0.05  # of the logarithm of a tin's strength: tins differ by about a twentieth («common practice»)
# what readings and the film model leave, one standard deviation: a floor and a share of the reflectance
READING_SD = (0.0008, 0.004)
LAB_SD = 0.15


@dataclass(frozen=True)
class Strengths:
    """Strengths of the tints of a batch after a spray-out.

    Parameters
    ----------
    factors : ndarray, shape (n,)
        1 is as characterised.
    covariance : ndarray, shape (n, n)
        Of the logarithms of the factors.
    """

    factors: Floats
    covariance: Floats


@dataclass(frozen=True)
class StrengthPrior:
    """What is believed of the strengths of tins: log-normal, and known together.

    Parameters
    ----------
    names : tuple of str
    log_mean : ndarray, shape (n,)
        0 is as characterised.
    log_covariance : ndarray, shape (n, n)
    """

    names: tuple[str, ...]
    log_mean: Floats
    log_covariance: Floats

    @classmethod
    def default(cls, names: Sequence[str], sd: float = PRIOR_SD) -> StrengthPrior:
        """Return what is believed of tins nothing was sprayed of."""
        return cls(tuple(names), np.zeros(len(names)), np.eye(len(names)) * sd**2)

    @property
    def factors(self) -> Floats:
        """Strengths, shape (n,); 1 is as characterised."""
        return np.asarray(np.exp(self.log_mean), dtype=np.float64)

    @property
    def sd(self) -> Floats:
        """Standard deviations of the logarithms, shape (n,)."""
        return np.asarray(np.sqrt(np.diag(self.log_covariance)), dtype=np.float64)

    def chosen(self, names: Sequence[str]) -> StrengthPrior:
        """Return what is believed of these tints, in the order named; of those not known it is the default."""
        chosen = StrengthPrior.default(names)
        here = [i for i, name in enumerate(names) if name in self.names]
        there = [self.names.index(names[i]) for i in here]
        chosen.log_mean[here] = self.log_mean[there]
        chosen.log_covariance[np.ix_(here, here)] = self.log_covariance[np.ix_(there, there)]
        return chosen

    def beside(self, other: StrengthPrior) -> StrengthPrior:
        """Return what is believed of these tins and of others that share nothing with them."""
        names = (*self.names, *other.names)
        covariance = np.zeros((len(names), len(names)))
        covariance[: len(self.names), : len(self.names)] = self.log_covariance
        covariance[len(self.names) :, len(self.names) :] = other.log_covariance
        return StrengthPrior(names, np.concatenate([self.log_mean, other.log_mean]), covariance)

    def strengthened(self, optics: TintOptics) -> TintOptics:
        """Return optics with the strengths believed."""
        return optics.strengthened(self.chosen(optics.names).factors)

    def given(self, *cards: CardTold) -> StrengthPrior:
        """Return what is believed of the tins after cards, over the tints known before and those of the cards.

        Notes
        -----
        Precisions of normal logarithms add, in any order. Tints that were not in a batch follow by what they share with
        those that were.
        """
        union = tuple(dict.fromkeys((*self.names, *(name for card in cards for name in card.names))))
        prior = self.chosen(union)
        precision = np.linalg.inv(prior.log_covariance)
        information = precision @ prior.log_mean
        for card in cards:
            at = [union.index(name) for name in card.names]
            precision[np.ix_(at, at)] += card.precision
            information[at] += card.information
        covariance = np.linalg.inv(precision)
        return StrengthPrior(union, covariance @ information, (covariance + covariance.T) / 2)


@dataclass(frozen=True)
class CardTold:
    """What one card by itself told of the strengths of its tins, whatever was believed before.

    Parameters
    ----------
    names : tuple of str
    precision : ndarray, shape (n, n)
        Of the logarithms of the strengths; a direction the card says nothing of has none.
    information : ndarray, shape (n,)
        The precision times the logarithms told.
    """

    names: tuple[str, ...]
    precision: Floats
    information: Floats


def told_by_card(
    names: Sequence[str], grams: Floats, found: Strengths, believed: StrengthPrior, pour_sd_g: float = 0.0
) -> CardTold:
    """Return what a card told of its tins.

    Parameters
    ----------
    names : sequence of str, n long
        The tints of the batch.
    grams : ndarray, shape (n,)
        As poured, above 0.
    found : Strengths
        Of the tints of the batch, by `update_strengths`.
    believed : StrengthPrior
        What that started from.
    pour_sd_g : float
        How far a pour is off, one standard deviation: what a slip of a small pour does looks like strength, but
        doesn't stay with the tin.

    Returns
    -------
    CardTold

    Notes
    -----
    All in the logarithm, and taken as normal. What the film told of amount times strength is the posterior less the
    prior; the pours widen it.
    """
    before = believed.chosen(names)
    weight = np.linalg.inv(before.log_covariance)
    after = np.linalg.inv(found.covariance)
    told = after - weight
    told_mean = after @ np.log(found.factors) - weight @ before.log_mean
    # (told⁻¹ + pours)⁻¹ without inverting what the film told: it says nothing of all strengths scaled together
    widened = np.linalg.inv(np.eye(len(names)) + told @ np.diag((pour_sd_g / grams) ** 2))
    told, told_mean = widened @ told, widened @ told_mean
    return CardTold(tuple(names), (told + told.T) / 2, told_mean)


def update_strengths(
    optics: TintOptics,
    grams: Floats,
    sprayed: Reading,
    prior_sd: float = PRIOR_SD,
    prior: StrengthPrior | None = None,
    doubt: Floats | None = None,
) -> Strengths:
    """Return the most likely strengths given what was poured and what was read.

    Parameters
    ----------
    optics : TintOptics
        Of the tints of the batch, as their film was sprayed: hiding, or over a ground.
    grams : ndarray, shape (n,)
        As poured.
    sprayed : Reading
        Of the spray-out; a spectrum tells more than CIELAB.
    prior_sd : float
        Standard deviation of the logarithm of a strength before anything was sprayed.
    prior : StrengthPrior or None
        What earlier spray-outs told of the tins; in place of `prior_sd` for the tints it names.
    doubt : ndarray, shape (m, 31), or None
        What may also have moved the reading, each at all wavelengths together, by one standard deviation.

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
    for _ in range(20):
        # a strength scales K and S of its tint
        r, per_log = strength_slope(amounts, optics.strengthened(np.exp(log)))
        if sprayed.reflectance is not None:
            sd: Floats = READING_SD[0] + READING_SD[1] * sprayed.reflectance
            out, jacobian, also = (r - sprayed.reflectance) / sd, (per_log / sd).T, doubt
        else:
            by_r = reflectance_to_lab_slope(r, sprayed.light, sprayed.observer) / LAB_SD
            out = (reflectance_to_lab(r, sprayed.light, sprayed.observer) - np.asarray(sprayed.lab)) / LAB_SD
            sd, jacobian, also = np.ones(1), by_r @ per_log.T, None if doubt is None else doubt @ by_r.T
        if also is not None:
            also = also / sd
            whiten = np.linalg.inv(np.linalg.cholesky(np.eye(len(out)) + also.T @ also))
            out, jacobian = whiten @ out, whiten @ jacobian
        curvature = jacobian.T @ jacobian + precision
        step = -np.linalg.solve(curvature, jacobian.T @ out + precision @ (log - before.log_mean))
        log = log + np.clip(step, -0.3, 0.3)
        if np.abs(step).max() < 1e-9:
            break
    covariance = np.asarray(np.linalg.inv(curvature), dtype=np.float64)
    return Strengths(np.exp(log), covariance)
