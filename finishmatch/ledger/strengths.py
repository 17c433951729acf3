"""What cards showed of the tins and still stands: those that were replaced, or judged again, no longer count."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Any

from finishmatch.ledger.entries import BatchEntry, Parts, SprayOutEntry, StrengthEntry, parts_weighed
from finishmatch.ledger.photograph_marks import any_same, looked_up_by
from finishmatch.ledger.views import EntryView


def strength_standing(views: Sequence[EntryView], bank: str) -> EntryView | None:
    """Return the newest strength of the tins in use that stands, or None; it may say that new tins were opened.

    Parameters
    ----------
    views : sequence of EntryView
        All entries of the job, replaced ones included.
    bank : str
        Its name.

    Notes
    -----
    A strength falls with its spray-out, when the batch that was sprayed was replaced after it, and when the same
    reading was judged anew.
    """
    of_bank = _BankStrengths(views, bank)
    now = of_bank.era_now()
    standing = [view for view in of_bank.standing if of_bank.era(view) == now]
    return standing[-1] if standing else None


def strengths_counted(views: Sequence[EntryView], bank: str, like: EntryView | None = None) -> list[EntryView]:
    """Return the strengths that count together, oldest first: of the tins in use, or of those a strength is of.

    When new tins are opened, what was learnt of the earlier ones counts for these no longer.
    """
    of_bank = _BankStrengths(views, bank)
    era = of_bank.era_now() if like is None else of_bank.era(like)
    return [view for view in of_bank.standing if _entry(view).tints and of_bank.era(view) == era]


def strengths_by_tins(views: Sequence[EntryView], bank: str) -> list[list[EntryView]]:
    """Return the strengths that stand, oldest first, those of the same tins together: tins in use, and former ones."""
    of_bank = _BankStrengths(views, bank)
    eras: dict[int, list[EntryView]] = {}
    for view in of_bank.standing:
        if _entry(view).tints:
            eras.setdefault(of_bank.era(view), []).append(view)
    return list(eras.values())


def strength_found(views: Sequence[EntryView], bank: str, card: SprayOutEntry) -> EntryView | None:
    """Return the strength that stands and was found from this very reading before, or None.

    A card that is judged again is left out of what is started from, so that its reading isn't counted twice.
    """
    of_bank = _BankStrengths(views, bank)
    found = [view for view in of_bank.standing if (own := of_bank.card(view)) and same_reading(own, card)]
    return found[-1] if found else None


def first_found(views: Sequence[EntryView], bank: str, view: EntryView) -> int:
    """Return the number of the first strength that was found from the reading of this one."""
    return _BankStrengths(views, bank).first(view).number


def newest_strength(views: Sequence[EntryView]) -> EntryView | None:
    """Return the newest strength of a job that counts, or counted for former tins; None where there is none."""
    banks = {view.entry.bank for view in views if isinstance(view.entry, StrengthEntry)}
    counted = [view for bank in banks for of_tins in strengths_by_tins(views, bank) for view in of_tins]
    return max(counted, key=lambda view: view.number, default=None)


def fallen_since(views: Sequence[EntryView], view: EntryView) -> list[EntryView]:
    """Return the strengths that counted when one was found, and count no more: their cards were struck since, say.

    A card that was judged again since counts still.
    """
    bank, last = _entry(view).bank, view.number
    bearing = StrengthEntry, SprayOutEntry, BatchEntry
    if all(other.stands or other.number > last or not isinstance(other.entry, bearing) for other in views):
        return []
    of_bank = _BankStrengths(views, bank)
    numbers = {other.number for other in strengths_counted(views, bank, view)}
    cards = [card for other in of_bank.standing if (card := of_bank.card(other))]
    return [
        of_bank.by_number[other.number]
        for other in strengths_counted(_as_of(views, last), bank, view)
        if other.number != last
        and other.number not in numbers
        and not any((own := of_bank.card(other)) and same_reading(own, card) for card in cards)
    ]


def _as_of(views: Sequence[EntryView], number: int) -> list[EntryView]:
    """Return the entries up to a number as they stood when that one was recorded."""
    strikes = {view.number: view.struck_by for view in views}

    def then(now: int | None, since: int | None) -> int | None:
        return None if since is not None and since > number else now

    return [
        replace(
            view,
            struck_by=then(view.struck_by, view.struck_by),
            superseded_by=then(view.superseded_by, view.superseded_by),
            fell_with=then(view.fell_with, strikes.get(view.fell_with or 0)),
        )
        for view in views
        if view.number <= number
    ]


def new_tins_at(views: Sequence[EntryView], bank: str) -> int:
    """Return the number of the last entry that says that new tins of a bank were opened; 0 when none does."""
    return max((view.number for view in _BankStrengths(views, bank).mine if not _entry(view).tints), default=0)


def cards_without_strength(views: Sequence[EntryView], bank: str) -> list[tuple[EntryView, Parts]]:
    """Return the spray-outs of the tins in use that no strength was found from yet, each with what was in its tin.

    They were recorded when the bank wasn't known, or what was poured was mended since. A reading recorded twice counts
    as it was recorded last.
    """
    of_bank = _BankStrengths(views, bank)
    by_number = {view.number: view for view in views}
    since = new_tins_at(views, bank)
    unused: list[tuple[EntryView, Parts]] = []
    for view in sorted(views, key=lambda view: view.number, reverse=True):
        card = view.entry
        if not isinstance(card, SprayOutEntry) or not view.stands or card.batch is None:
            continue
        others = [*(of_bank.card(kept) for kept in of_bank.standing), *(other.entry for other, _ in unused)]
        if view.place < since or any(isinstance(own, SprayOutEntry) and same_reading(own, card) for own in others):
            continue
        batch = by_number[card.batch]
        while batch.superseded_by is not None:
            batch = by_number[batch.superseded_by]
        if batch.struck_by is not None:  # it isn't known any more what was sprayed
            continue
        assert isinstance(batch.entry, BatchEntry)
        unused.append((view, batch.entry.parts))
    return unused[::-1]


def same_reading(one: SprayOutEntry, other: SprayOutEntry) -> bool:
    """Return whether two cards are one: read to the last digit alike or seen in one photograph, whatever their batches.

    What is combined from more photographs of a card is that card still, and so is one whose place in a photograph was
    marked a little elsewhere.
    """
    return _as_read(one) == _as_read(other) or any_same(marks_of(one), marks_of(other))


def known_again_by(card: SprayOutEntry) -> set[object]:
    """Return by what a card may be known again: two that have none of it in common aren't one (`same_reading`)."""
    return {_as_read(card), *(one for mark in marks_of(card) for one in looked_up_by(mark))}


def _as_read(card: SprayOutEntry) -> tuple[object, ...]:
    return (card.lab, card.light, card.observer) if card.reflectance is None else tuple(card.reflectance)


def same_letdown(one: StrengthEntry, other: StrengthEntry) -> bool:
    """Return whether two strengths were found from one letdown that a tin was tried by.

    A spectrum or a photograph is known again by itself. What was only told, of one panel, is of one letdown where the
    tins bear the same lots: a difference of (1, 0, 0) may well be told of the next tin too.
    """
    if one.letdown is None or other.letdown is None:
        return False
    cards = _letdown_as_card(one.letdown), _letdown_as_card(other.letdown)
    known_again = [bool(marks_of(card)) or card.reflectance is not None for card in cards]
    if any(known_again):
        return same_reading(*cards)
    tints = {tint for letdown in (one.letdown, other.letdown) for tint, _ in parts_weighed(letdown)}
    lots = [dict(zip(entry.tints, entry.lots, strict=True)) for entry in (one, other)]
    if one.letdown["panel"] != other.letdown["panel"] or any(lots[0].get(t) != lots[1].get(t) for t in tints):
        return False
    # what a difference is told beside is worked out from the bank, which may have got panels since
    told = [[(seen["light"], seen["observer"], seen["difference"]) for seen in card.seen] for card in cards]
    return told[0] == told[1] if any(told) else same_reading(*cards)


def _letdown_as_card(letdown: Mapping[str, Any]) -> SprayOutEntry:
    """Return a letdown as a card that is known in the same way."""
    known = ("lab", "reflectance", "light", "observer", "seen")
    return SprayOutEntry(batch=None, **{name: letdown[name] for name in known if name in letdown})


def marks_of_letdown(strength: StrengthEntry) -> set[str]:
    """Return by what the photographs of a letdown are known again; none of a strength that has no letdown."""
    return set() if strength.letdown is None else marks_of(_letdown_as_card(strength.letdown))


def marks_of(card: SprayOutEntry) -> set[str]:
    """Return by what the photographs of a card are known again; none where it was read or told."""
    return {str(mark) for one in card.seen for mark in one.get("marks") or ()}


class _BankStrengths:
    """The strengths of a bank in one job."""

    def __init__(self, views: Sequence[EntryView], bank: str) -> None:
        self.by_number = {view.number: view for view in views}
        self.mine = sorted(
            (
                view
                for view in views
                if isinstance(view.entry, StrengthEntry) and view.entry.bank == bank and view.struck_by is None
            ),
            key=lambda view: view.number,
        )
        self._opened = [view.number for view in self.mine if not _entry(view).tints]
        self.standing = [view for view in self.mine if self._stands(view)]

    def card(self, view: EntryView) -> SprayOutEntry | None:
        number = _entry(view).spray_out
        card = None if number is None else self.by_number[number].entry
        return card if isinstance(card, SprayOutEntry) else None

    def first(self, view: EntryView) -> EntryView:
        """Return the first strength found from the same reading."""
        own = self.card(view)
        alike = (other for other in self.mine if own and (card := self.card(other)) and same_reading(own, card))
        return next(alike, view)

    def era(self, view: EntryView) -> int:
        """Return the number of the entry that opened the tins a strength is of; 0 for the first tins of the job."""
        entry = _entry(view)
        if not entry.tints:
            before = (number for number in self._opened if number < view.number)
            return view.number if view.struck_by is None else max(before, default=0)
        if entry.starts_from is not None:
            return self.era(self.by_number[entry.starts_from])
        if entry.card_precision is not None:
            return 0
        # of an older form: a start from nothing said by itself that the tins were new
        first = self.first(view)
        if first.number != view.number:
            return self.era(first)
        return 0 if view.number == self.mine[0].number else view.number

    def era_now(self) -> int:
        return max((self.era(view) for view in self.standing), default=0)

    def _stands(self, view: EntryView) -> bool:
        own = self.card(view)
        if own is None:
            return True
        spray_out = self.by_number[_entry(view).spray_out or 0]
        batch = None if own.batch is None else self.by_number[own.batch]
        replaced = None if batch is None else batch.superseded_by
        if not spray_out.stands or (batch is not None and replaced is None and batch.struck_by is not None):
            return False
        if replaced is not None and replaced > view.number:
            return False
        later = (self.card(other) for other in self.mine if other.number > view.number)
        return not any(card and same_reading(own, card) for card in later)


def _entry(view: EntryView) -> StrengthEntry:
    assert isinstance(view.entry, StrengthEntry)
    return view.entry
