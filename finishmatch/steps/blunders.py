"""A card or batch that can't be what it says is refused before anything is worked out from it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from finishmatch.correct.blunders import SprayedCard, explained, find_blunder
from finishmatch.correct.called_as import CARD, CalledAs
from finishmatch.errors import InputError
from finishmatch.ledger import BatchEntry, EntryView, SprayOutEntry
from finishmatch.readings import Reading
from finishmatch.steps.matching import Parts
from finishmatch.steps.spray_out_strengths import reading_kept


def refuse_blunder(
    card: SprayedCard,
    batch: Parts,
    where: str,
    anyway: bool,
    views: Sequence[EntryView] = (),
    called: CalledAs = CARD,
) -> tuple[str, ...]:
    """See that a card can be of its batch; return a warning where it can't and is taken anyway.

    Parameters
    ----------
    card : SprayedCard
    batch : tuple of (tint, grams)
    where : str
        What the card is called in a message.
    anyway : bool
        Take it as it is.
    views : sequence of EntryView
        The entries of the job: another batch or another card of it may fit.
    called : CalledAs

    Raises
    ------
    InputError
        Names the likeliest slip.
    """
    standing = [view for view in views if view.stands]
    batches = [
        (f"batch #{view.number}", tuple(view.entry.parts))
        for view in standing
        if isinstance(view.entry, BatchEntry) and tuple(view.entry.parts) != batch
    ]
    found = find_blunder(card, batch, batches, called)
    if found is None:
        return ()
    what, mend = found.what, found.mend
    if not found.kind:
        fitting = next((view for view in standing if _fits(view, card, batch)), None)
        what += "" if fitting is None else f"; the card of spray-out #{fitting.number} fits it"
    if anyway:
        return (f"{called.card} {what}; it is taken as it is",)
    raise InputError(where, what, f"{mend}; with `anyway` it is taken as it is")


def _fits(view: EntryView, card: SprayedCard, batch: Parts) -> bool:
    """Tell whether an entry is another card, which the batch explains."""
    if not isinstance(view.entry, SprayOutEntry):
        return False
    reading: Reading = reading_kept(view.entry)
    found = explained(replace(card, reading=reading, alternatives=()), batch)
    return found is not None and found.usual
