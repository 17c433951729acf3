"""The whole record in one file, while others go on writing in it."""

from __future__ import annotations

import tempfile
from dataclasses import dataclass
from pathlib import Path
from typing import IO, Any

from finishmatch.errors import InputError
from finishmatch.files import write_file
from finishmatch.ledger import copy_as_it_stands, ledger_home, ledger_place, ledger_url, open_ledger, soundness_of
from finishmatch.ledger.restoring import LEDGER, beside
from finishmatch.steps.backup.backup_file import BackupList, is_backup, pack


@dataclass(frozen=True)
class BackedUp:
    """A backup that was written: the file, its bytes, and what is in it."""

    file: str
    size: int
    listed: BackupList

    def as_dict(self) -> dict[str, Any]:
        """Return the JSON object."""
        return {
            "file": self.file,
            "made_at": self.listed.made_at,
            "jobs": self.listed.jobs,
            "entries": self.listed.entries,
            "beside": list(self.listed.beside),
            "bytes": self.size,
        }


def back_up(file: Path, *, replace: bool = False, home: Path | None = None) -> BackedUp:
    """Write the record as it stands at one moment, with all that belongs to it, into one file.

    Parameters
    ----------
    file : Path
        In a folder that is there, the backup gets a name by the time.
    replace : bool
        Write over a file that is no backup.
    home : Path, optional
        The folder of the ledger; when left out `ledger_home()`, with the ledger that several bays share.

    Raises
    ------
    InputError
        No record, a damaged one, a file that is there and is no backup, or one that can't be written. What stood there
        stays then.
    """
    shared = home is None and bool(ledger_url())
    home = ledger_home() if home is None else home
    _see_free(file, replace)
    with tempfile.TemporaryDirectory(prefix="finishmatch-") as folder:
        kept = Path(folder) / LEDGER
        with open_ledger(None if shared else home, create=False) as ledger:
            made_at = ledger.stamp()
            copy_as_it_stands(ledger, kept)
        with open_ledger(kept.parent, create=False) as ledger:
            found = soundness_of(ledger)
        if found.damaged:
            first = found.damaged[0]
            place = f"{first.job} #{first.entry} " if first.entry is not None else ""
            what = f"is damaged ({place}{first.what}), and a damaged record is no backup"
            raise InputError(ledger_place() if shared else str(home), what, "see all of it with: finishmatch job check")
        target = file / f"finishmatch-{made_at[:10]}-{made_at[11:19].replace(':', '')}.zip" if file.is_dir() else file
        _see_free(target, replace)
        paths = {LEDGER: kept, **beside(home)}
        written: list[BackupList] = []

        def fill(out: IO[bytes]) -> None:
            written.append(pack(out, paths, made_at, (found.jobs, found.entries)))

        write_file(target, fill, private=True)
    return BackedUp(str(target), target.stat().st_size, written[0])


def _see_free(file: Path, replace: bool) -> None:
    if file.is_file() and not replace and not is_backup(file):
        raise InputError(str(file), "is there already, and is no backup", "name another file, or give `replace`")
