"""What all cards of the record told of the tins that are in use today, put together, each card once."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from finishmatch.cli.strengths import strength_entry_of
from finishmatch.ledger import (
    EntryView,
    SprayOutEntry,
    StrengthEntry,
    first_found,
    jobs_with_strengths,
    new_tins_at,
    same_reading,
    strengths_counted,
)
from finishmatch.optics.strength import StrengthEvidence, StrengthPrior

if TYPE_CHECKING:
    from finishmatch.ledger import JobView, Ledger

_NOTHING = (
    1e-3  # of a precision, that of any tin being 400: what a difference of two may leave where a card told nothing
)


@dataclass(frozen=True)
class PooledCard:
    """A card that counts.

    Parameters
    ----------
    told : StrengthEvidence
        Its names are those of tins, by `tin_name`.
    job : str
        The ref of its job.
    spray_out : int or None
    card : SprayOutEntry or None
    lots : tuple of str
        Of the tins.
    """

    told: StrengthEvidence
    job: str
    spray_out: int | None
    card: SprayOutEntry | None
    lots: tuple[str, ...]


def tin_name(tint: str, lot: str, job: str) -> str:
    """Return what tells one tin from all others: its tint and lot; without a lot it is known within its job only."""
    return "\0".join((tint, lot, "" if lot else job))


def pooled(entry: StrengthEntry, told: StrengthEvidence, job: str, card: SprayOutEntry | None) -> PooledCard:
    """Return a card as it counts: what its strength's entry says of the tins, and what it told, by tint."""
    lots = dict(zip(entry.tints, entry.lots, strict=True))
    names = tuple(tin_name(tint, lots[tint], job) for tint in told.names)
    of_these = tuple(lots[tint] for tint in told.names)
    return PooledCard(replace(told, names=names), job, entry.spray_out, card, of_these)


def cards_of_job(views: Sequence[EntryView], counted: Sequence[EntryView], job: str) -> list[PooledCard]:
    """Return some of a job's strengths as cards, oldest first.

    Parameters
    ----------
    views : sequence of EntryView
        All entries of the job.
    counted : sequence of EntryView
        The strengths meant.
    job : str
        Its ref.
    """
    by_number = {view.number: view for view in views}
    cards = []
    for view in counted:
        entry = strength_entry_of(view)
        card = None if entry.spray_out is None else by_number[entry.spray_out].entry
        assert card is None or isinstance(card, SprayOutEntry)
        cards.append(pooled(entry, told_of(view, by_number), job, card))
    return cards


def cards_on_the_shelf(ledger: Ledger, bank: str, own: JobView | None) -> list[PooledCard]:
    """Return the cards of other jobs that told of tins with a lot, oldest first.

    A lot opened anew (`--fresh-tins`, in any job) is another tin than what was told of it before.
    """
    jobs = jobs_with_strengths(ledger, bank)
    since = max((new_tins_at(views, bank) for _, views in jobs), default=0)
    cards: list[PooledCard] = []
    for job, views in jobs:
        if own is None or job.id != own.id:
            counted = [view for view in strengths_counted(views, bank) if first_found(views, bank, view) > since]
            of_job = cards_of_job(views, counted, job.ref)
            if any(lot for card in of_job for lot in card.lots):
                cards += of_job
    return cards


def each_once(cards: Sequence[PooledCard], but: SprayOutEntry | None) -> list[PooledCard]:
    """Return cards without those of one reading, and of the same reading in two jobs only the last."""
    kept: list[PooledCard] = []
    for card in reversed(cards):
        own = card.card
        others = [but, *(other.card for other in kept)]
        if own is None or not any(other and same_reading(own, other) for other in others):
            kept.append(card)
    return kept[::-1]


def believed(cards: Sequence[PooledCard], lots: Mapping[str, str], job: str) -> StrengthPrior | None:
    """Return what the cards tell of the tins of these lots, by tint, or None when nothing is known of any.

    Parameters
    ----------
    cards : sequence of PooledCard
    lots : mapping of str to str
        Of each tint of the bank, the lot of the tin that is meant.
    job : str
        The ref of the job that asks; "" for none.
    """
    today = {tin_name(tint, lot, job): tint for tint, lot in lots.items()}
    pool = StrengthPrior((), np.zeros(0), np.zeros((0, 0))).given(*(card.told for card in told_of_today(cards, today)))
    names = [name for name in pool.names if name in today]
    return replace(pool.chosen(names), names=tuple(today[name] for name in names)) if names else None


def told_of_today(cards: Sequence[PooledCard], today: Collection[str]) -> list[PooledCard]:
    """Return the cards that tell of some tins, if only through another card."""
    reached = set(today)
    joined: list[int] = []
    while more := [i for i, card in enumerate(cards) if i not in joined and reached & set(card.told.names)]:
        joined += more
        reached.update(*(cards[i].told.names for i in more))
    return [cards[i] for i in sorted(joined)]


def told_of(view: EntryView, by_number: Mapping[int, EntryView]) -> StrengthEvidence:
    """Return what a card by itself told, by tint; of an entry of an older form, by what it added to the one before."""
    entry = strength_entry_of(view)
    if entry.card_precision is not None:
        precision, information = np.array(entry.card_precision), np.array(entry.card_information)
    else:
        before = _before(entry, by_number).chosen(entry.tints)
        after, weight = np.linalg.inv(np.array(entry.log_covariance)), np.linalg.inv(before.log_covariance)
        precision = after - weight
        information = after @ np.array(entry.log_mean) - weight @ before.log_mean
    at = [int(i) for i in np.flatnonzero(np.abs(precision).max(axis=1) > _NOTHING)]
    return StrengthEvidence(tuple(entry.tints[i] for i in at), precision[np.ix_(at, at)], information[at])


def _before(entry: StrengthEntry, by_number: Mapping[int, EntryView]) -> StrengthPrior:
    """Return what an entry of an older form started from: the chain before it, as far as it is of the same tins."""
    lots = dict(zip(entry.tints, entry.lots, strict=True))
    prior = StrengthPrior((), np.zeros(0), np.zeros((0, 0)))
    number = entry.starts_from
    while number is not None:
        older = strength_entry_of(by_number[number])
        tins = enumerate(zip(older.tints, older.lots, strict=True))
        at = [i for i, (tint, lot) in tins if tint not in prior.names and lots.get(tint) == lot]
        if at:
            mean, covariance = np.array(older.log_mean), np.array(older.log_covariance)
            of_these = StrengthPrior(tuple(older.tints[i] for i in at), mean[at], covariance[np.ix_(at, at)])
            prior = prior.beside(of_these)
        number = older.starts_from
    return prior
