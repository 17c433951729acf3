"""The record moves: out of a file onto a server that several bays share, or back, and is equal there."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from finishmatch.errors import InputError
from finishmatch.ledger import copy_into, damage_of_file, open_place, soundness_of

_COUNTED = {"job": "jobs", "entry": "entries", "entry_link": "hashes", "stock_count": "stock_counts"}


@dataclass(frozen=True)
class Moved:
    """A record that was copied: where from and to, how many rows of each table, and the hash over each.

    `tables` has the rows and the SHA-256 of each table, equal in both.
    """

    source: str
    target: str
    files: int
    tables: dict[str, tuple[int, str]]

    def rows(self, table: str) -> int:
        """Return how many rows of a table there are."""
        return self.tables[table][0]

    def as_dict(self) -> dict[str, Any]:
        """Return the JSON object."""
        return {
            "from": self.source,
            "to": self.target,
            **{name: self.rows(table) for table, name in _COUNTED.items()},
            "files": self.files,
            "tables": {name: {"rows": rows, "sha256": sha256} for name, (rows, sha256) in self.tables.items()},
        }


def move_record(source: str, target: str) -> Moved:
    """Copy a record to another place, and see that it is equal there, and sound.

    Parameters
    ----------
    source, target : str
        The folder of a ledger, its file, or the address of a database of PostgreSQL.

    Raises
    ------
    InputError
        No ledger at the source, or a damaged one; a record at the target already; nothing is kept there then.
    """
    with open_place(source, create=False) as given:
        if not given.jobs():
            raise InputError(str(given.path), "holds no job: there is nothing to move", "name the folder of a record")
        found = soundness_of(given)
        if found.damaged:
            what = f"is damaged ({found.damaged[0].what})"
            raise InputError(str(given.path), what, "put back a backup first (finishmatch restore FILE)")
        with open_place(target) as taken:
            sums = copy_into(given, taken)
            # every row is equal to one of a sound record: what is left to look at is the file
            if damage_of_file(taken):
                what = "is not sound after it was copied"
                raise InputError(str(taken.path), what, "don't use it; the record is where it was")
            return Moved(
                str(given.path), str(taken.path), found.files, {n: (one.rows, one.sha256) for n, one in sums.items()}
            )
