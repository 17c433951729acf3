"""Which strength of the tins stands in a job: spray-outs that were replaced, or judged again, no longer count."""

from __future__ import annotations

from collections.abc import Sequence

from finishmatch.ledger.entries import SprayOutEntry, StrengthEntry
from finishmatch.ledger.views import EntryView


def strength_standing(views: Sequence[EntryView], bank: str) -> EntryView | None:
    """Return the newest strength of a bank's tins that stands, or None.

    Parameters
    ----------
    views : sequence of EntryView
        All entries of the job, replaced ones included.
    bank : str
        Its name.

    Notes
    -----
    A strength falls with its spray-out, with the batch that was sprayed, with the strength it started from, and when
    the same reading was judged anew.
    """
    standing = _standing(views, bank)
    return standing[-1] if standing else None


def strength_found(views: Sequence[EntryView], bank: str, card: SprayOutEntry) -> EntryView | None:
    """Return the strength that stands and was found from this very reading before, or None.

    A card judged again starts from what that one started from, so that its reading isn't counted twice.
    """
    cards = _cards(views)
    found = [view for view in _standing(views, bank) if (own := _card(view, cards)) and _same_reading(own, card)]
    return found[-1] if found else None


def _standing(views: Sequence[EntryView], bank: str) -> list[EntryView]:
    cards = _cards(views)
    replaced = {view.number for view in views if view.superseded_by is not None}
    mine = [view for view in views if isinstance(view.entry, StrengthEntry) and view.entry.bank == bank]
    mine.sort(key=lambda view: view.number)
    stands: dict[int, EntryView] = {}
    for i, view in enumerate(mine):
        assert isinstance(view.entry, StrengthEntry)
        own = _card(view, cards)
        again = own and any((other := _card(later, cards)) and _same_reading(own, other) for later in mine[i + 1 :])
        rests_on = {view.number, view.entry.spray_out, own and own.batch}
        before = view.entry.starts_from
        if not again and not rests_on & replaced and (before is None or before in stands):
            stands[view.number] = view
    return list(stands.values())


def _cards(views: Sequence[EntryView]) -> dict[int, SprayOutEntry]:
    return {view.number: view.entry for view in views if isinstance(view.entry, SprayOutEntry)}


def _card(view: EntryView, cards: dict[int, SprayOutEntry]) -> SprayOutEntry | None:
    number = view.entry.spray_out if isinstance(view.entry, StrengthEntry) else None
    return None if number is None else cards.get(number)


def _same_reading(one: SprayOutEntry, other: SprayOutEntry) -> bool:
    """Tell whether two cards were read to the last digit alike: that is one reading, whatever batch it is put to."""
    if one.reflectance is not None or other.reflectance is not None:
        return one.reflectance == other.reflectance
    return (one.lab, one.light, one.observer) == (other.lab, other.light, other.observer)
