"""A file of readings of whatever kind: it is read by what it holds, not by its name."""

from __future__ import annotations

from pathlib import Path

from finishmatch.errors import InputError
from finishmatch.readings import cgats, cxf, readings_file
from finishmatch.readings.photograph_sign import is_photograph
from finishmatch.readings.reading import Reading
from finishmatch.readings.table_file import read_bytes

# per kind of file, asked in this order: whether its first bytes are of that kind, and its reader; a table comes last
READERS = (
    (cxf.recognised, cxf.read),
    (cgats.recognised, cgats.read),
    (readings_file.recognised, readings_file.read),
)
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
    if is_photograph(head):
        raise InputError(str(path), "is a photograph, and no file of readings", "read and save its colours: photo read")
    for recognised, read in READERS:
        if recognised(head):
            return read(path)
    raise AssertionError("a table is anything")
