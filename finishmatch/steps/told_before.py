"""What was foretold of a card before it was sprayed: by the card before it of that tin, where there was one."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from finishmatch.correct.blunders import SprayedCard
from finishmatch.errors import InputError
from finishmatch.ledger import BatchEntry, EntryView, SprayOutEntry, same_reading
from finishmatch.mix.foretold import Foretold, borne_out
from finishmatch.steps.bank import FittedBank
from finishmatch.steps.by_its_card import OfJob, by_its_card
from finishmatch.steps.cards_of_tin import last_card, sprayed_before
from finishmatch.steps.corrected import TOLERANCE
from finishmatch.steps.foretold import card_foretold, card_foretold_beside, tells_colour
from finishmatch.steps.from_job import FromJob
from finishmatch.steps.ground_shows import film_hides
from finishmatch.steps.matching import Match, MatchRequest, Parts
from finishmatch.steps.pours_of_job import JobPours, batch_found
from finishmatch.steps.record import check_job
from finishmatch.steps.spray_outs_counted import strength_entry_of
from finishmatch.steps.todays_tins import TodaysTins
from finishmatch.steps.way_back import Goal


def told_before(
    of: OfJob, fitted: FittedBank, tins: TodaysTins, card: SprayedCard, gloss: float | None = None, *, new: bool = True
) -> Foretold | None:
    """Return how far a card came from what was foretold of it, within the bounds of then; None where it wasn't read.

    Parameters
    ----------
    of : OfJob
        The tin that it is of, and the entries of its job without it.
    fitted : FittedBank
        With the cards of the record, without this one.
    tins : TodaysTins
        What was known of its tins.
    card : SprayedCard
        Its reading, and its film.
    gloss : float or None
        At 60°, for a reading of another geometry than the bank's.
    new : bool
        Whether it isn't in the record in any form: else what the card before it foretold isn't known any more.

    Raises
    ------
    InputError
        A tint that the bank doesn't know well enough, a batch without colour.
    """
    found = _by_the_card_before(of, fitted, tins, card, gloss) if new and tins.kept_spray_out is None else None
    if found is not None:
        return found
    batch = of.taken.batch
    again = sprayed_before(of.views, None if batch is None else batch.number) is not None
    return card_foretold(fitted, card, tins.prior, of.parts, tins.foretold, again)


def _by_the_card_before(
    of: OfJob, fitted: FittedBank, tins: TodaysTins, card: SprayedCard, gloss: float | None
) -> Foretold | None:
    """Return a card against what the one before it foretold; None where that told nothing of a film that hides."""
    last = None if of.taken.batch is None else last_card(of.views, of.taken.batch)
    backing = card.optics.backing
    if last is None or not tells_colour(card.reading):
        return None
    if backing is not None and not film_hides(fitted, of.parts, backing.build_um):
        return None
    wishes = MatchRequest(gloss=gloss, scale_step=card.scale.step_g, smallest=card.scale.smallest_g)
    try:
        by = by_its_card(of, last, replace(fitted, today=None), wishes, Goal(None, TOLERANCE), asked=False)
    except InputError:
        return None
    if by.shown.u95:
        return None
    found = by.next_card.against(card.reading)
    return replace(found, within=found.within * borne_out(tins.foretold, True, True).times)


def told_beside(of: OfJob, matched: Match, card: SprayedCard) -> Foretold | None:
    """Return how far a card that was seen beside its piece differs, against what was foretold; None but of a first.

    Parameters are as for `told_before`, `matched` with the card as it was seen.
    """
    batch = of.taken.batch
    if sprayed_before(of.views, None if batch is None else batch.number) is not None:
        return None
    return card_foretold_beside(matched, card, of.parts)


def told_of(
    job: str, matched: Match, card: SprayedCard, parts: Parts, views: Sequence[EntryView], gloss: float | None
) -> Foretold | None:
    """Return what was foretold of a card that a tin is corrected by: as it was kept, else as `told_before` has it.

    `views` are the entries of its job.
    """
    kept = None if matched.tins.found is None else strength_entry_of(matched.tins.found).foretold
    if kept is not None:
        return Foretold.kept(kept)
    batch = None if matched.taken is None else matched.taken.batch
    if batch is None and (last := JobPours(views).last_batch) is not None:
        found = batch_found(views, parts, "", matched.scale)
        goes_on = found.continues is not None or (
            isinstance(last.entry, BatchEntry) and found.parts == last.entry.parts
        )
        batch = last if goes_on else None
    own, named = matched.tins.kept_spray_out, check_job(job)
    assert named is not None
    others = [
        view
        for view in views
        if own is None or not isinstance(view.entry, SprayOutEntry) or not same_reading(view.entry, own)
    ]
    of = OfJob(job, FromJob(named, batch=batch), others, parts)
    if card.reading.seen:
        return told_beside(of, matched, card)
    return told_before(of, matched.fitted, matched.tins, card, gloss)
