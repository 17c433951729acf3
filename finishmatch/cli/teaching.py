"""What a card teaches of its tins: found from its reading and what was poured, as an entry of the record."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from finishmatch.cli.cardpool import PooledCard, believed, pooled, told_of
from finishmatch.cli.inputs import FittedBank, film_of
from finishmatch.cli.likewise import brought_to
from finishmatch.correct.card_strengths import card_strengths
from finishmatch.correct.sprayed_film import sprayed_film
from finishmatch.errors import InputError
from finishmatch.ledger import (
    EntryView,
    RecipeEntry,
    SprayOutEntry,
    StrengthEntry,
    bank_of_job,
    cards_without_strength,
    same_reading,
)
from finishmatch.mix.weighing import Scale
from finishmatch.optics.strength import StrengthEvidence, StrengthPrior
from finishmatch.readings import Reading

if TYPE_CHECKING:
    from finishmatch.cli.strengths import LearntStrengths, TinsOfTheDay
    from finishmatch.ledger import JobView, Ledger

_SAME_LOG = 0.002  # of a strength: what another start of the same search leaves
_SAME_VARIANCE = 0.1  # share


@dataclass(frozen=True)
class Lesson:
    """What a card taught.

    Parameters
    ----------
    tints : tuple of str
        Of its batch.
    told : StrengthEvidence
        By the card alone.
    posterior : StrengthPrior
        What is believed after it.
    warnings : tuple of str
        Of how it was read, and of strengths that are hard to believe.
    """

    tints: tuple[str, ...]
    told: StrengthEvidence
    posterior: StrengthPrior
    warnings: tuple[str, ...]


def lesson_of(
    fitted: FittedBank,
    card: Reading,
    film: SprayOutEntry | None,
    poured: Sequence[tuple[str, float]],
    prior: StrengthPrior | None,
    scale: Scale | None = None,
    gloss: float | None = None,
) -> Lesson:
    """Return what a card teaches.

    Parameters
    ----------
    fitted : FittedBank
    card : Reading
    film : SprayOutEntry or None
        Tells the build and the ground, where these are known; else the film is taken to hide.
    poured : sequence of (tint, grams)
    prior : StrengthPrior or None
        What other cards told of the tins.
    scale : Scale or None
        It was poured on.
    gloss : float or None
        At 60°, for a reading of another geometry than the bank's.

    Raises
    ------
    InputError
        A tint of the batch that the bank doesn't know well enough, a batch without colour.
    """
    bank = fitted.bank
    (read,), _ = brought_to(bank.geometry, bank.binder_index, gloss, card.light, card.observer, card)
    optics = fitted.fit.optics.chosen([name for name in fitted.fit.optics.names if name in fitted.fit.usable])
    was = sprayed_film(
        optics,
        film_of(fitted, None, None).grounds,
        "" if film is None else film.ground,
        None if film is None else film.build_um,
    )
    found = card_strengths(
        was.optics, bank.tints, tuple(poured), read, scale or Scale(), prior, was.alternatives, read.conversion_sd
    )
    return Lesson(
        found.evidence.names, found.evidence, found.believed.given(found.evidence), (*read.warnings, *found.warnings)
    )


def strength_entry(
    bank: str, lesson: Lesson, lots: Mapping[str, str], spray_out: int, before: int | None
) -> StrengthEntry:
    """Return what is kept of a lesson; `before` is the number of the last strength of these tins."""
    names = lesson.posterior.names
    at = [names.index(name) for name in lesson.told.names]
    precision, information = np.zeros((len(names), len(names))), np.zeros(len(names))
    precision[np.ix_(at, at)], information[at] = lesson.told.precision, lesson.told.information
    return StrengthEntry(
        bank=bank,
        spray_out=spray_out,
        tints=names,
        lots=[lots[tint] for tint in names],
        log_mean=lesson.posterior.log_mean.tolist(),
        log_covariance=lesson.posterior.log_covariance.tolist(),
        starts_from=before,
        card_precision=precision.tolist(),
        card_information=information.tolist(),
    )


def known_already(lesson: Lesson, learnt: LearntStrengths, views: Sequence[EntryView]) -> bool:
    """Tell whether a card taught the same before: whatever was believed then, it is what it says by itself that counts.

    `views` are all entries of the job.
    """
    if learnt.found is None:
        return False
    entry = learnt.found.entry
    assert isinstance(entry, StrengthEntry)
    before = told_of(learnt.found, {view.number: view for view in views})
    lots = dict(zip(entry.tints, entry.lots, strict=True))
    if set(before.names) != set(lesson.told.names) or any(lots[name] != learnt.lots[name] for name in before.names):
        return False
    was, now = (StrengthPrior.default(lesson.told.names).given(told) for told in (before, lesson.told))
    variances = np.diag(was.log_covariance), np.diag(now.log_covariance)
    return bool(
        np.allclose(was.log_mean, now.log_mean, rtol=0, atol=_SAME_LOG) and np.allclose(*variances, rtol=_SAME_VARIANCE)
    )


def catch_up(
    ledger: Ledger,
    job: JobView,
    views: Sequence[EntryView],
    fitted: FittedBank,
    cards: list[PooledCard],
    day: TinsOfTheDay,
    but: tuple[SprayOutEntry | None, int | None],
) -> list[StrengthEntry]:
    """Return what cards of a job teach that were recorded while its bank wasn't known, or whose batch was mended since.

    Parameters
    ----------
    ledger, job, views
        The job, and all its entries.
    fitted : FittedBank
    cards : list of PooledCard
        That count already; those found are put to them.
    day : TinsOfTheDay
    but : (SprayOutEntry or None, int or None)
        A card, and the number of one, that are left to the command in hand.
    """
    bank = fitted.bank.name
    last = bank_of_job(ledger, job)
    named = {last[0]} if last else {view.entry.bank for view in views if isinstance(view.entry, RecipeEntry)}
    if named - {bank}:  # what was sprayed of another bank tells nothing of this one
        return []
    entries = []
    for view, poured in cards_without_strength(views, bank):
        card = view.entry
        assert isinstance(card, SprayOutEntry)
        if view.number == but[1] or (but[0] is not None and same_reading(card, but[0])):
            continue
        try:
            lesson = lesson_of(fitted, reading_kept(card), card, poured, believed(cards, day.lots, job.ref))
        except InputError:  # of tints this bank doesn't know
            continue
        entry = strength_entry(bank, lesson, day.lots, view.number, day.number)
        cards.append(pooled(entry, lesson.told, job.ref, card))
        entries.append(entry)
    return entries


def reading_kept(card: SprayOutEntry) -> Reading:
    """Return a spray-out's reading as the record has it."""
    values = card.lab if card.reflectance is None else card.reflectance
    return Reading(card.name or "card", np.array([values], dtype=float), card.light, card.observer, card.geometry)


def new_tins_entry(bank: str) -> StrengthEntry:
    """Return what is kept when new tins of a bank were opened."""
    return StrengthEntry(bank, None, (), (), (), ())
