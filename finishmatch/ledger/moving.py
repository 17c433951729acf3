"""A ledger copied into an empty one, in a file or on a server, and held against it row by row."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterator
from contextlib import ExitStack
from dataclasses import dataclass
from typing import Any

from sqlalchemy import Connection, Table, func, insert, select
from sqlalchemy.orm import Session

from finishmatch.errors import InputError
from finishmatch.ledger.book import Ledger
from finishmatch.ledger.rows import Base, SourceFileRow
from finishmatch.ledger.server import copied_in, counted_keys

Row = dict[str, Any]

_ROWS = 500  # at once
_LARGE = {SourceFileRow.__tablename__: 1}


@dataclass(frozen=True)
class TableSum:
    """How many rows a table has, and the SHA-256 over all they hold."""

    rows: int
    sha256: str


def copy_into(source: Ledger, target: Ledger, *, quiet: bool = True) -> dict[str, TableSum]:
    """Copy all that a ledger holds into an empty one, all or nothing, and see that both are equal.

    Parameters
    ----------
    source, target : Ledger
    quiet : bool
        Let nobody record in the source meanwhile.

    Returns
    -------
    dict
        What each table holds, in both.

    Raises
    ------
    InputError
        The target isn't empty, or something came out otherwise than it went in; nothing is kept then.
    """
    tables = Base.metadata.sorted_tables
    with ExitStack() as opened:
        given = opened.enter_context(source.writing() if quiet else source.reading())
        with target.reading() as session:
            _see_empty(session, str(target.path))
        taken = opened.enter_context(target.writing())
        _see_empty(taken, str(target.path))
        read = {table.name: _copy(given.connection(), taken.connection(), table) for table in tables}
        _count_on(taken.connection())
        kept = {table.name: _sum(_rows(taken.connection(), table)) for table in tables}
        if differing := [name for name in read if read[name] != kept[name]]:
            what = f"the table {differing[0]} came out otherwise than it went in"
            raise InputError(str(target.path), what, "nothing was kept; see that the source is sound: job check")
        return kept


def _see_empty(session: Session, where: str) -> None:
    connection = session.connection()
    full = [table.name for table in Base.metadata.sorted_tables if connection.execute(select(table).limit(1)).first()]
    if full:
        raise InputError(where, "holds a record already", "name an empty database, or a folder without a ledger")


def _copy(source: Connection, target: Connection, table: Table) -> TableSum:
    """Copy a table and return the sum of what was read."""
    put = _streamed if target.dialect.name == "postgresql" else _inserted
    return _sum(put(_rows(source, table), target, table))


def _inserted(rows: Iterator[Row], target: Connection, table: Table) -> Iterator[Row]:
    """Put rows into a table of a file as they pass."""
    waiting: list[Row] = []
    for row in rows:
        waiting.append(row)
        if len(waiting) >= _LARGE.get(table.name, _ROWS):
            target.execute(insert(table), waiting)
            waiting = []
        yield row
    if waiting:
        target.execute(insert(table), waiting)


def _streamed(rows: Iterator[Row], target: Connection, table: Table) -> Iterator[Row]:
    """Put rows into a table of a server as they pass, in one stream."""
    dialect = target.dialect
    kept_as = [(one.name, one.type.dialect_impl(dialect).bind_processor(dialect)) for one in table.columns]
    with copied_in(target, table.name, [name for name, _ in kept_as]) as take:
        for row in rows:
            take([row[name] if convert is None else convert(row[name]) for name, convert in kept_as])
            yield row


def _rows(connection: Connection, table: Table) -> Iterator[Row]:
    wanted = select(table).order_by(*table.primary_key.columns)
    at_once = _LARGE.get(table.name, _ROWS)
    for row in connection.execute(wanted.execution_options(yield_per=at_once)).mappings():
        yield dict(row)


def _sum(rows: Iterator[Row]) -> TableSum:
    count, digest = 0, hashlib.sha256()
    for row in rows:
        count += 1
        plain = {name: value + 0.0 if isinstance(value, float) else value for name, value in row.items()}  # no -0.0
        digest.update(_AS_TEXT.encode(plain).encode())
    return TableSum(count, digest.hexdigest())


def _hashed(value: Any) -> str:
    return hashlib.sha256(value).hexdigest()


_AS_TEXT = json.JSONEncoder(ensure_ascii=False, default=_hashed)


def _count_on(connection: Connection) -> None:
    """Let a server number what comes next after what was copied; a file does so by itself."""
    if connection.dialect.name != "postgresql":
        return
    for key in counted_keys():
        last = connection.scalar(select(func.max(key)))
        if last is not None:
            sequence = func.pg_get_serial_sequence(key.table.name, key.name)
            connection.execute(select(func.setval(sequence, last)))
