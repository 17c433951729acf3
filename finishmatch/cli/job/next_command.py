"""The command line that closes what is open in a job."""

from __future__ import annotations

from typing import Any

from finishmatch.ledger import JobView, OpenItem

_COMMANDS = {  # by what is needed; capitals stand for what only the painter knows
    "recipe": "finishmatch mix TARGET --bank BANK --grams G --job {job}",
    "batch": "finishmatch job pour {job} BATCH.csv",
    "spray-out": "finishmatch job spray {job} READINGS.csv",
    "verdict": "finishmatch compare TARGET SPRAYED --job {job}",
    "correction": "finishmatch correct TARGET --bank BANK --batch BATCH.csv --sprayed SPRAYED --job {job}",
    "decision": "finishmatch defect advise --job {job}",
    "outcome": "finishmatch job outcome {job} TEXT --decision {number}",
}


def next_command(job: JobView, item: OpenItem) -> str:
    """Return the command line that closes an open item of a job."""
    return _COMMANDS[item.needs].format(job=job.ref, number=item.number)


def open_document(job: JobView, item: OpenItem) -> dict[str, Any]:
    """Return the JSON form of an open item, with the command that closes it."""
    return {**item.as_dict(), "next": next_command(job, item)}
