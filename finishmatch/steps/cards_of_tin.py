"""The earlier cards of a tin, from the record of its job: what was in it then, and how each was read."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from finishmatch.correct.updated_tin import EarlierCard
from finishmatch.errors import InputError
from finishmatch.ledger.entries import BatchEntry, SprayOutEntry
from finishmatch.ledger.photograph_marks import as_it_was_given
from finishmatch.ledger.pouring import batch_before, batches_of_tin, lots_in_tin, totals
from finishmatch.ledger.strengths import marks_of, same_reading
from finishmatch.ledger.views import EntryView
from finishmatch.mix.weigh_out import pour_lines
from finishmatch.mix.weighing import Scale
from finishmatch.steps.bank import FittedBank
from finishmatch.steps.colour_inputs import read_alike, viewing_of
from finishmatch.steps.from_job import is_of_batch
from finishmatch.steps.matching import Parts
from finishmatch.steps.spray_out_strengths import reading_kept

_ROUNDED_G = 0.01  # what the share of a tin that was divided is rounded to


def earlier_cards(
    fitted: FittedBank,
    views: Sequence[EntryView],
    poured: Parts,
    scale: Scale,
    *,
    but: SprayOutEntry | None = None,
    gloss: float | None = None,
) -> tuple[EarlierCard, ...]:
    """Return the cards that a tin's job has of it from before what was added last, with spectra, the oldest first.

    Parameters
    ----------
    fitted : FittedBank
    views : sequence of EntryView
        The entries of the job.
    poured : tuple of (tint, grams)
        What is in the tin.
    scale : Scale
    but : SprayOutEntry or None
        The card in hand, where the record has it already: it is none of them.
    gloss : float or None
        At 60°, for a reading of another geometry than the bank's.

    Notes
    -----
    A card of known build or over a known ground is left out: it needn't hide. So is one that the bank's instrument
    couldn't have read, and one of a tin into which a tint of another lot was poured since: what that one is isn't what
    the last is.
    """
    by_number = {view.number: view for view in views if view.stands}
    tins = [view for view in by_number.values() if isinstance(view.entry, BatchEntry)]
    if not tins or any(line.off for line in pour_lines(tuple(_entry(tins[-1]).parts), poured, scale)):
        return ()
    found = []
    for number, batch in reversed(list(_before(tins[-1], views))):
        if _other_lots(views, number, tins[-1].number):
            continue
        for view in by_number.values():
            card = view.entry
            if isinstance(card, SprayOutEntry) and card.batch == number and _hides(card):
                if but is not None and same_reading(card, but):
                    continue
                reading = reading_kept(card)
                try:
                    (read,), _ = read_alike(viewing_of(fitted.bank, gloss, card.light, card.observer), reading)
                except InputError:
                    continue
                found.append(EarlierCard(batch, read))
    return tuple(found)


@dataclass(frozen=True)
class LastCard:
    """The last card of a tin.

    Parameters
    ----------
    view : EntryView
    entry : SprayOutEntry
    parts : tuple of (tint, grams)
        What was in the tin then, in the size that there is now.
    of_batch : bool
        Whether nothing was added since by the record.
    other_lots : bool
        Whether a tint of another lot was poured since: what that one is isn't what the card showed.
    """

    view: EntryView
    entry: SprayOutEntry
    parts: Parts
    of_batch: bool = True
    other_lots: bool = False

    @property
    def name(self) -> str:
        """What it is called: "spray-out #9"."""
        return f"spray-out #{self.view.number}"

    def since(self, now: Parts) -> Parts | None:
        """Return what was added since, of what is in the tin now; None where some of it isn't there any more."""
        then, there = totals(self.parts), totals(now)
        more = {tint: there.get(tint, 0.0) - then.get(tint, 0.0) for tint in {**then, **there}}
        if min(more.values()) < -_ROUNDED_G:
            return None
        return tuple((tint, round(grams, 6)) for tint, grams in more.items() if grams > _ROUNDED_G)


def last_card(views: Sequence[EntryView], tin: EntryView) -> LastCard | None:
    """Return the last card of a tin that stands, or None; `views` are the entries of its job."""
    by_number = {view.number: view for view in views}
    card = by_number.get(sprayed_before(views, tin.number) or 0)
    if card is None or not isinstance(card.entry, SprayOutEntry) or card.entry.batch is None:
        return None
    if is_of_batch(card, tin, views):
        return LastCard(card, card.entry, tuple(_entry(tin).parts))
    place = by_number[card.entry.batch].place
    for number, parts in _before(tin, views):
        if by_number[number].place == place:
            return LastCard(card, card.entry, parts, False, _other_lots(views, number, tin.number))
    return None


def _other_lots(views: Sequence[EntryView], before: int, now: int) -> bool:
    """Tell whether a tint that was in a tin before is of other lots now; the numbers are those of the batches."""
    lots = lots_in_tin(views, now)
    return any(lots.get(tint, ()) != of for tint, of in lots_in_tin(views, before).items())


def sprayed_before(views: Sequence[EntryView], batch: int | None) -> int | None:
    """Return the number of the last card that stands of a batch, or of one that its tin was before; None without any.

    `views` are the entries of the job.
    """
    by_number = {view.number: view for view in views}
    chain = {view.place for view in batches_of_tin(by_number.get(batch or 0), views)}
    cards = [(view, view.entry.batch) for view in views if view.stands and isinstance(view.entry, SprayOutEntry)]
    own = [view for view, of in cards if of is not None and by_number[of].place in chain]
    return max(own, key=lambda view: view.place).number if own else None


def card_kept(views: Sequence[EntryView], card: SprayOutEntry) -> int | None:
    """Return the number of the spray-out that is this very reading of this batch; None where it was sprayed otherwise.

    Where nothing is said anew of how it was sprayed, that is as it was.
    """

    def film(one: SprayOutEntry) -> tuple[object, ...]:
        return one.ground, one.coats, one.build_um, one.surface

    unsaid = film(SprayOutEntry(None, card.lab))
    kept = [(view.number, view.entry) for view in views if view.stands and isinstance(view.entry, SprayOutEntry)]
    alike = [
        number
        for number, one in kept
        if one.batch == card.batch
        and same_reading(one, card)
        and as_it_was_given(marks_of(one)) == as_it_was_given(marks_of(card))
        and film(card) in (film(one), unsaid)
    ]
    return alike[-1] if alike else None


def _before(tin: EntryView, views: Sequence[EntryView]) -> Iterator[tuple[int, Parts]]:
    """Yield a tin and those it was before, each with what was in it, in the size that there is now.

    One that was struck is passed over: what it went on from is in the tin still.
    """
    share, at = 1.0, tin
    while at.stands or at.struck_by is not None:
        batch = _entry(at)
        if at.stands:
            yield at.number, tuple((tint, share * grams) for tint, grams in batch.parts)
        before = batch_before(at, views)
        if before is None:
            return
        share *= batch.share
        at = before


def _entry(view: EntryView) -> BatchEntry:
    assert isinstance(view.entry, BatchEntry)
    return view.entry


def _hides(card: SprayOutEntry) -> bool:
    return card.reflectance is not None and not card.seen and card.build_um is None
