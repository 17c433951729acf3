"""The strength of tin lots against the bank's: what is believed, what a card by itself says, and both combined."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass, replace

import numpy as np

from finishmatch.colour import Floats
from finishmatch.one_thread import one_thread
from finishmatch.optics.mixture import TintOptics

# of the logarithm of a tin's strength, before the shop's own cards speak: tins of one shade differ by 15 to 20 % from
# the one characterised (measured on 21 tint pastes)
PRIOR_SD = 0.15
# of the very tin the panels were drawn from: solvent leaves it, pigment settles, and it is stirred up again
PANELS_OWN_SD = 0.03  # («common practice»)
STRONGEST = 4.0  # no tin is so many times as strong as another of its tint («common practice»)
_PRIOR_WORTH = 3.0  # tins whose strength is known: so much is this spread worth
_LEAST_CARDS = 3  # spray-outs of which a spread is learnt: fewer tell of their own tins, and little of others
_SPREADS = np.geomspace(0.02, 0.5, 41)


@dataclass(frozen=True)
class Strengths:
    """Strengths of the tints of a batch, estimated from a spray-out.

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
    spread : float
        Of the logarithm of the strength of tins nothing is known of.
    """

    names: tuple[str, ...]
    log_mean: Floats
    log_covariance: Floats
    spread: float = PRIOR_SD

    @classmethod
    def default(cls, names: Sequence[str], sd: float = PRIOR_SD) -> StrengthPrior:
        """Return what is believed of tins nothing was sprayed of."""
        return cls(tuple(names), np.zeros(len(names)), np.eye(len(names)) * sd**2, sd)

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
        chosen = StrengthPrior.default(names, self.spread)
        here = [i for i, name in enumerate(names) if name in self.names]
        there = [self.names.index(names[i]) for i in here]
        chosen.log_mean[here] = self.log_mean[there]
        chosen.log_covariance[np.ix_(here, here)] = self.log_covariance[np.ix_(there, there)]
        return chosen

    def among(self, names: Collection[str]) -> StrengthPrior:
        """Return what is believed of those of these tints that something is known of."""
        return self.chosen([name for name in self.names if name in names])

    def beside(self, other: StrengthPrior) -> StrengthPrior:
        """Return what is believed of these tins and of others that share nothing with them."""
        names = (*self.names, *other.names)
        covariance = np.zeros((len(names), len(names)))
        covariance[: len(self.names), : len(self.names)] = self.log_covariance
        covariance[len(self.names) :, len(self.names) :] = other.log_covariance
        return StrengthPrior(names, np.concatenate([self.log_mean, other.log_mean]), covariance, self.spread)

    def stirred_in(self, dispersal_sd: Floats | float) -> StrengthPrior:
        """Return what is believed of the amounts that come to bear in one batch: each off by so much, independently.

        `dispersal_sd` is of the logarithm of each amount, shape (n,), or of all of them alike.
        """
        return replace(self, log_covariance=self.log_covariance + np.eye(len(self.names)) * np.square(dispersal_sd))

    def strengthened(self, optics: TintOptics) -> TintOptics:
        """Return optics with the strengths believed."""
        return optics.strengthened(self.chosen(optics.names).factors)

    def given(self, *cards: StrengthEvidence) -> StrengthPrior:
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
        return StrengthPrior(union, covariance @ information, (covariance + covariance.T) / 2, self.spread)


@dataclass(frozen=True)
class StrengthEvidence:
    """What one card by itself says of the strengths of its tins, whatever was believed before.

    Parameters
    ----------
    names : tuple of str
    precision : ndarray, shape (n, n)
        Of the logarithms of the strengths; a direction the card says nothing of has none.
    information : ndarray, shape (n,)
        The precision times the logarithms the card points to.
    """

    names: tuple[str, ...]
    precision: Floats
    information: Floats


def strength_evidence(
    names: Sequence[str],
    grams: Floats,
    found: Strengths,
    believed: StrengthPrior,
    pour_sd_g: float = 0.0,
    dispersal_sd: Floats | float = 0.0,
) -> StrengthEvidence:
    """Return what a card by itself says of its tins.

    Parameters
    ----------
    names : sequence of str, n long
        The tints of the batch.
    grams : ndarray, shape (n,)
        As poured, above 0.
    found : Strengths
        Of the tints of the batch, estimated from the card.
    believed : StrengthPrior
        What that estimate started from.
    pour_sd_g : float
        How far a pour is off, one standard deviation: what a slip of a small pour does looks like strength, but
        doesn't stay with the tin.
    dispersal_sd : float or ndarray, shape (n,)
        Of the logarithm of what comes to bear of a tint each time it is stirred in, which doesn't stay either.

    Returns
    -------
    StrengthEvidence

    Notes
    -----
    All in the logarithm, and taken as normal. What the film says of amount times strength is the posterior less the
    prior; pours and dispersal widen it.
    """
    before = believed.chosen(names)
    weight = np.linalg.inv(before.log_covariance)
    after = np.linalg.inv(found.covariance)
    precision = after - weight
    information = after @ np.log(found.factors) - weight @ before.log_mean
    # (precision⁻¹ + pours)⁻¹ without inverting what the film says: of all strengths scaled together that is nothing
    of_amounts = np.diag((pour_sd_g / grams) ** 2 + np.square(dispersal_sd))
    widened = np.linalg.inv(np.eye(len(names)) + precision @ of_amounts)
    precision, information = widened @ precision, widened @ information
    return StrengthEvidence(tuple(names), (precision + precision.T) / 2, information)


@one_thread
def lot_spread(cards: Sequence[StrengthEvidence], of_panels: Collection[str] = ()) -> float:
    """Return the spread of the strengths of tins, by what the shop's own cards show of them.

    Parameters
    ----------
    cards : sequence of StrengthEvidence
        Their names set tins apart, not tints.
    of_panels : collection of str
        The tins that the panels were drawn from: how strong they are tells nothing of others.

    Returns
    -------
    float
        Of the logarithm, one standard deviation; `PRIOR_SD` before some cards were sprayed.

    Notes
    -----
    The spread under which the cards are most probable, strengths integrated out; `PRIOR_SD` counts as much as some tins
    whose strength is known (empirical Bayes, Efron and Morris 1973).
    """
    if sum(not set(card.names) <= set(of_panels) for card in cards) < _LEAST_CARDS:
        return PRIOR_SD
    precision, information = _of_others(cards, of_panels)
    own, axes = np.linalg.eigh((precision + precision.T) / 2)
    own, along = np.maximum(own, 0.0), (axes.T @ information) ** 2
    likely = [
        0.5 * float((along * sd**2 / (1 + own * sd**2) - np.log1p(own * sd**2)).sum())
        - _PRIOR_WORTH * (np.log(sd) + 0.5 * (PRIOR_SD / sd) ** 2)
        for sd in _SPREADS
    ]
    return float(_SPREADS[int(np.argmax(likely))])


def _of_others(cards: Sequence[StrengthEvidence], of_panels: Collection[str]) -> tuple[Floats, Floats]:
    """Return what cards together say of the tins but those of the panels: precision, shape (n, n), and information."""
    names = sorted({name for card in cards for name in card.names}, key=lambda name: name in of_panels)
    precision, information = np.zeros((len(names), len(names))), np.zeros(len(names))
    for card in cards:
        at = [names.index(name) for name in card.names]
        precision[np.ix_(at, at)] += card.precision
        information[at] += card.information
    others = sum(name not in of_panels for name in names)
    of_rest = precision[others:, others:] + np.eye(len(names) - others) / PANELS_OWN_SD**2
    through = np.linalg.solve(of_rest, precision[others:]).T[:others]  # the tins of the panels integrated out
    return precision[:others, :others] - through @ precision[others:, :others], (
        information[:others] - through @ information[others:]
    )
