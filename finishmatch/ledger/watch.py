"""Whether anything was recorded since one last looked: asked of the database at next to no cost."""

from __future__ import annotations

import os
import sqlite3
from contextlib import suppress
from pathlib import Path
from threading import Lock

from finishmatch.ledger.home import ledger_path, ledger_url
from finishmatch.ledger.server import ServerWatch

State = tuple[object, ...]


class LedgerWatch:
    """Tells apart the states of a ledger, without reading an entry of it.

    Parameters
    ----------
    home : Path or None
        Its folder; `ledger_home()` when None.

    Notes
    -----
    SQLite counts for each connection the commits of all others (``PRAGMA data_version``), so that one that never
    writes sees every change. A ledger that was put in another's place is another file. Which job is in use stands
    beside the ledger.
    """

    def __init__(self, home: Path | None = None) -> None:
        self._path = ledger_path(home)
        address = ledger_url()
        self._server = ServerWatch(address) if address else None
        self._lock = Lock()
        self._connection: sqlite3.Connection | None = None
        self._file: State = ()

    def state(self) -> State:
        """Return what is equal as long as nothing was recorded, and no other job was put in use."""
        beside = tuple(sorted((file.name, file.stat().st_mtime_ns) for file in self._path.parent.glob("in-use*.txt")))
        with self._lock:
            if self._server is not None:
                return (*self._server.state(), beside)
            try:
                found = os.stat(self._path)
            except OSError:
                self._close()
                return ("none", beside)
            file: State = (found.st_dev, found.st_ino)
            if file != self._file:
                self._close()
            return (file, self._version(), beside)

    def close(self) -> None:
        """Let go of the ledger."""
        with self._lock:
            self._close()

    def _version(self) -> object:
        try:
            if self._connection is None:
                where = f"{self._path.as_uri()}?mode=ro"
                self._connection = sqlite3.connect(where, uri=True, check_same_thread=False)
                found = os.stat(self._path)
                self._file = (found.st_dev, found.st_ino)
            return self._connection.execute("PRAGMA data_version").fetchone()[0]
        except sqlite3.Error:  # it can't be opened so: its files tell nearly as well
            self._close()
            return tuple(_mtime(self._path.with_name(self._path.name + end)) for end in ("", "-wal"))

    def _close(self) -> None:
        if self._server is not None:
            self._server.close()
        if self._connection is not None:
            with suppress(sqlite3.Error):
                self._connection.close()
        self._connection, self._file = None, ()


def _mtime(file: Path) -> int:
    try:
        return file.stat().st_mtime_ns
    except OSError:
        return 0
