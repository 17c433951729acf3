"""Reflectance columns of a table: bare wavelengths in nm, fractions or percent."""

from __future__ import annotations

import re

import numpy as np

from finishmatch.colour import Floats
from finishmatch.errors import InputError
from finishmatch.readings.sprague import to_house_grid
from finishmatch.readings.tablefile import Table

PERCENT_ABOVE = 1.5
MAX_REFLECTANCE = 1.2
_WAVELENGTH = re.compile(r"\d{1,6}(\.\d{0,6})?", re.ASCII)


def wavelength_columns(table: Table) -> list[str]:
    """Return the columns whose name is a bare number, in the order of the file."""
    return [column for column in table.columns if _WAVELENGTH.fullmatch(column)]


def read_spectra(table: Table) -> tuple[Floats, tuple[str, ...]]:
    """Return every row's reflectance on the house grid, and what was noticed.

    Parameters
    ----------
    table : Table
        With reflectance columns, e.g. ``400,410,…,700``.

    Returns
    -------
    reflectance : ndarray, shape (rows, 31)
        Fractions; a table whose values all exceed 1.5 is read as percent.
    warnings : tuple of str

    Raises
    ------
    InputError
        Wavelengths that don't serve, text in a number, percent mixed with fractions, reflectance below 0 or above 1.2.
    """
    columns = wavelength_columns(table)
    if not columns:
        raise InputError(table.where(), "there are no wavelength columns", "name them 400,410,…,700")
    nm = np.array([float(column) for column in columns])
    values = np.array([[row.number(column, low=0) for column in columns] for row in table.rows])
    warnings: tuple[str, ...] = ()
    limit = MAX_REFLECTANCE
    large = values > PERCENT_ABOVE
    if large.all():
        values = values / 100
        warnings = (f"{table.file}: read as percent, since every value exceeds {PERCENT_ABOVE}",)
    elif large.any():
        # the rarer kind is the slip: name the first of it
        slip = large if large.mean() <= 0.5 else ~large
        i, j = (int(index) for index in np.argwhere(slip)[0])
        raise InputError(
            table.rows[i].where(columns[j]),
            f"{values[i, j]:g} stands among {'fractions' if slip is large else 'percent values'}",
            "write all values as fractions 0 to 1, or all as percent",
        )
    if (values > limit).any():
        i, j = (int(index) for index in np.argwhere(values > limit)[0])
        raise InputError(
            table.rows[i].where(columns[j]),
            f"a reflectance of {values[i, j]:g} is above {limit:g}",
            "check the calibration of the instrument",
        )
    # between two readings at a bound the interpolation may swing a little beyond it
    return np.clip(to_house_grid(nm, values, table.where()), 0.0, MAX_REFLECTANCE), warnings
