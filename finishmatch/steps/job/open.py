"""A job is opened; the ledger is made where there is none yet."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Any

from finishmatch.errors import InputError
from finishmatch.ledger import JobView, Ledger, job_title, jobs_titled, open_ledger


@dataclass(frozen=True)
class Opened:
    """A job that was opened, and where the ledger that holds it is."""

    job: JobView
    ledger: Path | str

    def as_dict(self) -> dict[str, Any]:
        """Return its JSON form."""
        return {"job": self.job.as_dict()}


def open_job(title: str, *, vehicle: str = "", colour: str = "", note: str = "", another: bool = False) -> Opened:
    """Open a job.

    Parameters
    ----------
    title : str
    vehicle, colour, note : str
        Marque, model, body and year; the period name of the colour; anything else.
    another : bool
        Another job of a title that a job has already; without it such a title is questioned.

    Raises
    ------
    InputError
        A title that won't do or that a job has already, or a ledger that can't be used; no ledger is made then.
    """
    job_title(title)  # a title that won't do is refused before a ledger is made for it
    with open_ledger() as ledger:
        if not another:
            _question(ledger, title)
        return Opened(ledger.new_job(title, vehicle=vehicle, colour_name=colour, note=note), ledger.path)


def _question(ledger: Ledger, title: str) -> None:
    """Raise `InputError` where a job has this title already."""
    alike = jobs_titled(title, ledger.jobs())
    if not alike:
        return
    last = alike[-1]
    entries, _ = ledger.activity().get(last.id, (0, ""))
    kept = f"{entries} entries" if entries != 1 else "1 entry"
    raise InputError(
        f"job '{last.title[:60]}'",
        f"{last.ref} has this title already (opened {last.made_at[:10]}, {kept})",
        f"go on with it: finishmatch job use {last.ref}; or, if this is another job, open it with `another`",
    )
