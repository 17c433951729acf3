"""What the database library works out of a statement once serves all ledgers of the tests, each in a file of its own.

The program keeps it with the file that it opens; a test has a new file.
"""

from __future__ import annotations

from typing import Any

from sqlalchemy import Engine, create_engine

_FIRST: list[Engine] = []


def engine_alike(*given: Any, **named: Any) -> Engine:
    """Return what `create_engine` does, its statements compiled once for all of them."""
    engine = create_engine(*given, **named)
    if not _FIRST:
        _FIRST.append(engine)
    engine.dialect = engine.pool._dialect = _FIRST[0].dialect
    engine._compiled_cache = _FIRST[0]._compiled_cache
    return engine
