"""A readings file as CSV: `name` and a spectrum per row, or `name,L,a,b`; rows of one name are repeats."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np

from finishmatch.colour import OBSERVERS, light_name
from finishmatch.errors import InputError
from finishmatch.readings.geometry_names import geometry_named
from finishmatch.readings.looks_of_rows import CAMERA_SAW, camera_saw
from finishmatch.readings.reading import Reading
from finishmatch.readings.samples import Sample, check_count, gather
from finishmatch.readings.spectra import UNIT, read_spectra, wavelength_columns
from finishmatch.readings.table_file import Row, Table, check_columns, read_table
from finishmatch.readings.target_file import TARGET_COLUMNS, target_facts

AB_LIMIT = 200.0
_BESIDE = ("light", "observer", "geometry", CAMERA_SAW, *TARGET_COLUMNS)
COLUMNS = ("L", "a", "b", "light", "observer", "geometry", "angle", UNIT, CAMERA_SAW, *TARGET_COLUMNS)


def recognised(_head: bytes) -> bool:
    """Whether a file is a table: taken to be so when it is nothing else."""
    return True


def read(path: Path) -> dict[str, Reading]:
    """Read a readings file.

    Parameters
    ----------
    path : Path
        UTF-8 CSV: ``name,400,410,…,700``, or ``name,L,a,b`` with optional ``light,observer`` (default D65, 10); a
        column ``geometry``, and those of a target (`targetfile`), may stand in both.

    Returns
    -------
    dict of str to Reading
        By name, in the order of the file; repeats are kept.

    Raises
    ------
    InputError
        Names file, line and column of what is wrong.
    """
    table = read_table(Path(path), required=("name",), known=COLUMNS)
    check_count(len(table.rows), path)
    if "angle" in table.columns:
        raise InputError(
            table.where(),
            "holds readings at several angles, as of a metallic",
            "compare them with: finishmatch plan angles; recipes are of solid colours",
        )
    if wavelength_columns(table):
        strangers = set(table.columns) - set(wavelength_columns(table)) - {"name", "geometry", UNIT, *TARGET_COLUMNS}
        if strangers:
            raise InputError(table.where(), f"the column {min(strangers)[:40]!r} is not known here", "remove it")
        return _spectral(table)
    return _typed(table)


def _spectral(table: Table) -> dict[str, Reading]:
    values, warnings = read_spectra(table)
    samples = [
        Sample(row.text("name"), spectrum, row.where(), geometry_of(row))
        for row, spectrum in zip(table.rows, values, strict=True)
    ]
    return _as_targets(table, gather(samples, Path(table.file), warnings))


def _typed(table: Table) -> dict[str, Reading]:
    check_columns(table, required=("name", "L", "a", "b"), optional=_BESIDE)
    samples = []
    for row in table.rows:
        lab = [row.number("L", 0, 120), row.number("a", -AB_LIMIT, AB_LIMIT), row.number("b", -AB_LIMIT, AB_LIMIT)]
        samples.append(Sample(row.text("name"), np.array(lab), row.where(), geometry_of(row), *viewing_of(row)))
    return _as_targets(table, gather(samples, Path(table.file)))


def _as_targets(table: Table, readings: dict[str, Reading]) -> dict[str, Reading]:
    """Return the readings with what the file says of them as targets, where it does."""
    if not {CAMERA_SAW, *TARGET_COLUMNS} & set(table.columns):
        return readings
    rows: dict[str, list[Row]] = {}
    for row in table.rows:
        rows.setdefault(row.text("name"), []).append(row)
    return {
        name: camera_saw(replace(reading, target=target_facts(rows[name])), rows[name])
        for name, reading in readings.items()
    }


def geometry_of(row: Row) -> str:
    """Return the geometry a row gives, "" when it gives none, or raise `InputError`."""
    text = row.cells.get("geometry", "")
    found = geometry_named(text)
    if text and not found:
        raise InputError(
            row.where("geometry"),
            f"{text[:40]!r} is not a geometry known here",
            "write di8, de8, 45/0 or, e.g., 45as15",
        )
    return found


def viewing_of(row: Row) -> tuple[str, int]:
    """Return light and observer of a row, D65 and 10 when they aren't given, or raise `InputError`."""
    light, observer = row.cells.get("light") or "D65", row.cells.get("observer") or "10"
    try:
        light = light_name(light)
    except InputError as error:
        raise InputError(row.where("light"), f"{light!r} is {error.what}", error.mend) from None
    if observer not in [str(degrees) for degrees in OBSERVERS]:
        raise InputError(row.where("observer"), f"{observer!r} is not a CIE observer", "write 2 or 10")
    return light, int(observer)
