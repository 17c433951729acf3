"""An evidence file: one row per reading of what survives, with its kind and condition; rows of one name are repeats."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import TypedDict

import numpy as np

from finishmatch.colour import Floats
from finishmatch.errors import InputError
from finishmatch.readings.looks_of_rows import CAMERA_SAW, camera_saw
from finishmatch.readings.reading import Reading, TargetFacts
from finishmatch.readings.readings_file import AB_LIMIT, geometry_of, viewing_of
from finishmatch.readings.resolve import resolve_reading
from finishmatch.readings.spectra import UNIT, read_spectra, wavelength_columns
from finishmatch.readings.spikes import without_spikes
from finishmatch.readings.strangers import without_stranger
from finishmatch.readings.table_file import Row, Table, read_table
from finishmatch.readings.target_file import check_own, pictures_of

OWN_COLUMNS = (
    "name",
    "kind",
    "vehicle",
    "year",
    "pair",
    "u95",
    "u95_own",
    "picture",
    "camera",
    CAMERA_SAW,
    "note",
    "reading",
    "L",
    "a",
    "b",
    "light",
    "observer",
    "geometry",
    UNIT,
)
MAX_SAMPLES = 200
LARGEST_U95 = 30.0


@dataclass(frozen=True)
class EvidenceSample:
    """One thing that survives, as it was read.

    Parameters
    ----------
    name, kind : str
        `kind` as written; "" when it isn't given.
    reading : Reading
    conditions : mapping of str to str
        Condition columns to what stands there, empty cells left out.
    vehicle, year, pair : str
        "" when not given; samples of one `pair` are one place in two states.
    u95 : float or None
        What the reading itself is good for, half-width in ΔE00, where that is known (a photograph).
    u95_own : float or None
        The part of that which is its own; the rest it shares with all of its pictures. None where nothing says so.
    pictures : tuple of str
        The photographs that it was read from, by whatever name; empty where they aren't known.
    camera : str
        By which they were taken; "" is the one camera of all that name none.
    where : str
        File and line, for messages.
    """

    name: str
    kind: str
    reading: Reading
    conditions: Mapping[str, str] = field(default_factory=dict)
    vehicle: str = ""
    year: str = ""
    pair: str = ""
    u95: float | None = None
    u95_own: float | None = None
    pictures: tuple[str, ...] = ()
    camera: str = ""
    where: str = ""

    @property
    def of_photographs(self) -> bool:
        """Whether it is known to have been read from photographs."""
        return bool(self.pictures or self.camera)


def read_evidence(path: Path, conditions: Sequence[str] = ()) -> tuple[EvidenceSample, ...]:
    """Read an evidence file.

    Parameters
    ----------
    path : Path
        UTF-8 CSV: ``name``, and ``L,a,b`` (with optional ``light,observer``), or wavelengths, or ``reading`` (FILE or
        FILE@NAME, seen from the folder of this file); optional ``kind,vehicle,year,pair,u95,u95_own,
        picture,camera,camera_saw,note`` and the conditions.
    conditions : sequence of str
        The condition columns that are known.

    Returns
    -------
    tuple of EvidenceSample
        In the order in which their names first stand.

    Raises
    ------
    InputError
        Names file, line and column of what is wrong.
    """
    known = (*OWN_COLUMNS, *conditions)
    table = read_table(Path(path), required=("name",), known=known)
    nm = wavelength_columns(table)
    for column in table.columns:
        if column not in known and column not in nm:
            raise InputError(
                table.where(), f"the column {column[:40]!r} is not known here", "use " + ", ".join(known) + ", or nm"
            )
    if not nm and "reading" not in table.columns and not {"L", "a", "b"} <= set(table.columns):
        raise InputError(table.where(), "there are no readings", "add the columns L,a,b, or 400,410,…,700, or reading")
    rows: dict[str, list[Row]] = {}
    for row in table.rows:
        rows.setdefault(row.text("name"), []).append(row)
    if len(rows) > MAX_SAMPLES:
        raise InputError(str(path), f"holds {len(rows)} samples", f"weigh {MAX_SAMPLES} at most at a time")
    spectral = tuple(row for row in table.rows if "spectrum" in _ways(row, nm))
    spectra = _Spectra({}, ())
    if spectral:  # all at once: whether they are percent is a matter of the whole file
        values, warnings = read_spectra(Table(table.columns, spectral, table.file, table.header_line))
        spectra = _Spectra({row.line: value for row, value in zip(spectral, values, strict=True)}, warnings)
    return _with_cameras([_sample(table, name, rows[name], spectra, nm, conditions) for name in rows])


def _with_cameras(samples: Sequence[EvidenceSample]) -> tuple[EvidenceSample, ...]:
    """Return samples with the camera that any of them names for a photograph: one took it."""
    named: dict[str, str] = {}
    for sample in samples:
        for picture in sample.pictures if sample.camera else ():
            if (other := named.setdefault(picture, sample.camera)) != sample.camera:
                what = f"has {picture[:40]} by the camera {sample.camera[:40]!r}, and another row by {other[:40]!r}"
                raise InputError(sample.where, what, "name the one that took it")
    return tuple(
        replace(sample, camera=sample.camera or next((named[one] for one in sample.pictures if one in named), ""))
        for sample in samples
    )


@dataclass(frozen=True)
class _Spectra:
    """The spectra of a file by line, and what was noticed when they were read."""

    by_line: Mapping[int, Floats]
    warnings: tuple[str, ...]


def _sample(
    table: Table, name: str, rows: list[Row], spectra: _Spectra, nm: list[str], conditions: Sequence[str]
) -> EvidenceSample:
    def said(column: str) -> str:
        """Return what stands in a column of any of the rows, or raise `InputError` when two differ."""
        values = {row.cells[column] for row in rows if row.cells.get(column)}
        if len(values) > 1:
            raise InputError(
                rows[-1].where(column),
                f"the rows of {name[:40]!r} say {' and '.join(repr(text[:30]) for text in sorted(values)[:2])}",
                "give two names to two samples, or mend it",
            )
        return values.pop() if values else ""

    def doubt(column: str) -> float | None:
        if not said(column):
            return None
        return next(row for row in rows if row.cells[column]).number(column, 0, LARGEST_U95)

    reading = camera_saw(_reading(table, name, rows, spectra, nm), rows)
    photographed = _photographed(rows, doubt("u95"), doubt("u95_own"), said("camera"), reading.target)
    return EvidenceSample(
        name=name,
        kind=said("kind"),
        reading=reading,
        conditions={column: said(column) for column in conditions if said(column)},
        vehicle=said("vehicle"),
        year=said("year"),
        pair=said("pair"),
        where=rows[0].where(),
        **photographed,
    )


class _Photographed(TypedDict):
    u95: float | None
    u95_own: float | None
    pictures: tuple[str, ...]
    camera: str


def _photographed(
    rows: list[Row], u95: float | None, u95_own: float | None, camera: str, facts: TargetFacts | None
) -> _Photographed:
    """Return how surely photographs tell a sample, and which: as its rows say, else as the file does that it is in.

    Raises
    ------
    InputError
        What pictures share without how far off they may be; a part that is more than the whole.
    """
    named = pictures_of(rows)
    if facts is not None:
        u95_own = facts.u95_own if u95_own is None and (u95 is None or u95 == facts.u95) else u95_own
        u95 = facts.u95 if u95 is None else u95
    pictures = named or (() if facts is None else facts.pictures)
    if u95 is None and (named or camera or u95_own is not None):
        column = next(name for name in ("picture", "camera", "u95_own") if any(row.cells.get(name) for row in rows))
        what = "is given, but not how surely its colour is known"
        raise InputError(rows[0].where(column), what, "write that in u95, as photo read tells it, or leave this out")
    check_own(rows, u95, u95_own, pictures or ((camera,) if camera else ()))
    return {"u95": u95, "u95_own": u95_own, "pictures": pictures, "camera": camera}


def _ways(row: Row, nm: list[str]) -> set[str]:
    """Return how a row gives its colour: by reference, as spectrum, as Lab."""
    ways = {"reading"} if row.cells.get("reading") else set()
    if any(row.cells[column] for column in nm):
        ways.add("spectrum")
    if any(row.cells.get(axis) for axis in "Lab"):
        ways.add("Lab")
    return ways


def _reading(table: Table, name: str, rows: list[Row], spectra: _Spectra, nm: list[str]) -> Reading:
    ways = {way for row in rows for way in _ways(row, nm)}
    for row in rows:
        if not _ways(row, nm):
            raise InputError(row.where(), "holds no reading", "fill in L,a,b, the spectrum, or reading")
        if len(ways) > 1:
            raise InputError(
                row.where(), f"{name[:40]!r} is given as {' and as '.join(sorted(ways))}", "keep one way for a sample"
            )
    geometries = {geometry_of(row) for row in rows}
    if len(geometries) > 1:
        raise InputError(rows[-1].where(), f"the repeats of {name[:40]!r} differ in geometry", "give them two names")
    geometry = geometries.pop()
    way = ways.pop()
    if way == "reading":
        if len(rows) > 1:
            raise InputError(
                rows[1].where("reading"), f"{name[:40]!r} names two", "name one; its repeats stand in its own file"
            )
        return _referred(table, name, rows[0])
    if way == "spectrum":
        values = np.array([spectra.by_line[row.line] for row in rows])
        places = [row.where() for row in rows]
        repeats, spikes = without_spikes(values, places)
        repeats, strangers = without_stranger(name, repeats, places)
        noted = (*spectra.warnings, *spikes, *strangers)
        return Reading(name, repeats, geometry=geometry, source=Path(table.file), warnings=noted)
    states = {viewing_of(row) for row in rows}
    if len(states) > 1:
        raise InputError(rows[-1].where(), f"the repeats of {name[:40]!r} differ in light or observer", "read it anew")
    light, observer = states.pop()
    repeats, strangers = without_stranger(name, _labs(table, rows), [row.where() for row in rows])
    return Reading(name, repeats, light, observer, geometry, source=Path(table.file), warnings=strangers)


def _labs(table: Table, rows: list[Row]) -> Floats:
    for axis in "Lab":
        if axis not in table.columns:
            raise InputError(table.where(), f"there is no column {axis!r}", "add L, a and b")
    bounds = {"L": (0.0, 120.0), "a": (-AB_LIMIT, AB_LIMIT), "b": (-AB_LIMIT, AB_LIMIT)}
    return np.array([[row.number(axis, *bounds[axis]) for axis in "Lab"] for row in rows])


def _referred(table: Table, name: str, row: Row) -> Reading:
    """Return a reading that stands in another file, named from the folder of this one."""
    text = row.cells["reading"]
    beside = str(Path(table.file).parent / text)
    try:
        found = resolve_reading(beside)
    except InputError as error:
        raise InputError(row.where("reading"), f"{error.where} {error.what}", error.mend) from None
    return replace(found, name=name)
