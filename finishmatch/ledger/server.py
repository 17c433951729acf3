"""A ledger on a database server that several bays share (PostgreSQL): its address, its transactions, its guards.

Writers take one lock of the ledger when their transaction begins, as they do in a file, so that each sees all that was
recorded before it and the chain of a job never forks; they queue for it in the order they came. Readers see one moment.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator, Sequence
from contextlib import ExitStack, contextmanager
from functools import lru_cache
from typing import Any

from sqlalchemy import URL, Column, Connection, Engine, Integer, create_engine, event, make_url
from sqlalchemy.exc import ArgumentError, DBAPIError

from finishmatch.errors import InputError
from finishmatch.ledger.home import LEDGER_URL
from finishmatch.ledger.opening import REVISION, apply_missing
from finishmatch.ledger.plain_errors import damaged, plain_errors
from finishmatch.ledger.rows import Base

LOCK = 0x464D4C47  # of the advisory locks of a database, the one that writers of a ledger hold
WAIT_SECONDS = 300
CONNECT_SECONDS = 15
MARK = "the ledger of finishmatch"
DRIVER = "postgresql+psycopg"
_GUARD = """
CREATE OR REPLACE FUNCTION keep_every_row() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
    RAISE EXCEPTION 'the ledger is never edited in place: % keeps every row', TG_TABLE_NAME;
END $$"""


def server_url(text: str) -> URL:
    """Return the address of a ledger on a server.

    Raises
    ------
    InputError
        No address of PostgreSQL; its text isn't repeated, since it may hold a password.
    """
    mend = f"write it as postgresql://USER@HOST/DATABASE ({LEDGER_URL})"
    try:
        url = make_url(text)
    except (ArgumentError, ValueError):
        raise InputError("the ledger's address", "can't be understood", mend) from None
    if url.drivername not in ("postgresql", "postgres", DRIVER):
        raise InputError("the ledger's address", f"begins with {url.drivername[:20]}://, which isn't known", mend)
    if not url.database:
        raise InputError("the ledger's address", "names no database", mend)
    return url.set(drivername=DRIVER)


def place_of(url: URL) -> str:
    """Return an address as it may be shown and kept: without a password."""
    query = {name: value for name, value in url.query.items() if "pass" not in name}
    return URL.create("postgresql", url.username, None, url.host, url.port, url.database, query).render_as_string()


@contextmanager
def opened_on_server(url: URL) -> Iterator[Engine]:
    """Yield an engine on a ledger of the present form, made in a database that is empty.

    Raises
    ------
    InputError
        A server that can't be reached, a database of another program, a ledger newer than this program, no driver.
    """
    place = place_of(url)
    with ExitStack() as opened:
        try:
            engine = _connect(url)
        except ImportError as error:
            mend = "install it: pip install 'finishmatch[postgres]'"
            raise InputError(place, "needs psycopg, the driver of PostgreSQL", mend) from error
        opened.callback(engine.dispose)
        with plain_errors(place, url.password or ""):
            _bring_up_to_date(engine, place)
        yield engine


@lru_cache(maxsize=4)
def _connect(url: URL) -> Engine:
    engine = create_engine(
        url,
        connect_args={"connect_timeout": CONNECT_SECONDS, "application_name": "finishmatch"},
        json_serializer=lambda value: json.dumps(value, allow_nan=False, ensure_ascii=False),
        hide_parameters=True,
    )

    @event.listens_for(engine, "begin")
    def _begin(connection: Connection) -> None:
        options = connection.get_execution_options()
        if options.get("isolation_level") == "AUTOCOMMIT":
            return
        if not options.get("immediate", False):
            connection.exec_driver_sql("SET TRANSACTION ISOLATION LEVEL REPEATABLE READ READ ONLY")
            return
        connection.exec_driver_sql("SET TRANSACTION ISOLATION LEVEL READ COMMITTED READ WRITE")
        connection.exec_driver_sql(f"SET LOCAL lock_timeout = '{WAIT_SECONDS}s'")
        connection.exec_driver_sql("SET LOCAL synchronous_commit = on")
        connection.exec_driver_sql(f"SELECT pg_advisory_xact_lock({LOCK})")

    return engine


def _bring_up_to_date(engine: Engine, place: str) -> None:
    with engine.connect() as connection:
        current = _revision(connection, place) == REVISION
    if current:
        return
    with engine.connect().execution_options(immediate=True) as connection, connection.begin():
        # looked at again under the lock: another bay may have done it meanwhile
        if (revision := _revision(connection, place)) == REVISION:
            return
        apply_missing(connection, place, revision)
        _widen(connection)
        _guard(connection)
        connection.exec_driver_sql(f"COMMENT ON TABLE alembic_version IS '{MARK}'")


def _revision(connection: Connection, place: str) -> str | None:
    """Return the form of a ledger, or None where the database is empty."""
    ask = connection.exec_driver_sql
    if ask("SHOW server_encoding").scalar_one() != "UTF8":
        raise InputError(place, "keeps no letters outside English", "make the database with the encoding UTF8")
    if ask("SELECT current_schema()").scalar_one() is None:
        raise InputError(place, "has no schema that may be used", "let the user of the ledger make tables in it")
    tables = set(ask("SELECT tablename FROM pg_tables WHERE schemaname = current_schema()").scalars())
    if not tables:
        return None
    mark = ask("SELECT obj_description(to_regclass('alembic_version'), 'pg_class')").scalar_one()
    if mark != MARK:
        raise InputError(place, "is a database of another program, not a ledger", "name an empty one")
    marks = list(ask("SELECT version_num FROM alembic_version").scalars())
    if len(marks) != 1:
        raise damaged(place, "its mark of form is missing")
    return str(marks[0])


def _widen(connection: Connection) -> None:
    """Let whole numbers be as large as they may be in a file."""
    narrow = connection.exec_driver_sql(
        "SELECT table_name, column_name FROM information_schema.columns"
        " WHERE table_schema = current_schema() AND data_type = 'integer'"
    ).all()
    for table, column in narrow:
        connection.exec_driver_sql(f'ALTER TABLE "{table}" ALTER COLUMN "{column}" TYPE bigint')


def _guard(connection: Connection) -> None:
    """Let the database itself refuse whatever would change or remove a row."""
    connection.exec_driver_sql(_GUARD.replace("%", "%%"))
    for table in Base.metadata.tables:
        connection.exec_driver_sql(f"DROP TRIGGER IF EXISTS keep_{table} ON {table}")
        connection.exec_driver_sql(
            f"CREATE TRIGGER keep_{table} BEFORE UPDATE OR DELETE OR TRUNCATE ON {table}"
            " FOR EACH STATEMENT EXECUTE FUNCTION keep_every_row()"
        )


@contextmanager
def copied_in(connection: Connection, table: str, columns: Sequence[str]) -> Iterator[Callable[[Sequence[Any]], None]]:
    """Yield what takes rows into a table, many times as fast as by inserting them: all or none, at the end.

    Parameters
    ----------
    connection : Connection
        Of a server.
    table : str
    columns : sequence of str
        Of the rows.
    """
    quoted = connection.dialect.identifier_preparer.quote
    command = f"COPY {quoted(table)} ({', '.join(map(quoted, columns))}) FROM STDIN"
    raw: Any = connection.connection.dbapi_connection  # of psycopg
    try:
        with raw.cursor() as cursor, cursor.copy(command) as copy:
            yield copy.write_row
    except connection.dialect.loaded_dbapi.Error as error:
        raise DBAPIError(command, None, error) from error


def counted_keys() -> list[Column[Any]]:
    """Return the keys that the database counts up, one for each table that isn't part of another's row."""
    keys = [list(table.primary_key.columns) for table in Base.metadata.sorted_tables]
    return [one[0] for one in keys if len(one) == 1 and isinstance(one[0].type, Integer) and not one[0].foreign_keys]


class ServerWatch:
    """Tells apart the states of a ledger on a server by the newest row of what is recorded in it."""

    def __init__(self, text: str) -> None:
        self._url = server_url(text)
        newest = (f"(SELECT max({key.name}) FROM {key.table.name})" for key in counted_keys())
        self._query = f"SELECT {', '.join(newest)}"
        self._connection: Connection | None = None

    def state(self) -> tuple[Any, ...]:
        """Return what is equal as long as nothing was recorded; what is wrong with the server stands for it."""
        try:
            if self._connection is None:
                self._connection = _connect(self._url).connect().execution_options(isolation_level="AUTOCOMMIT")
            return tuple(self._connection.exec_driver_sql(self._query).one())
        except DBAPIError as error:
            self.close()
            return ("away", type(error.orig).__name__)

    def close(self) -> None:
        """Let go of the server."""
        if self._connection is not None:
            self._connection.invalidate()
            self._connection.close()
        self._connection = None
