"""The banks there are to mix from: those that jobs were mixed from, those that are named, and the bundled one."""

from __future__ import annotations

import os
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from finishmatch.errors import InputError
from finishmatch.ledger import bank_of_job, ledger_exists, open_ledger
from finishmatch.readings import read_bank
from finishmatch.readings.scenario import swatches_folder


@dataclass(frozen=True)
class KnownBank:
    """A bank: its name, its folder, its tints, and whether it is the bundled, invented one."""

    name: str
    folder: Path
    tints: tuple[str, ...]
    bundled: bool = False


def known_banks(named: Sequence[Path] = ()) -> tuple[KnownBank, ...]:
    """Return the banks there are to mix from, that of the job worked in last first; what can't be read is left out.

    Parameters
    ----------
    named : sequence of Path
        Folders of further banks.
    """
    folders = [*named]
    if ledger_exists():
        with open_ledger(create=False) as ledger:
            kept = (bank_of_job(ledger, job) for job in reversed(ledger.jobs()))
            folders += [folder for found in kept if found is not None for folder in found[1:]]
    bundled = swatches_folder() / "bank"
    known: dict[Path, KnownBank] = {}
    for folder in (*folders, bundled):
        place = Path(os.path.realpath(folder))
        if place in known:
            continue
        try:
            bank = read_bank(folder)
        except InputError:
            continue
        known[place] = KnownBank(bank.name, folder.absolute(), tuple(bank.tint_names), place == bundled.resolve())
    return tuple(known.values())


def bank_known(job: str) -> tuple[str, Path] | None:
    """Return name and folder of the bank a job was mixed from last, or None."""
    with open_ledger(create=False) as ledger:
        return bank_of_job(ledger, ledger.find_job(job))
