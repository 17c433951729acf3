"""A file of readings of whatever kind: what it holds tells how it is read, not its name."""

from __future__ import annotations

from collections.abc import Callable
from importlib import import_module
from pathlib import Path

from finishmatch.readings.reading import Reading
from finishmatch.readings.table_file import read_bytes

# one module for each kind, asked in this order: recognised(head) and read(path); a table comes last
READERS = ("cxf", "cgats", "readings_file")
HEAD_BYTES = 4096


def read_readings(path: Path) -> dict[str, Reading]:
    """Read a file of readings: CSV, CGATS.17 text (ISO 28178) or CxF3 XML (ISO 17972-1).

    Parameters
    ----------
    path : Path

    Returns
    -------
    dict of str to Reading
        By name, in the order of the file; repeats and geometries are kept.

    Raises
    ------
    InputError
        Names what is wrong, and where.
    """
    path = Path(path)
    head = read_bytes(path)[:HEAD_BYTES]
    for name in READERS:
        module = import_module(f"finishmatch.readings.{name}")
        recognised: Callable[[bytes], bool] = module.recognised
        if recognised(head):
            read: Callable[[Path], dict[str, Reading]] = module.read
            return read(path)
    raise AssertionError("a table is anything")
