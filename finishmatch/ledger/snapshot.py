"""A ledger as it stands at one moment, copied while others write in it."""

from __future__ import annotations

import sqlite3
from contextlib import closing
from pathlib import Path
from typing import Any

from finishmatch.ledger.book import Ledger
from finishmatch.ledger.opening import plain_errors


def copy_as_it_stands(ledger: Ledger, target: Path) -> None:
    """Copy a ledger as it stands now into a file that isn't there yet; writers don't wait for it.

    Raises
    ------
    InputError
        A ledger that can't be read, a full disk.
    """
    with ledger.reading() as session, plain_errors(target):
        raw: Any = session.connection().connection.driver_connection
        with closing(sqlite3.connect(target)) as into:
            raw.backup(into)
