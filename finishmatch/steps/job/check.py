"""The whole record is looked at: is every entry, and every file that is kept, as it was written?"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from finishmatch.ledger import ledger_place, open_ledger, soundness_of


@dataclass(frozen=True)
class Checked:
    """How much of the record was looked at, and what is damaged.

    Parameters
    ----------
    ledger : str
        Its folder, or the address of the one that several bays share.
    jobs, entries, files : int
        How many there are.
    damaged : tuple of (job, entry, what)
        The ref of the job or "", the number of the entry or None, and what isn't as it was written.
    """

    ledger: str
    jobs: int
    entries: int
    files: int
    damaged: tuple[tuple[str, int | None, str], ...]

    @property
    def sound(self) -> bool:
        """Whether all is as it was written."""
        return not self.damaged

    def as_dict(self) -> dict[str, Any]:
        """Return the JSON object."""
        return {
            "sound": self.sound,
            "ledger": self.ledger,
            "jobs": self.jobs,
            "entries": self.entries,
            "files": self.files,
            "damaged": [{"job": job or None, "entry": entry, "what": what} for job, entry, what in self.damaged],
        }


def check() -> Checked:
    """Look at everything the ledger keeps: the database, the hash of every entry, the hash of every file.

    Raises
    ------
    InputError
        There is no ledger, or it is so damaged that it can't be opened.
    """
    with open_ledger(create=False) as ledger:
        found = soundness_of(ledger)
    damaged = tuple((one.job, one.entry, one.what) for one in found.damaged)
    return Checked(ledger_place(), found.jobs, found.entries, found.files, damaged)
