"""The banks there are to mix from: those that jobs were mixed from, those that are named, and the bundled one."""

from __future__ import annotations

import os
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from finishmatch.errors import InputError
from finishmatch.ledger import bank_of_job, ledger_exists, open_ledger
from finishmatch.ledger.home import ledger_home
from finishmatch.readings import read_bank
from finishmatch.readings.bank_folder import FILES
from finishmatch.readings.scenario import swatches_folder

FOLDER = "banks"  # beside the ledger: of the banks that were begun on a face


@dataclass(frozen=True)
class KnownBank:
    """A bank: its name, its folder, its tints, and whether it is the bundled, invented one."""

    name: str
    folder: Path
    tints: tuple[str, ...]
    bundled: bool = False


def known_banks(named: Sequence[Path] = ()) -> tuple[KnownBank, ...]:
    """Return the banks there are to mix from, what can't be read left out.

    Those that are named come first, then those of the jobs, the one worked in last in front, then those that lie beside
    the ledger, and the bundled one.

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
    folders += made_banks()
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


def made_banks() -> tuple[Path, ...]:
    """Return the folders of the banks that lie beside the ledger, begun ones too, the newest first."""
    try:
        found = [one for one in (ledger_home() / FOLDER).iterdir() if (one / "bank.toml").is_file()]
        return tuple(sorted(found, key=lambda one: ((one / "bank.toml").stat().st_mtime_ns, one.name), reverse=True))
    except OSError:
        return ()


def state_of_bank(folder: Path) -> tuple[object, ...]:
    """Return what changes with the files of a bank: when each was changed last, and its bytes."""
    found = list[object]()
    for name in FILES:
        try:
            status = os.stat(folder / name)
            found.append((name, status.st_mtime_ns, status.st_size, status.st_ino))
        except OSError:
            found.append((name, None))
    return tuple(found)


def state_of_banks(named: Sequence[Path] = ()) -> tuple[object, ...]:
    """Return what changes with the files of the banks that are named, and of those that lie beside the ledger."""
    return tuple((str(folder), state_of_bank(folder)) for folder in (*named, *made_banks()))


def bank_known(job: str) -> tuple[str, Path] | None:
    """Return name and folder of the bank a job was mixed from last, or None."""
    with open_ledger(create=False) as ledger:
        return bank_of_job(ledger, ledger.find_job(job))
