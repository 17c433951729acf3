"""Which target a reading was weighed into, and whether that still rests on the reading as it now stands."""

from __future__ import annotations

from finishmatch.ledger.entries import ReadingEntry, TargetEntry
from finishmatch.ledger.views import EntryView


def rests_on(target: EntryView, reading: EntryView) -> bool:
    """Return whether a target was found from a reading, or from what that stands in place of: by its name, after it.

    Raises
    ------
    TypeError
        They are other entries.
    """
    goal, read = target.entry, reading.entry
    if not isinstance(goal, TargetEntry) or not isinstance(read, ReadingEntry):
        raise TypeError(f"{target.kind} and {reading.kind}")
    names = {name.casefold() for name in (goal.name, *goal.evidence)}
    return reading.place < target.place and read.name.casefold() in names


def read_since(target: EntryView, reading: EntryView) -> bool:
    """Return whether a reading that a target rests on was read again since, so that the target isn't of it any more."""
    return rests_on(target, reading) and reading.number > target.number
