"""What was uploaded or typed and waits for a second look before it is recorded: found again by a name of our own."""

from __future__ import annotations

import csv
import secrets
from collections.abc import Iterable, Mapping, Sequence
from pathlib import Path

from finishmatch.bench.uploads import clear_old
from finishmatch.errors import InputError
from finishmatch.readings.guarded_cells import guarded

TABLES = (".csv", ".tsv", ".txt", ".xlsx")
READINGS = (*TABLES, ".cxf", ".xml", ".it8", ".cgats")


def kept_table(name: str, columns: Sequence[str], rows: Iterable[Mapping[str, object]], folder: Path) -> Path:
    """Keep what was typed as a table that a step reads.

    Parameters
    ----------
    name : str
        Of the file, without its end.
    columns : sequence of str
    rows : iterable of mapping
        Each has a value for every column.
    folder : Path
        Where uploads are kept.
    """
    clear_old(folder)
    own = folder / secrets.token_hex(16)
    own.mkdir(mode=0o700, parents=True)
    path = own / f"{name}.csv"
    with path.open("x", encoding="utf-8", newline="") as file:
        table = csv.DictWriter(file, columns, lineterminator="\n")
        table.writeheader()
        table.writerows({column: guarded(str(value)) for column, value in row.items()} for row in rows)
    return path


def name_of(path: Path) -> str:
    """Return by which name something kept is found again."""
    return path.parent.name


def found_again(name: str, folder: Path) -> Path:
    """Return what was kept under a name.

    Raises
    ------
    InputError
        It was cleared away meanwhile.
    """
    own = folder / name
    files = list(own.iterdir()) if len(name) == 32 and name.isalnum() and own.is_dir() else []
    if len(files) != 1:
        raise InputError("what was entered", "isn't kept any more", "enter it again")
    return files[0]
