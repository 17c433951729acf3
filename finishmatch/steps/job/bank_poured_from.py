"""Which bank a job's tin is poured from, where that still serves."""

from __future__ import annotations

from pathlib import Path

from finishmatch.errors import InputError
from finishmatch.ledger import JobView, Ledger, bank_of_job
from finishmatch.optics import Bank
from finishmatch.readings import read_bank


def bank_poured_from(
    ledger: Ledger, job: JobView, named: str | Path | None
) -> tuple[Bank | None, Path | None, tuple[str, ...]]:
    """Return the bank that was named, which has to serve, or the one the job was mixed from, where it still does.

    Beside it stand its folder, and what is to be said where there is none.

    Raises
    ------
    InputError
        The bank that was named can't be read.
    """
    if named is not None:
        return read_bank(Path(named)), Path(named).absolute(), ()
    remembered = bank_of_job(ledger, job)
    if remembered is None:
        return None, None, ()
    name, folder = remembered
    try:
        bank = read_bank(folder)
    except InputError as error:
        return None, None, (f"the bank of the job can't be used: {error.where} {error.what}",)
    if bank.name == name:
        return bank, folder, ()
    return None, None, (f"{folder} holds {bank.name} now, not {name}: name the bank with `bank`",)
