"""The spectra of a bank's tables: written in them, or in an instrument's files that lie beside them."""

from __future__ import annotations

import os
from dataclasses import dataclass
from pathlib import Path

from finishmatch.colour import Floats
from finishmatch.errors import InputError
from finishmatch.readings.any_file import read_readings
from finishmatch.readings.reading import Reading
from finishmatch.readings.spectra import UNIT, read_spectra, wavelength_columns
from finishmatch.readings.table_file import Row, Table

COLUMN = "reading"


@dataclass(frozen=True)
class TableSpectra:
    """The repeats of each row, each of shape (n, 31); what was noticed; and the further files they came from."""

    repeats: tuple[Floats, ...]
    warnings: tuple[str, ...]
    files: tuple[str, ...] = ()


def table_spectra(table: Table, named: tuple[str, ...], geometry: str) -> TableSpectra:
    """Return the spectra of a bank's table.

    Parameters
    ----------
    table : Table
        With reflectance columns, or with a column ``reading`` that holds FILE or FILE@NAME, a file of the same folder.
    named : tuple of str
        The table's other columns.
    geometry : str
        Of the bank, which a file that names its own must have too.

    Raises
    ------
    InputError
        A column too many, spectra that don't serve, a file that isn't there or of another geometry.
    """
    own, wavelengths = COLUMN in table.columns, frozenset(wavelength_columns(table))
    for column in table.columns:
        if column not in (*named, COLUMN, UNIT) and (own or column not in wavelengths):
            if column in ("L", "a", "b"):
                problem = "gives panels by L, a, b among their spectra"
                raise InputError(table.where(), problem, "panels of which only a colour is known stand in seen.csv")
            raise InputError(table.where(), f"the column {column[:40]!r} is not known here", "remove it")
    if not own:
        values, warnings = read_spectra(table)
        return TableSpectra(tuple(row[None] for row in values), warnings)
    folder = Path(table.file).parent
    known: dict[Path, dict[str, Reading]] = {}
    found = [_reading(row, folder, geometry, known) for row in table.rows]
    warnings = tuple(dict.fromkeys(warning for reading in found for warning in reading.warnings))
    return TableSpectra(tuple(reading.repeats for reading in found), warnings, tuple(path.name for path in known))


def check_within(folder: Path, file: str) -> None:
    """See that a file of a bank's folder is no link to what lies elsewhere, or raise `InputError`."""
    inside, found = os.path.realpath(folder), os.path.realpath(folder / file)
    if os.path.dirname(found) != inside:
        raise InputError(str(folder / file), "is a link out of the bank's folder", "put the file itself there")


def _reading(row: Row, folder: Path, geometry: str, known: dict[Path, dict[str, Reading]]) -> Reading:
    """Return the reading that a cell names; a file is read once."""
    text, where = row.text(COLUMN), row.where(COLUMN)
    file, _, name = (text, "", "") if (folder / text).is_file() else text.partition("@")
    if not file or Path(file).name != file or file == "..":
        raise InputError(where, f"{file[:40]!r} is not a file of the bank's folder", "put it beside the table")
    path = folder / file
    if path not in known:
        check_within(folder, file)
        known[path] = read_readings(path)
    readings = known[path]
    if not name and len(readings) == 1:
        name = next(iter(readings))
    if name not in readings:
        some = ", ".join(other[:40] for other in list(readings)[:6])
        raise InputError(where, f"{file} has no reading named {name[:40]!r}", f"it has {some}")
    reading = readings[name]
    if any(view.geometry == geometry for view in reading.views):
        reading = reading.view(geometry)
    if not reading.is_spectral:
        raise InputError(where, f"only Lab is known of {name[:40]!r}", "a bank needs spectra")
    if reading.geometry not in ("", geometry):
        raise InputError(where, f"{name[:40]!r} was read {reading.geometry}", f"the bank is read {geometry}")
    return reading
