"""A job with hundreds of entries, some replaced, some struck, as a shop leaves it after a year."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

from finishmatch.ledger import JobView, Ledger, NoteEntry, StrikeEntry, VerdictEntry
from tests.helpers.ledger_samples import NOTE, OUTSIDE, WITHIN, every_kind


def large_job(ledger: Ledger, entries: int = 500, source: Path | None = None) -> JobView:
    """Open a job and record so many entries in it."""
    job = ledger.new_job("Tarnbeck Six, all of it", vehicle="Tarnbeck Six", colour_name="Saltmarsh Blue")
    sources = () if source is None else (source,)
    each = len(every_kind()) + 3
    rounds = entries // each
    for number in range(1, rounds + 1):
        made = [_varied(entry, number) for entry in every_kind()]
        numbers = ledger.record_all(job, made, sources=sources if number == 1 else ())
        again = ledger.record(job, NoteEntry(f"round {number}, anew"), supersedes=numbers[-1], reason="typing")
        within = replace(WITHIN, trial=f"card {number}b", spray_out=numbers[4])
        ledger.record_all(job, [within, StrikeEntry(numbers[10] if number % 2 else again, "entered twice")])
    ledger.record_all(job, [NOTE] * (entries - rounds * each))
    return job


def _varied(entry: object, number: int) -> object:
    if isinstance(entry, VerdictEntry):
        return replace(OUTSIDE, trial=f"card {number}", de00=0.3 + number / 40, lights={"D65": 0.3 + number / 40})
    return entry
