"""What was foretold of a batch, held against its card when that is recorded."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from finishmatch.correct.blunders import SprayedCard
from finishmatch.ledger import BatchEntry, EntryView, SprayOutEntry, same_reading
from finishmatch.ledger.pouring import batches_of_tin
from finishmatch.mix.expected_difference import U95_LIGHTS, U95_OBSERVER
from finishmatch.mix.foretold import Foretold, against_foretold, borne_out
from finishmatch.optics.strength import StrengthPrior
from finishmatch.steps.bank import FittedBank, coloured_grams
from finishmatch.steps.matching import Match, Parts
from finishmatch.steps.pours_of_job import JobPours, batch_found


def card_foretold(
    fitted: FittedBank,
    card: SprayedCard,
    prior: StrengthPrior | None,
    parts: Parts,
    cards: Sequence[Foretold],
    again: bool,
) -> Foretold | None:
    """Return how far a card came from what was foretold, within the bounds of then; None where it wasn't read.

    Parameters
    ----------
    fitted : FittedBank
        With the cards of the record, without this one.
    card : SprayedCard
        Its reading, and the optics of its film by that bank.
    prior : StrengthPrior or None
        What was known of its tins.
    parts : tuple of (tint, grams)
        What was in the tin.
    cards : sequence of Foretold
        Those of the record, oldest first.
    again : bool
        Whether a card of the tin was sprayed before.

    Raises
    ------
    InputError
        A tint that the bank doesn't know well enough, a batch without colour.
    """
    reading = card.reading
    as_told = reading.is_spectral or (reading.light, reading.observer) == (U95_LIGHTS[0], U95_OBSERVER)
    if reading.seen or not as_told:
        return None
    grams = coloured_grams(parts, fitted)
    own, covariance = card.optics.chosen(list(grams)), None
    if prior is not None:
        own, covariance = prior.strengthened(own), prior.chosen(own.names).log_covariance
    lab = reading.lab_in(U95_LIGHTS[0], U95_OBSERVER)
    found = against_foretold(
        own, np.array(list(grams.values())), card.scale.step_g, covariance, lab, len(reading.repeats), again
    )
    return replace(found, within=found.within * borne_out(cards, again).times)


def told_of(matched: Match, card: SprayedCard, parts: Parts, views: Sequence[EntryView]) -> Foretold | None:
    """Return `card_foretold` of a card that a tin is corrected by; `views` are the entries of its job."""
    own, number = matched.tins.kept_spray_out, None
    if matched.taken is not None and matched.taken.batch is not None:
        number = matched.taken.batch.number
    elif (last := JobPours(views).last_batch) is not None:
        found = batch_found(views, parts, "", matched.scale)
        goes_on = found.continues is not None or (
            isinstance(last.entry, BatchEntry) and found.parts == last.entry.parts
        )
        number = last.number if goes_on else None
    others = [
        view
        for view in views
        if own is None or not isinstance(view.entry, SprayOutEntry) or not same_reading(view.entry, own)
    ]
    return card_foretold(
        matched.fitted,
        card,
        matched.tins.prior,
        parts,
        matched.tins.foretold,
        sprayed_before(others, number) is not None,
    )


def sprayed_before(views: Sequence[EntryView], batch: int | None) -> int | None:
    """Return the number of the last card that stands of a batch, or of one that its tin was before; None without any.

    `views` are the entries of the job.
    """
    by_number = {view.number: view for view in views}
    chain = {view.place for view in batches_of_tin(by_number.get(batch or 0), views)}
    cards = [(view, view.entry.batch) for view in views if view.stands and isinstance(view.entry, SprayOutEntry)]
    own = [view for view, of in cards if of is not None and by_number[of].place in chain]
    return max(own, key=lambda view: view.place).number if own else None
