"""What a spray-out tells of the tins it was mixed from: their strength today against the bank's."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from finishmatch.colour import Floats, reflectance_to_lab, reflectance_to_lab_slope
from finishmatch.optics import TintOptics, mixture_slope
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

    def learnt(self, names: Sequence[str], grams: Floats, found: Strengths, pour_sd_g: float = 0.0) -> StrengthPrior:
        """Return what is believed of the tins after a spray-out.

        Parameters
        ----------
        names : sequence of str, n long
            The tints of the batch.
        grams : ndarray, shape (n,)
            As poured, above 0.
        found : Strengths
            Of the tints of the batch, by `update_strengths` from this prior.
        pour_sd_g : float
            How far a pour is off, one standard deviation: what a slip of a small pour does looks like strength, but
            doesn't stay with the tin.

        Returns
        -------
        StrengthPrior
            Over the tints known before and those of the batch.

        Notes
        -----
        All in the logarithm, and taken as normal. What the film told of amount times strength is the posterior less
        the prior; the pours widen it, then it is put to the prior again. Tints that were not in the batch follow by
        what they share with those that were.
        """
        union = tuple(dict.fromkeys((*self.names, *names)))
        prior = self.chosen(union)
        at = [union.index(name) for name in names]
        before = prior.chosen(names)
        weight = np.linalg.inv(before.log_covariance)
        after = np.linalg.inv(found.covariance)
        told = after - weight
        told_mean = after @ np.log(found.factors) - weight @ before.log_mean
        # (told⁻¹ + pours)⁻¹ without inverting what the film told: it says nothing of all strengths scaled together
        widened = np.linalg.inv(np.eye(len(names)) + told @ np.diag((pour_sd_g / grams) ** 2))
        told, told_mean = widened @ told, widened @ told_mean
        precision = np.linalg.inv(prior.log_covariance)
        information = precision @ prior.log_mean
        information[at] += told_mean
        precision[np.ix_(at, at)] += (told + told.T) / 2
        covariance = np.linalg.inv(precision)
        return StrengthPrior(union, covariance @ information, (covariance + covariance.T) / 2)


def update_strengths(
    optics: TintOptics,
    grams: Floats,
    sprayed: Reading,
    prior_sd: float = PRIOR_SD,
    prior: StrengthPrior | None = None,
) -> Strengths:
    """Return the most likely strengths given what was poured and what was read.

    Parameters
    ----------
    optics : TintOptics
        Of the tints of the batch.
    grams : ndarray, shape (n,)
        As poured.
    sprayed : Reading
        Of the spray-out, hiding; a spectrum tells more than CIELAB.
    prior_sd : float
        Standard deviation of the logarithm of a strength before anything was sprayed.
    prior : StrengthPrior or None
        What earlier spray-outs told of the tins; in place of `prior_sd` for the tints it names.

    Returns
    -------
    Strengths

    Notes
    -----
    Log-normal prior (around 1 where nothing is known) and normal errors of the reading: the mode by Gauss-Newton, the
    covariance from its curvature. Scaling all strengths together doesn't change a film that hides; the prior holds that
    direction.
    """
    amounts = grams * optics.dry_ml_per_g
    before = StrengthPrior.default(optics.names, prior_sd) if prior is None else prior.chosen(optics.names)
    log = before.log_mean.copy()
    precision = np.linalg.inv(before.log_covariance)
    for _ in range(20):
        factor = np.exp(log)
        # a strength scales K and S of its tint, as its amount does
        r, slope = mixture_slope(amounts * factor, optics.K, optics.S, optics.surface, optics.backing)
        per_log = slope * (amounts * factor)[:, None]  # (n, 31)
        if sprayed.reflectance is not None:
            sd = READING_SD[0] + READING_SD[1] * sprayed.reflectance
            out, jacobian = (r - sprayed.reflectance) / sd, (per_log / sd).T
        else:
            out = (reflectance_to_lab(r, sprayed.light, sprayed.observer) - np.asarray(sprayed.lab)) / LAB_SD
            jacobian = reflectance_to_lab_slope(r, sprayed.light, sprayed.observer) @ per_log.T / LAB_SD
        curvature = jacobian.T @ jacobian + precision
        step = -np.linalg.solve(curvature, jacobian.T @ out + precision @ (log - before.log_mean))
        log = log + np.clip(step, -0.3, 0.3)
        if np.abs(step).max() < 1e-9:
            break
    covariance = np.asarray(np.linalg.inv(curvature), dtype=np.float64)
    return Strengths(np.exp(log), covariance)
