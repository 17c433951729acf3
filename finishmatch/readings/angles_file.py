"""Readings at several angles: a readings file with a column `angle`."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import numpy as np

from finishmatch.colour import Floats, light_name, reflectance_to_lab
from finishmatch.errors import InputError
from finishmatch.readings.any_file import HEAD_BYTES, READERS
from finishmatch.readings.reading import Reading
from finishmatch.readings.readings_file import AB_LIMIT
from finishmatch.readings.resolve import resolve_reading, split_name
from finishmatch.readings.spectra import wavelength_columns
from finishmatch.readings.sprague import to_house_grid
from finishmatch.readings.table_file import Table, check_columns, read_bytes, read_table

LOWEST, HIGHEST = -60.0, 120.0  # aspecular angles of instruments, degrees
MOST_REFLECTANCE = 20.0  # of flake near the gloss, a fraction of a white


@dataclass(frozen=True)
class AngledReading:
    """A colour read at several angles from the gloss (aspecular, degrees), CIELAB of shape (n, 3) under one light."""

    name: str
    angles: tuple[float, ...]
    labs: Floats
    light: str
    observer: int
    source: Path


def read_angles(path: Path, light: str = "D65", observer: int = 10) -> dict[str, AngledReading]:
    """Read colours at several angles.

    Parameters
    ----------
    path : Path
        UTF-8 CSV: ``name,angle`` and then ``L,a,b`` or wavelengths; rows of one name and angle are repeats, their mean
        is taken. Angles are from the gloss (aspecular), degrees.
    light : str
        Spectra are seen in it; Lab is taken to have been read in it.
    observer : int

    Raises
    ------
    InputError
    """
    table = read_table(Path(path), required=("name", "angle"), known=("L", "a", "b"))
    light = light_name(light)
    bands = wavelength_columns(table)
    labs = _spectral(table, light, observer) if bands else _typed(table)
    rows: dict[str, dict[float, list[int]]] = {}
    for index, row in enumerate(table.rows):
        angle = row.number("angle", LOWEST, HIGHEST)
        rows.setdefault(row.text("name"), {}).setdefault(angle, []).append(index)
    return {
        name: AngledReading(
            name,
            tuple(sorted(by_angle)),
            np.array([labs[by_angle[angle]].mean(axis=0) for angle in sorted(by_angle)]),
            light,
            observer,
            Path(path),
        )
        for name, by_angle in rows.items()
    }


def resolve_angles(text: str, light: str, observer: int) -> AngledReading:
    """Return the colour meant by FILE or FILE@NAME: a table with angles, or an instrument's file of several geometries.

    Raises
    ------
    InputError
        Also when it was read at one angle only.
    """
    path, name = split_name(text)
    if not _has_angles(path):
        return _of_views(text, resolve_reading(text, light, observer), light_name(light), observer)
    found = read_angles(path, light, observer)
    if name and name not in found:
        raise InputError(text, f"the file has no {name[:40]!r}", "it has " + ", ".join(found))
    if not name and len(found) > 1:
        raise InputError(text, "holds several colours", "say which: " + ", ".join(f"{text}@{one}" for one in found))
    return found[name] if name else next(iter(found.values()))


def _has_angles(path: Path) -> bool:
    """Whether a file is a table with a column of angles."""
    head = read_bytes(path)[:HEAD_BYTES]
    if any(recognised(head) for recognised, _ in READERS[:-1]):
        return False
    return "angle" in read_table(path, known=("name", "angle", "L", "a", "b")).columns


def _of_views(text: str, reading: Reading, light: str, observer: int) -> AngledReading:
    """Return what an instrument read at several angles."""
    if len(reading.angles) < 2:
        raise InputError(text, "was not read at several angles", "name a file with a column 'angle'")
    labs = [view.lab_in(light, observer) for view in reading.angles.values()]
    return AngledReading(
        reading.name, tuple(reading.angles), np.array(labs), light, observer, reading.source or Path(text)
    )


def _spectral(table: Table, light: str, observer: int) -> Floats:
    strangers = set(table.columns) - set(wavelength_columns(table)) - {"name", "angle"}
    if strangers:
        raise InputError(table.where(), f"the column {min(strangers)[:40]!r} is not known here", "remove it")
    columns = wavelength_columns(table)
    nm = np.array([float(column) for column in columns])
    # near the gloss flake sends back far more than a white, so percent is not known from fractions: these are asked for
    values = np.array([[row.number(column, 0, MOST_REFLECTANCE) for column in columns] for row in table.rows])
    return np.asarray(reflectance_to_lab(np.maximum(to_house_grid(nm, values, table.where()), 0), light, observer))


def _typed(table: Table) -> Floats:
    check_columns(table, required=("name", "angle", "L", "a", "b"))
    return np.array(
        [
            # near the gloss a flake paint is lighter than a white
            [row.number("L", 0, 300), row.number("a", -AB_LIMIT, AB_LIMIT), row.number("b", -AB_LIMIT, AB_LIMIT)]
            for row in table.rows
        ]
    )
