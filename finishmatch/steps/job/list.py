"""The jobs of the ledger."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from finishmatch.ledger import JobView, ledger_exists, open_ledger


@dataclass(frozen=True)
class JobListed:
    """A job, how many entries it has, and when the last one was made (UTC in ISO 8601; None where it has none)."""

    job: JobView
    entries: int
    last_entry_at: str | None

    def as_dict(self) -> dict[str, Any]:
        """Return its JSON form."""
        return {**self.job.as_dict(), "entries": self.entries, "last_entry_at": self.last_entry_at}


@dataclass(frozen=True)
class JobList:
    """All jobs, oldest first."""

    jobs: tuple[JobListed, ...]

    def as_dict(self) -> dict[str, Any]:
        """Return its JSON form."""
        return {"jobs": [job.as_dict() for job in self.jobs]}


def list_jobs() -> JobList:
    """Return the jobs of the ledger; none is made where there is none.

    Raises
    ------
    InputError
        A ledger that can't be used.
    """
    if not ledger_exists():
        return JobList(())
    with open_ledger(create=False) as ledger:
        jobs, activity = ledger.jobs(), ledger.activity()
    return JobList(tuple(JobListed(job, *activity.get(job.id, (0, None))) for job in jobs))
