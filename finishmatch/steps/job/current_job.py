"""The job in use: where the work at the bench is recorded, and what is left unsaid is taken from."""

from __future__ import annotations

import re
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from finishmatch.errors import InputError
from finishmatch.ledger import (
    JobView,
    bank_of_job,
    job_in_use,
    jobs_titled,
    ledger_exists,
    open_ledger,
    put_in_use,
    some_job_in_use,
)
from finishmatch.readings import read_bank
from finishmatch.steps.bank_kept import remember_mixed_from

NO_JOB = "none"  # said in place of a job: the one in use is left alone
_REF = re.compile(r"[jJ][0-9]+")


@dataclass(frozen=True)
class JobInUse:
    """The job in use and the folder of its bank; None each where there is none."""

    job: JobView | None
    bank: Path | None = None

    def as_dict(self) -> dict[str, Any]:
        """Return its JSON form."""
        return {
            "job": None if self.job is None else self.job.as_dict(),
            "bank": None if self.bank is None else str(self.bank),
        }


def use_job(job: str, bank: Path | None = None) -> JobInUse:
    """Put a job in use at this bay; it stays so until another is.

    Parameters
    ----------
    job : str
        A ref or an exact title.
    bank : Path or None
        The folder of the bank it is mixed from, to be remembered with the job; None leaves the one it has.

    Raises
    ------
    InputError
        No such job, or a bank that can't be read; the one in use stays in use then.
    """
    with open_ledger(create=False) as ledger:
        found = ledger.find_job(job)
        if bank is not None:
            remember_mixed_from(ledger, found, read_bank(bank), bank)
        put_in_use(found)
        kept = bank_of_job(ledger, found)
    return JobInUse(found, None if kept is None else kept[1])


def current_job() -> JobInUse:
    """Return the job in use at this bay, with its bank.

    Raises
    ------
    InputError
        A ledger that can't be used.
    """
    if not some_job_in_use() or not ledger_exists():
        return JobInUse(None)
    with open_ledger(create=False) as ledger:
        found = job_in_use(ledger.jobs())
        kept = None if found is None else bank_of_job(ledger, found)
    return JobInUse(found, None if kept is None else kept[1])


def job_meant(job: str | None) -> str | None:
    """Return the job that is worked in: the one that was named, or else the one in use, by its ref.

    Parameters
    ----------
    job : str or None
        A ref or an exact title, which is returned as it is; `NO_JOB` for none at all; None where nothing was said.

    Returns
    -------
    str or None
        None is no job: nothing is recorded.
    """
    if job is not None:
        return None if job.strip().casefold() == NO_JOB else job
    found = current_job().job
    return None if found is None else found.ref


def needed_job(job: str | None) -> str:
    """Return the job that is worked in, as `job_meant` does, where there has to be one.

    Raises
    ------
    InputError
        No job is named, and none is in use.
    """
    meant = job_meant(job)
    if meant is None:
        raise InputError(
            "job", "none is named, and none is in use", "name it, or put one in use: finishmatch job use JOB"
        )
    return meant


def names_a_job(text: str) -> bool:
    """Return whether a text is the ref of a job ("J1", whether there is one or not) or the title of one there is."""
    if _REF.fullmatch(text.strip()):
        return True
    if not ledger_exists():
        return False
    with open_ledger(create=False) as ledger:
        return bool(jobs_titled(text, ledger.jobs()))
