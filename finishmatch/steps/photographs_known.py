"""A card's photographs that the record knows already: given for another light, which can't be."""

from __future__ import annotations

from collections.abc import Sequence

from finishmatch.errors import InputError
from finishmatch.ledger import EntryView, SprayOutEntry

_DAYLIGHTS = ("D65", "D50")  # a photograph in daylight may be read for either


def refuse_other_light(card: SprayOutEntry, views: Sequence[EntryView], anyway: bool) -> tuple[str, ...]:
    """See that no photograph of a card was recorded for another light: one picture was taken under one.

    Parameters
    ----------
    card : SprayOutEntry
        As it was seen.
    views : sequence of EntryView
        The entries of the job.
    anyway : bool
        Take it as it is, with a warning.

    Raises
    ------
    InputError
        Names the spray-out and the two lights.

    Notes
    -----
    Which lamp a picture was taken under it doesn't tell: a camera balances its white, and a chart in daylight is read
    for the light of a filament lamp as well as one that was photographed under it.
    """
    now = _lights(card)
    for view in views:
        if not view.stands or not isinstance(view.entry, SprayOutEntry):
            continue
        for mark, light in _lights(view.entry).items():
            given = now.get(mark, light)
            if given == light or {given, light} <= set(_DAYLIGHTS):
                continue
            which, what = (
                f"a photograph of spray-out #{view.number}",
                f"is recorded for {light} and given for {given} now",
            )
            if anyway:
                return (f"{which} {what}; it is taken as it is",)
            mend = "photograph the two under that lamp; with `anyway` it is taken as it is"
            raise InputError(which, what, mend)
    return ()


def _lights(card: SprayOutEntry) -> dict[str, str]:
    """Return the light that each photograph of a card was given for, by its mark."""
    return {str(mark): str(one["light"]) for one in card.seen for mark in one.get("marks") or ()}
