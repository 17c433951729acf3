"""The card that a tin is judged by: the film it was sprayed as, and what the record knows of its tin beside it."""

from __future__ import annotations

from collections.abc import Sequence

from finishmatch.correct.blunders import SprayedCard
from finishmatch.correct.updated_tin import TinRecord
from finishmatch.ledger import EntryView, SprayOutEntry
from finishmatch.ledger.pouring import wanted_in
from finishmatch.steps.cards_of_tin import earlier_cards
from finishmatch.steps.matching import Match, Parts
from finishmatch.steps.spray_out_strengths import Poured, sprayed_card


def card_of(matched: Match, poured: Parts, film: SprayOutEntry, gloss: float | None) -> SprayedCard:
    """Return the spray-out as what it can be of is judged; with a build it is taken as a film that may not hide.

    Parameters
    ----------
    matched : Match
        With its spray-out.
    poured : tuple of (tint, grams)
        What it was sprayed of.
    film : SprayOutEntry
        How it was sprayed.
    gloss : float or None
        At 60°, for a reading of another geometry than the bank's.
    """
    assert matched.sprayed is not None
    assert matched.sprayed_alike is not None
    prior, tints = matched.tins.prior, matched.shelf.tints
    if film.build_um is None:
        return SprayedCard(matched.sprayed_alike, matched.fitted.usable_optics, tints, matched.scale, prior)
    return sprayed_card(matched.fitted, matched.sprayed, film, Poured(poured, matched.scale, prior), gloss)


def record_of_tin(
    matched: Match,
    views: Sequence[EntryView],
    poured: Parts,
    gloss: float | None,
    fill_to: float | None = None,
    since: Parts = (),
) -> TinRecord:
    """Return what the record knows of a tin beside its spray-out, and what is wanted of it.

    Parameters
    ----------
    matched : Match
    views : sequence of EntryView
        The entries of the job; none where there is no job.
    poured : tuple of (tint, grams)
        What is in the tin by the record.
    gloss : float or None
        As for `card_of`.
    fill_to : float or None
        Grams that are wanted in it in the end; None is what the job's recipe says.
    since : tuple of (tint, grams)
        What was added after the spray-out.
    """
    kept = matched.tins.kept_spray_out
    before = earlier_cards(matched.fitted, views, poured, matched.scale, but=kept, gloss=gloss)
    wanted, taken = fill_to, matched.taken
    if wanted is None and taken is not None and taken.batch is not None:
        wanted = wanted_in(views, taken.batch)
    return TinRecord(matched.tins.prior, before, wanted or 0.0, since)


def lab_only(matched: Match) -> tuple[str, ...]:
    """Return what is to be said of a spray-out without a spectrum that was read."""
    trial, by = matched.sprayed_alike, matched.judged_as
    if by is None or trial is None or trial.seen:
        return ()
    return (f"the spray-out is Lab only, so the tin is judged under {by.light}, {by.observer}° alone",)
