"""A job is opened; the ledger is made where there is none yet."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Any

from finishmatch.ledger import JobView, job_title, open_ledger


@dataclass(frozen=True)
class Opened:
    """A job that was opened, and the file of the ledger that holds it."""

    job: JobView
    ledger: Path

    def as_dict(self) -> dict[str, Any]:
        """Return its JSON form."""
        return {"job": self.job.as_dict()}


def open_job(title: str, *, vehicle: str = "", colour: str = "", note: str = "") -> Opened:
    """Open a job.

    Parameters
    ----------
    title : str
        Titles may repeat; the ref never does.
    vehicle, colour, note : str
        Marque, model, body and year; the period name of the colour; anything else.

    Raises
    ------
    InputError
        A title that won't do, or a ledger that can't be used; no ledger is made then.
    """
    job_title(title)  # a title that won't do is refused before a ledger is made for it
    with open_ledger() as ledger:
        return Opened(ledger.new_job(title, vehicle=vehicle, colour_name=colour, note=note), ledger.path)
