"""Which job is in use at a bench: kept beside the ledger, since it says where one works, and nothing about a job."""

from __future__ import annotations

import os
from collections.abc import Sequence
from pathlib import Path

from finishmatch.errors import InputError
from finishmatch.files import read_file, write_file
from finishmatch.ledger.home import ledger_home
from finishmatch.ledger.views import JobView

FILE = "in-use"
MAX_BYTES = 10_000
BAY = "FINISHMATCH_BAY"  # names the bay, where several share one ledger and each has a job of its own in use


def put_in_use(job: JobView, home: Path | None = None) -> None:
    """Remember that a job is the one in use at this bay.

    Raises
    ------
    InputError
        A home that can't be written in.
    """
    write_file(
        _file(home),
        f"{job.ref} {job.made_at}\n",
        private=True,
        make_folder=True,
        mend="set FINISHMATCH_HOME to a folder you may write in",
    )


def job_in_use(jobs: Sequence[JobView], home: Path | None = None) -> JobView | None:
    """Return the one of the jobs that is in use at this bay, or None.

    A job is known again by its ref and by when it was opened: the ledger may have been put in another's place.
    """
    kept = _kept(home)
    return next((job for job in jobs if f"{job.ref} {job.made_at}" == kept), None)


def some_job_in_use(home: Path | None = None) -> bool:
    """Return whether a job was put in use at this bay, without opening the ledger."""
    return bool(_kept(home))


def _kept(home: Path | None) -> str:
    if not os.path.lexists(_file(home)):
        return ""
    try:
        return read_file(_file(home), MAX_BYTES).decode("utf-8").strip()
    except ValueError as error:
        raise InputError(
            str(_file(home)), "can't be read", "put a job in use again: finishmatch job use JOB"
        ) from error


def _file(home: Path | None) -> Path:
    bay = "".join(letter if letter.isalnum() else "-" for letter in os.environ.get(BAY, "").strip().casefold())[:60]
    return (ledger_home() if home is None else Path(home)) / (f"{FILE}-{bay}.txt" if bay else f"{FILE}.txt")
