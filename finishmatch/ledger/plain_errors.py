"""What is said of a ledger that can't be read or written, in place of what the database says."""

from __future__ import annotations

import shutil
import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from sqlalchemy.exc import DBAPIError, SQLAlchemyError

from finishmatch.errors import InputError
from finishmatch.ledger.server_errors import of_server

BUSY = (sqlite3.SQLITE_BUSY, sqlite3.SQLITE_LOCKED, 15)  # 15: the lock of the log, when many open it at once
_LEAST_ROOM = 1 << 16  # bytes; the index of the write-ahead log takes half of that
PUT_BACK = "put back a backup (finishmatch restore FILE)"
ELSEWHERE = "set FINISHMATCH_HOME to a folder you may write in"
OR_THE_RIGHT = f"{ELSEWHERE}, or give yourself the right to write in this one, where the record is"


@contextmanager
def plain_errors(path: Path | str, secret: str = "") -> Iterator[None]:
    """Turn what the database says into one line a painter can act on, in which no secret stands."""
    try:
        yield
    except (DBAPIError, sqlite3.Error) as error:
        said = error.orig if isinstance(error, DBAPIError) else error
        if said is None or isinstance(said, sqlite3.Error):
            plain = _in_plain_words(path, said)
        else:
            plain = of_server(str(path), said, secret)
        if plain is None:
            raise
        raise plain from error
    except UnicodeDecodeError as error:  # a message or a name of the database itself that is no text any more
        raise damaged(path) from error


@contextmanager
def readable(path: Path | str) -> Iterator[None]:
    """Turn what goes wrong when kept rows are made into entries into one line: they were sound when they were kept."""
    try:
        yield
    except DBAPIError:
        raise
    except (LookupError, TypeError, ValueError, AttributeError, AssertionError, SQLAlchemyError) as error:
        raise damaged(path) from error


def _in_plain_words(path: Path | str, error: BaseException | None) -> InputError | None:
    code = getattr(error, "sqlite_errorcode", None)
    primary = None if code is None else code & 0xFF
    where = str(path)
    if primary in (sqlite3.SQLITE_READONLY, sqlite3.SQLITE_PERM, sqlite3.SQLITE_CANTOPEN, sqlite3.SQLITE_AUTH):
        return not_writable(path)
    if primary in BUSY:
        return InputError(where, "the ledger is busy: another program is writing in it", "try again in a moment")
    if primary == sqlite3.SQLITE_FULL or (primary == sqlite3.SQLITE_IOERR and _no_room(path)):
        return InputError(where, "the disk is full", "make room and do it again; nothing was recorded")
    if primary == sqlite3.SQLITE_NOTADB:
        return not_a_database(path)
    if primary == sqlite3.SQLITE_IOERR:
        return InputError(where, "the disk gave an error", "check the disk, then do it again")
    lost = primary == sqlite3.SQLITE_ERROR  # what is asked never changes: a table or a column of it is garbled
    garbled = code is None and str(error).startswith("Could not decode")
    if primary == sqlite3.SQLITE_CORRUPT or lost or garbled:
        return damaged(path, str(error))
    return None


def _no_room(path: Path | str) -> bool:
    """Return whether the disk has no room for what a ledger is opened with: SQLite calls that an error of the disk."""
    try:
        return shutil.disk_usage(Path(path).parent).free < _LEAST_ROOM
    except OSError:
        return False


def damaged(path: Path | str, how: str = "an entry can't be read") -> InputError:
    """Return what is said of a ledger in which something isn't as it was written."""
    mend = f"{PUT_BACK}; keep the damaged file until you have what you need from it"
    return InputError(str(path), f"the ledger is damaged ({how})", mend)


def not_writable(path: Path | str) -> InputError:
    """Return what is said when something is to be recorded in a ledger that can only be read."""
    return InputError(str(path), "the ledger or its folder can't be written in", OR_THE_RIGHT)


def not_a_database(path: Path | str) -> InputError:
    """Return what is said of a file that is no SQLite database."""
    return InputError(
        str(path),
        "is not a ledger: it isn't a SQLite database, or it is damaged",
        f"{PUT_BACK}, move it away, or set FINISHMATCH_HOME",
    )
