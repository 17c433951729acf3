"""What a spray-out shows of the strength of its tins: found from its reading and what was poured, and kept."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from finishmatch.correct.blunders import SprayedCard
from finishmatch.correct.card_strengths import card_strengths
from finishmatch.correct.sprayed_film import sprayed_film
from finishmatch.ledger import EntryView, SprayOutEntry, StrengthEntry
from finishmatch.mix.foretold import Foretold
from finishmatch.mix.weighing import Scale
from finishmatch.optics.strength import StrengthEvidence, StrengthPrior
from finishmatch.readings import Reading
from finishmatch.readings.seen import as_moved
from finishmatch.steps.bank import FittedBank, grounds_in_contact
from finishmatch.steps.colour_inputs import read_alike, viewing_of
from finishmatch.steps.seen_kept import seen_again
from finishmatch.steps.spray_outs_counted import shown_by_itself, strength_entry_of

_SAME_LOG = 0.002  # of a strength: what another start of the same search leaves
_SAME_VARIANCE = 0.1  # share


@dataclass(frozen=True)
class TinsShown:
    """What a spray-out shows of its tins.

    Parameters
    ----------
    tints : tuple of str
        Of its batch.
    shown : StrengthEvidence
        By the spray-out alone.
    posterior : StrengthPrior
        What is known of the tins after it.
    warnings : tuple of str
        Of how it was read, and of strengths that are hard to believe.
    """

    tints: tuple[str, ...]
    shown: StrengthEvidence
    posterior: StrengthPrior
    warnings: tuple[str, ...]


@dataclass(frozen=True)
class Poured:
    """What was poured, on which scale, and what was known of its tins before."""

    parts: tuple[tuple[str, float], ...]
    scale: Scale = field(default_factory=Scale)
    prior: StrengthPrior | None = None


def sprayed_card(
    fitted: FittedBank, reading: Reading, film: SprayOutEntry | None, poured: Poured, gloss: float | None = None
) -> SprayedCard:
    """Return a spray-out as the bank's instrument would have read it, with the film it was sprayed as.

    Parameters
    ----------
    fitted : FittedBank
    reading : Reading
    film : SprayOutEntry or None
        Holds the build and the ground, where these are known; else the film is taken to hide.
    poured : Poured
    gloss : float or None
        At 60°, for a reading of another geometry than the bank's.
    """
    bank = fitted.bank
    wanted = viewing_of(bank, gloss, reading.light, reading.observer)
    (read,), _ = read_alike(wanted, as_moved(reading))
    was = sprayed_film(
        fitted.usable_optics,
        grounds_in_contact(bank),
        "" if film is None else film.ground,
        None if film is None else film.build_um,
    )
    return SprayedCard(read, was.optics, bank.tints, poured.scale, poured.prior, was.alternatives)


def tins_shown(
    fitted: FittedBank,
    reading: Reading,
    film: SprayOutEntry | None,
    poured: Poured,
    gloss: float | None = None,
    beside: tuple[tuple[str, float], ...] = (),
) -> TinsShown:
    """Return what a spray-out shows of its tins; the parameters are those of `sprayed_card`.

    It is held against the bank alone, so that what is kept doesn't depend on other cards. `beside` is what is in the
    panel of the bank that a letdown was seen beside.

    Raises
    ------
    InputError
        A tint of the batch that the bank doesn't know well enough, a batch without colour.
    """
    card = sprayed_card(replace(fitted, today=None), reading, film, poured, gloss)
    read = card.reading
    found = card_strengths(
        card.optics, card.tints, poured.parts, read, card.scale, card.prior, card.alternatives, read.conversion_sd,
        beside,
    )  # fmt: skip
    return TinsShown(
        found.evidence.names, found.evidence, found.believed.given(found.evidence), (*read.warnings, *found.warnings)
    )


def strength_entry(
    bank: str,
    found: TinsShown,
    lots: Mapping[str, str],
    spray_out: int | None,
    before: int | None,
    foretold: Foretold | None = None,
) -> StrengthEntry:
    """Return what is kept of what a spray-out shows; `before` is the number of the last strength of these tins.

    `spray_out` is None for a letdown, which the entry is still to be given; `foretold` is of its card.
    """
    names = found.posterior.names
    at = [names.index(name) for name in found.shown.names]
    precision, information = np.zeros((len(names), len(names))), np.zeros(len(names))
    precision[np.ix_(at, at)], information[at] = found.shown.precision, found.shown.information
    return StrengthEntry(
        bank=bank,
        spray_out=spray_out,
        tints=names,
        lots=[lots[tint] for tint in names],
        log_mean=found.posterior.log_mean.tolist(),
        log_covariance=found.posterior.log_covariance.tolist(),
        starts_from=before,
        card_precision=precision.tolist(),
        card_information=information.tolist(),
        foretold=None if foretold is None else foretold.as_dict(),
    )


def known_already(
    found: TinsShown, kept: EntryView | None, lots: Mapping[str, str], views: Sequence[EntryView]
) -> bool:
    """Return whether a spray-out showed the same before: whatever was known then, what it shows by itself counts.

    Parameters
    ----------
    found : TinsShown
    kept : EntryView or None
        The strength found from the same reading before.
    lots : mapping of str to str
        Of each tint, the lot of the tin that is meant.
    views : sequence of EntryView
        All entries of the job.
    """
    if kept is None:
        return False
    entry = strength_entry_of(kept)
    before = shown_by_itself(kept, {view.number: view for view in views})
    of_lots = dict(zip(entry.tints, entry.lots, strict=True))
    if set(before.names) != set(found.shown.names) or any(of_lots[name] != lots[name] for name in before.names):
        return False
    was, now = (StrengthPrior.default(found.shown.names).given(shown) for shown in (before, found.shown))
    variances = np.diag(was.log_covariance), np.diag(now.log_covariance)
    return bool(
        np.allclose(was.log_mean, now.log_mean, rtol=0, atol=_SAME_LOG) and np.allclose(*variances, rtol=_SAME_VARIANCE)
    )


def reading_kept(spray_out: SprayOutEntry) -> Reading:
    """Return a spray-out's reading as the record has it."""
    values = spray_out.lab if spray_out.reflectance is None else spray_out.reflectance
    name, light, observer = spray_out.name or "card", spray_out.light, spray_out.observer
    seen = seen_again(spray_out.seen)
    own = next((one.by_itself for one in seen if one.by_itself is not None), None)
    return Reading(name, np.array([values], dtype=float), light, observer, spray_out.geometry, seen=seen, target=own)


def new_tins_entry(bank: str) -> StrengthEntry:
    """Return what is kept when new tins of a bank were opened."""
    return StrengthEntry(bank, None, (), (), (), ())
