"""A backup takes the place of the record: after all of it was verified, and the record that stood there is kept."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from finishmatch.errors import InputError
from finishmatch.ledger import ledger_home, ledger_place, ledger_url, open_ledger, soundness_of
from finishmatch.ledger.on_disk import make_home
from finishmatch.ledger.restoring import LEDGER, beside, close_to_writing, put_in_place, restoring
from finishmatch.steps.backup.back_up import back_up
from finishmatch.steps.backup.backup_file import BackupList, opened_backup

_ANOTHER = "take another backup; nothing was replaced"


@dataclass(frozen=True)
class PutBack:
    """A backup that was put back.

    Parameters
    ----------
    file : str
    home : str
        The folder it is in now.
    listed : BackupList
        What was in it.
    kept : str or None
        Where the record is that stood there; None where there was none.
    kept_damaged : bool
        Whether that one couldn't be read: its files are then kept as they are.
    """

    file: str
    home: str
    listed: BackupList
    kept: str | None
    kept_damaged: bool

    def as_dict(self) -> dict[str, Any]:
        """Return the JSON object."""
        return {
            "file": self.file,
            "home": self.home,
            "made_at": self.listed.made_at,
            "jobs": self.listed.jobs,
            "entries": self.listed.entries,
            "beside": list(self.listed.beside),
            "kept": self.kept,
            "kept_damaged": self.kept_damaged,
        }


def put_back(file: Path, *, home: Path | None = None) -> PutBack:
    """Put a backup in the place of the record.

    Parameters
    ----------
    file : Path
    home : Path, optional
        The folder of the ledger; `ledger_home()` when left out.

    Raises
    ------
    InputError
        No backup, a damaged or a newer one, a home that can't be written in, or in which somebody records. The record
        is then as it was.
    """
    if home is None and ledger_url():
        mend = "unset FINISHMATCH_LEDGER and restore, then: finishmatch ledger move FOLDER ADDRESS (an empty database)"
        raise InputError(ledger_place(), "is shared by several bays: a backup isn't put in its place", mend)
    home = ledger_home() if home is None else home
    with opened_backup(file) as backup:
        make_home(home)
        with _plain(home), restoring(home) as new:
            backup.unpack(new)
            _verify(new, backup.listed, str(file))
            close_to_writing(home)
            kept, damaged = _keep(home)
            put_in_place(home)
        return PutBack(str(file), str(home), backup.listed, kept, damaged)


@contextmanager
def _plain(home: Path) -> Iterator[None]:
    try:
        yield
    except OSError as error:
        what = f"can't be written in ({error.strerror or error})"
        raise InputError(str(error.filename or home), what, "set FINISHMATCH_HOME, or check the folder") from None


def _verify(new: Path, listed: BackupList, where: str) -> None:
    """See that a record that was unpacked opens, by the steps up to the present form, and is sound."""
    try:
        with open_ledger(new, create=False) as ledger:
            found = soundness_of(ledger)
    except InputError as error:
        raise InputError(where, f"the ledger in it can't be used: {error.what}", error.mend) from None
    if found.damaged:
        raise InputError(where, f"the ledger in it is damaged: {found.damaged[0].what}", _ANOTHER)
    if (found.jobs, found.entries) != (listed.jobs, listed.entries):
        what = f"holds {found.jobs} jobs and {found.entries} entries, and says {listed.jobs} and {listed.entries}"
        raise InputError(where, what, _ANOTHER)


def _keep(home: Path) -> tuple[str | None, bool]:
    """Keep the record that stands in a home: as a backup, or where it can't be read as the files it is."""
    if not (home / LEDGER).exists() and not beside(home):
        return None, False
    name = f"before-{datetime.now(UTC):%Y-%m-%d-%H%M%S}"
    number = 1
    while (home / f"{name}.zip").exists() or (home / name).exists():
        number += 1
        name = f"{name.partition('_')[0]}_{number}"
    try:
        return back_up(home / f"{name}.zip", home=home).file, False
    except InputError:
        folder = home / name
        folder.mkdir(mode=0o700)
        logs = {path.name: path for path in home.glob(f"{LEDGER}*") if path.is_file()}
        for kept, path in (logs | beside(home)).items():
            (folder / kept).parent.mkdir(mode=0o700, parents=True, exist_ok=True)
            shutil.copyfile(path, folder / kept)
            (folder / kept).chmod(0o600)
        return str(folder), (home / LEDGER).exists()
