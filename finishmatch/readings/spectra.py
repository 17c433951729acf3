"""Reflectance columns of a table: bare wavelengths in nm, fractions or percent."""

from __future__ import annotations

import re
from collections.abc import Callable

import numpy as np

from finishmatch.colour import Floats
from finishmatch.errors import InputError
from finishmatch.readings.sprague import to_house_grid
from finishmatch.readings.table_file import Row, Table

UNIT = "unit"  # the column that says whether a row is in percent or in fractions
PERCENT_ABOVE = 1.5
MAX_REFLECTANCE = 1.2
NOISE = 0.01  # an instrument may read a deep black so far below zero («common practice»)
# a file of which every value lies between these, and every spectrum is flat, may be of dark paint in percent: paint so
# light holds a white, and the usual one, titanium dioxide, takes up what lies below 420 nm («common practice»)
DARK_PERCENT = (0.3, PERCENT_ABOVE)
FLAT_TO, VIOLET_FROM = (
    1.35,
    0.9,
)  # the largest value over the least, the violet end over the middle value, of such a spectrum
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
        Fractions; a table whose values all exceed 1.5 is read as percent, unless a column ``unit`` says what it is.
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
    values = np.array([row.shares(columns) for row in table.rows])
    if UNIT in table.columns:
        values = values / np.array([[_whole(row)] for row in table.rows])
        check_limit(values, lambda i, j: table.rows[i].where(columns[j]))
        return on_house_grid(nm, values, table.where()), ()
    values, warnings = as_fractions(values, lambda i, j: table.rows[i].where(columns[j]), table.file)
    spectra = on_house_grid(nm, values, table.where())
    if not warnings:
        ask_whether_percent(spectra, table.file, f"Add a column {UNIT} that says percent or fraction")
    return spectra, warnings


def _whole(row: Row) -> float:
    """Return what a perfect white has in a row, by the unit that the row names."""
    text = row.text(UNIT)
    whole = {"percent": 100.0, "%": 100.0, "fraction": 1.0, "factor": 1.0}.get(text.casefold())
    if whole is None:
        raise InputError(row.where(UNIT), f"{text[:20]!r} is not a unit of reflectance", "write percent or fraction")
    return whole


def as_fractions(values: Floats, where: Callable[[int, int], str], file: str) -> tuple[Floats, tuple[str, ...]]:
    """Return reflectances as fractions, and what was noticed.

    Parameters
    ----------
    values : ndarray, shape (rows, n)
        Fractions, or percent when all exceed 1.5.
    where : callable
        What to call row i, column j in a message.
    file : str

    Raises
    ------
    InputError
        Percent mixed with fractions, or a reflectance above 1.2.
    """
    warnings: tuple[str, ...] = ()
    large = values > PERCENT_ABOVE
    if large.all():
        values = values / 100
        warnings = (f"{file}: read as percent, since every value exceeds {PERCENT_ABOVE}",)
    elif large.any():
        # the rarer kind is the slip: name the first of it
        slip = large if large.mean() <= 0.5 else ~large
        i, j = (int(index) for index in np.argwhere(slip)[0])
        raise InputError(
            where(i, j),
            f"{values[i, j]:g} stands among {'fractions' if slip is large else 'percent values'}",
            "write all values as fractions 0 to 1, or all as percent",
        )
    check_limit(values, where)
    return values, warnings


def check_limit(values: Floats, where: Callable[[int, int], str]) -> None:
    """See that no reflectance, shape (rows, n), is beyond what a calibrated instrument reads, or raise `InputError`."""
    if (values > MAX_REFLECTANCE).any():
        i, j = (int(index) for index in np.argwhere(values > MAX_REFLECTANCE)[0])
        raise InputError(
            where(i, j),
            f"a reflectance of {values[i, j]:g} is above {MAX_REFLECTANCE:g}",
            "check the calibration of the instrument",
        )


def ask_whether_percent(values: Floats, where: str, mend: str) -> None:
    """Ask, by an `InputError`, whether spectra of shape (rows, n) are fractions or percent where they could be both.

    Parameters
    ----------
    values : ndarray, shape (rows, n)
        As written, by rising wavelengths.
    where, mend : str
        What to call the first of them, and how its unit can be said.
    """
    low, high = DARK_PERCENT
    if not values.size or values.min() < low or values.max() > high:
        return
    violet = values[:, : max(1, values.shape[1] // 15)].mean(axis=1)
    flat = (values.max(axis=1) <= FLAT_TO * values.min(axis=1)) & (violet >= VIOLET_FROM * np.median(values, axis=1))
    if flat.all():
        raise InputError(
            where,
            f"all values lie from {values.min():.3g} to {values.max():.3g}: a light grey in fractions, or a black in "
            f"percent? {mend}",
        )


def instrument_spectra(
    nm: Floats, values: Floats, percent: bool, cell: Callable[[int, int], str], where: str
) -> Floats:
    """Return an instrument's spectra as fractions on the house grid.

    Parameters
    ----------
    nm : ndarray, shape (n,)
    values : ndarray, shape (rows, n)
    percent : bool
        Whether the file is in percent: an instrument writes all of it in one unit.
    cell : callable
        What to call row i, column j in a message.
    where : str
        What to call the wavelengths.

    Raises
    ------
    InputError
        Wavelengths that don't serve, a reflectance above 1.2 or clearly below 0.
    """
    if percent:
        values = values / 100
    if (values < -NOISE).any():
        i, j = (int(index) for index in np.argwhere(values < -NOISE)[0])
        raise InputError(cell(i, j), f"a reflectance of {values[i, j]:g} is below 0", "calibrate the instrument")
    check_limit(values, cell)
    return on_house_grid(nm, np.maximum(values, 0.0), where)


def on_house_grid(nm: Floats, values: Floats, where: str) -> Floats:
    """Return spectra, shape (rows, n), on the house grid; `InputError` when the wavelengths don't serve."""
    # between two readings at a bound the interpolation may swing a little beyond it
    return np.clip(to_house_grid(nm, values, where), 0.0, MAX_REFLECTANCE)
