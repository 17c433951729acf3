"""A readings file: `name` and a spectrum per row, or `name,L,a,b`; rows of one name are repeats."""

from __future__ import annotations

from pathlib import Path

import numpy as np

from finishmatch.colour import OBSERVERS, light_name
from finishmatch.errors import InputError
from finishmatch.readings.reading import Reading
from finishmatch.readings.spectra import read_spectra, wavelength_columns
from finishmatch.readings.tablefile import Row, Table, check_columns, read_table

AB_LIMIT = 200.0


def read_readings(path: Path) -> dict[str, Reading]:
    """Read a readings file.

    Parameters
    ----------
    path : Path
        UTF-8 CSV: ``name,400,410,…,700``, or ``name,L,a,b`` with optional ``light,observer`` (default D65, 10).

    Returns
    -------
    dict of str to Reading
        By name, in the order of the file; repeats are kept.

    Raises
    ------
    InputError
        Names file, line and column of what is wrong.
    """
    table = read_table(Path(path), required=("name",))
    if wavelength_columns(table):
        strangers = set(table.columns) - set(wavelength_columns(table)) - {"name"}
        if strangers:
            raise InputError(table.where(), f"the column {min(strangers)[:40]!r} is not known here", "remove it")
        return _spectral(table)
    return _typed(table)


def _rows_by_name(table: Table) -> dict[str, list[int]]:
    rows: dict[str, list[int]] = {}
    for index, row in enumerate(table.rows):
        rows.setdefault(row.text("name"), []).append(index)
    return rows


def _spectral(table: Table) -> dict[str, Reading]:
    rows = _rows_by_name(table)
    values, warnings = read_spectra(table)
    source = Path(table.file)
    return {name: Reading(name, values[index], source=source, warnings=warnings) for name, index in rows.items()}


def _typed(table: Table) -> dict[str, Reading]:
    check_columns(table, required=("name", "L", "a", "b"), optional=("light", "observer"))
    readings = {}
    for name, index in _rows_by_name(table).items():
        rows = [table.rows[i] for i in index]
        states = {_viewing(row) for row in rows}
        if len(states) > 1:
            raise InputError(
                rows[-1].where(), f"the repeats of {name!r} differ in light or observer", "give them two names"
            )
        light, observer = states.pop()
        lab = [
            [row.number("L", 0, 120), row.number("a", -AB_LIMIT, AB_LIMIT), row.number("b", -AB_LIMIT, AB_LIMIT)]
            for row in rows
        ]
        readings[name] = Reading(name, np.array(lab), light, observer, source=Path(table.file))
    return readings


def _viewing(row: Row) -> tuple[str, int]:
    light, observer = row.cells.get("light") or "D65", row.cells.get("observer") or "10"
    try:
        light = light_name(light)
    except InputError as error:
        raise InputError(row.where("light"), f"{light!r} is {error.what}", error.mend) from None
    if observer not in [str(degrees) for degrees in OBSERVERS]:
        raise InputError(row.where("observer"), f"{observer!r} is not a CIE observer", "write 2 or 10")
    return light, int(observer)
