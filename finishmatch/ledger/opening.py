"""Opening the ledger's file: is it ours, is it whole, is it of a form we know."""

from __future__ import annotations

import json
import sqlite3
import time
from functools import lru_cache
from pathlib import Path
from typing import Any

from sqlalchemy import URL, Connection, Engine, create_engine, event
from sqlalchemy.orm import Session

from finishmatch.errors import InputError
from finishmatch.ledger.head_of_file import head_of
from finishmatch.ledger.home import NOT_LET_IN
from finishmatch.ledger.plain_errors import BUSY, PUT_BACK, damaged, not_a_database, readable

APPLICATION_ID = 0x464D4C47  # "FMLG", in the header of the file, so that it is known as ours
REVISION = "0023"  # the form this program writes; the newest step in migrations/versions
BUSY_SECONDS = 60  # for what can't be tried again: opening, and reading
WAIT_SECONDS = 300  # a writer waits its turn
_POLL_SECONDS = 0.003
_MAGIC = b"SQLite format 3\0"


def check_file(path: Path) -> None:
    """See from outside that a file can be a ledger, before a database library touches it.

    Raises
    ------
    InputError
        A home that is a file; a ledger that is a folder, can't be read, isn't a SQLite database or isn't ours.
    """
    if path.parent.exists() and not path.parent.is_dir():
        raise InputError(str(path.parent), "is a file, not a folder", "set FINISHMATCH_HOME to a folder")
    if path.is_dir():
        raise InputError(str(path), "is a folder, and the ledger is a file", "move it away, or set FINISHMATCH_HOME")
    if path.is_symlink() and not path.exists():
        raise InputError(str(path), "is a link to a file that isn't there", "bring back what it leads to")
    if path.exists() and not path.is_file():
        raise InputError(str(path), "is a device or a pipe, not a ledger", "move it away, or set FINISHMATCH_HOME")
    try:
        head = head_of(path, 100)
    except (FileNotFoundError, NotADirectoryError):
        return  # there is none yet; where none can be made, that is said when it is tried
    except OSError as error:
        raise InputError(str(path), f"the ledger can't be read ({error.strerror})", NOT_LET_IN) from error
    if not head:
        log = path.with_name(path.name + "-wal")
        beside = f", and a log of it lies beside it ({log.name})" if log.exists() and log.stat().st_size else ""
        mend = f"{PUT_BACK}; or move all of these files away, and a new ledger is begun"
        raise InputError(str(path), f"is empty{beside}: what was in the ledger is lost, or was never written", mend)
    if not head.startswith(_MAGIC) or len(head) < 100:
        raise not_a_database(path)
    if int.from_bytes(head[68:72], "big") not in (0, APPLICATION_ID):  # 0: perhaps still in the write-ahead log
        raise _not_ours(path)


def _not_ours(path: Path) -> InputError:
    return InputError(
        str(path), "is a SQLite database of another program, not a ledger", "move it away, or set FINISHMATCH_HOME"
    )


@lru_cache(maxsize=4)
def connect(path: Path) -> Engine:
    """Return the engine on a ledger's file, the same one each time; nothing is read or written yet.

    One command opens the ledger several times. What the engine has worked out of its statements is kept between
    them; its connections are not: whoever is done with it disposes of them.

    A connection with the execution option ``immediate`` takes the write lock when its transaction begins: a
    transaction that read first and wants to write later would be refused, not made to wait, when another bay wrote
    in between.
    """
    return _engine(str(path))


def connect_in_memory() -> Engine:
    """Return an engine on an empty database in memory."""
    return _engine(None)


def _engine(database: str | None) -> Engine:
    engine = create_engine(
        URL.create("sqlite", database=database),
        connect_args={"timeout": BUSY_SECONDS},
        json_serializer=lambda value: json.dumps(value, allow_nan=False, ensure_ascii=False),
    )

    @event.listens_for(engine, "connect")
    def _set_up(raw: Any, _record: Any) -> None:
        raw.isolation_level = None  # transactions begin where _begin says, and hold table changes too
        raw.execute("PRAGMA foreign_keys = ON")
        raw.execute("PRAGMA synchronous = FULL")

    @event.listens_for(engine, "begin")
    def _begin(connection: Connection) -> None:
        immediate = connection.get_execution_options().get("immediate", False)
        if immediate:
            _take_turn(connection)
        else:
            connection.exec_driver_sql("BEGIN")

    return engine


def _take_turn(connection: Connection) -> None:
    """Begin to write when nobody else does.

    All who wait try equally often. The database's own waiting tries the less often the longer one waits, so that under
    many writers somebody may never come to write.
    """
    raw: Any = connection.connection.driver_connection
    until = time.monotonic() + WAIT_SECONDS
    raw.execute("PRAGMA busy_timeout = 0")
    try:
        while True:
            try:
                raw.execute("BEGIN IMMEDIATE")
                return
            except sqlite3.OperationalError as error:
                if error.sqlite_errorcode & 0xFF not in BUSY or time.monotonic() > until:
                    raise
            time.sleep(_POLL_SECONDS)
    finally:
        raw.execute(f"PRAGMA busy_timeout = {BUSY_SECONDS * 1000}")


def revision_of(connection: Connection, path: Path) -> str | None:
    """Return the form a ledger is in, or None when the file is empty.

    Raises
    ------
    InputError
        When the database isn't ours, or has lost its mark of form.
    """
    tables = set(connection.exec_driver_sql("SELECT name FROM sqlite_master WHERE type = 'table'").scalars())
    mark = connection.exec_driver_sql("PRAGMA application_id").scalar_one()
    if mark != APPLICATION_ID and (tables or mark):
        raise _not_ours(path)
    if not tables:
        return None
    marks = []
    if "alembic_version" in tables:
        marks = list(connection.exec_driver_sql("SELECT version_num FROM alembic_version").scalars())
    if len(marks) != 1:
        raise damaged(path, "its mark of form is missing")
    return str(marks[0])


def bring_up_to_date(engine: Engine, path: Path) -> None:
    """See that a ledger is ours and in the form of this program, applying the steps it lacks in one transaction.

    Raises
    ------
    InputError
        A database that isn't ours, a damaged one, one newer than the program, or one that can't be written.
    """
    with engine.connect() as connection:
        current = revision_of(connection, path) == REVISION
        written_ahead = connection.exec_driver_sql("PRAGMA journal_mode").scalar_one() != "delete"
    if current and written_ahead:
        return
    if not current:
        with engine.connect().execution_options(immediate=True) as connection, connection.begin():
            # looked at again under the lock: another bay may have done it meanwhile
            if (revision := revision_of(connection, path)) != REVISION:
                _migrate(connection, path, revision)
    with engine.connect() as connection:
        raw: Any = connection.connection.driver_connection
        if raw.execute("PRAGMA journal_mode").fetchone()[0] == "delete":
            _allow_two_bays(raw)


def _migrate(connection: Connection, path: Path, revision: str | None) -> None:
    apply_missing(connection, path, revision)
    connection.exec_driver_sql(f"PRAGMA application_id = {APPLICATION_ID}")


def apply_missing(connection: Connection, path: Path | str, revision: str | None) -> None:
    """Apply the steps from a form to that of this program, in the transaction that is open; None is an empty one.

    Raises
    ------
    InputError
        A form that this program doesn't know.
    """
    # only a new ledger, or one of an earlier form, needs Alembic, which takes longer to import than all else here
    from finishmatch.ledger.migrating import apply_steps, link_what_was_unlinked

    apply_steps(connection, path, revision, REVISION)
    if revision is not None:
        with Session(connection) as session, readable(path):
            link_what_was_unlinked(session, revision)
            session.flush()


def _allow_two_bays(raw: Any) -> None:
    """Write ahead: one bay may read while another writes. The mode stays with the file."""
    try:
        raw.execute("PRAGMA journal_mode = WAL")
    except sqlite3.OperationalError as error:
        # another bay is in it just now: the ledger is right without, and the next opening tries again
        if error.sqlite_errorcode & 0xFF not in (sqlite3.SQLITE_BUSY, sqlite3.SQLITE_LOCKED):
            raise
