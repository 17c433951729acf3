"""Whether a fact is in the record already: a tin poured once isn't poured twice because two commands saw it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import fields

from finishmatch.ledger.entries import BatchEntry, Entry, Nth, ReadingEntry, SprayOutEntry, TargetEntry
from finishmatch.ledger.views import EntryView

# a target, a tin, a card may come back to what it was before: only the last one counts
LAST_ONLY = (TargetEntry, BatchEntry, SprayOutEntry)


def kept_as(entry: Entry, current: Sequence[EntryView]) -> int | None:
    """Return the number under which a fact is kept already, or None.

    Parameters
    ----------
    entry : Entry
        Readings, targets, batches and spray-outs are facts; a judgement is always made anew.
    current : sequence of EntryView
        What stands in the job, in the order of its story.

    Notes
    -----
    It is the same fact when all it says is said there; what it leaves at its default it doesn't say.
    """
    if not isinstance(entry, (ReadingEntry, *LAST_ONLY)):
        return None
    alike = [view for view in current if view.kind == entry.KIND]
    if isinstance(entry, LAST_ONLY):
        alike = alike[-1:]
    return next((view.number for view in reversed(alike) if _says_no_more(entry, view.entry)), None)


def _says_no_more(entry: Entry, kept: Entry) -> bool:
    for field in fields(entry):
        said = getattr(entry, field.name)
        if isinstance(said, Nth) or (said != field.default and said != getattr(kept, field.name)):
            return False
    return True


def point_at(entry: Entry, numbers: Sequence[int]) -> dict[str, int]:
    """Return what the fields of an entry that point by index point at, given the numbers of the entries before it."""
    return {name: numbers[index] for name in entry.REFERS if isinstance(index := getattr(entry, name), Nth)}
