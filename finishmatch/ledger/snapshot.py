"""A ledger as it stands at one moment, copied while others write in it."""

from __future__ import annotations

import sqlite3
from contextlib import closing
from pathlib import Path
from typing import Any

from finishmatch.ledger.book import Ledger
from finishmatch.ledger.entrance import open_ledger
from finishmatch.ledger.moving import copy_into
from finishmatch.ledger.plain_errors import plain_errors


def copy_as_it_stands(ledger: Ledger, target: Path) -> None:
    """Copy a ledger as it stands now into a file that isn't there yet; writers don't wait for it.

    Parameters
    ----------
    ledger : Ledger
        In a file or on a server.
    target : Path
        Named as a ledger is, in a folder of its own.

    Raises
    ------
    InputError
        A ledger that can't be read, a full disk.
    """
    if not isinstance(ledger.path, Path):
        with open_ledger(target.parent) as into:
            copy_into(ledger, into, quiet=False)
        return
    with ledger.reading() as session, plain_errors(target):
        raw: Any = session.connection().connection.driver_connection
        with closing(sqlite3.connect(target)) as into:
            raw.backup(into)
