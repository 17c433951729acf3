"""Anything else worth remembering is recorded."""

from __future__ import annotations

from finishmatch.ledger import NoteEntry, open_ledger
from finishmatch.steps.record import NOTHING, InPlaceOf, RecordedOne, record_one


def note(job: str, text: str, *, in_place_of: InPlaceOf = NOTHING) -> RecordedOne:
    """Record a note in a job.

    Raises
    ------
    InputError
        An empty note, no such job; nothing is recorded then.
    """
    with open_ledger(create=False) as ledger:
        return record_one(ledger, ledger.find_job(job), NoteEntry(text.strip()), in_place_of)
