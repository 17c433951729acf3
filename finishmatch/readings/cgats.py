"""CGATS.17 text of an instrument (ISO 28178): keywords, then tables of samples."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from finishmatch.colour import LIGHTS, OBSERVERS, Floats, white_point, xyz_to_lab
from finishmatch.errors import InputError
from finishmatch.readings.band_names import LEAST_BANDS, announced_bands, band_number, is_wavelength, look_like_bands
from finishmatch.readings.cgats_text import KIND, CgatsTable, read_tables
from finishmatch.readings.geometry_names import geometry_named
from finishmatch.readings.guarded_cells import unguarded
from finishmatch.readings.plain_number import number_hint, plain_number
from finishmatch.readings.reading import Reading
from finishmatch.readings.samples import Sample, gather, viewing_named
from finishmatch.readings.spectra import PERCENT_ABOVE, ask_whether_percent, instrument_spectra

_LAB = ("LAB_L", "LAB_A", "LAB_B")
_XYZ = ("XYZ_X", "XYZ_Y", "XYZ_Z")
_ANNOUNCED = ("SPECTRAL_BANDS", "SPECTRAL_START_NM", "SPECTRAL_END_NM")
_WHITE = "ILLUMINANT_WHITE_POINT_XYZ"
SAME_WHITE = 0.0015  # of the white's Y: the whites of any two lights here are 0.01 apart or more
_NORM = "SPECTRAL_NORM"  # what a perfect white has
_OF_LIGHT = {"MEAS_TYPE": ("EMISSION", "AMBIENT"), "DEVICE_CLASS": ("DISPLAY", "EMISINPUT")}
_USUAL = "SPECTRAL_NM{}"
_IN_PERCENT = "CTI3"  # the first word of measuring programs' files whose spectra are in percent («common practice»)
_LIGHT = re.compile(r"\b(?:illuminant|illumination\w*)\W+(LED-B3|[A-Z]\w*)", re.IGNORECASE)
_OBSERVER = re.compile(r"\bobserver\w*\W+(\d+)|\b(\d+)\W*degree", re.IGNORECASE)
_SAYS_GEOMETRY = ("MEASUREMENT_GEOMETRY", "GEOMETRY", "MEASUREMENT_SOURCE", "INSTRUMENTATION")
_SAYS_LIGHT = ("ILLUMINATION_NAME", "ILLUMINANT", "WEIGHTING_FUNCTION", "MEASUREMENT_SOURCE")
_SAYS_OBSERVER = ("OBSERVER_ANGLE", "OBSERVER", "WEIGHTING_FUNCTION", "MEASUREMENT_SOURCE")


def recognised(head: bytes) -> bool:
    """Whether a file begins as CGATS.17 does."""
    text = head.decode("utf-8", "replace").lstrip("\ufeff \t\r\n")
    first = text.partition("\n")[0].strip()
    keywords = ("BEGIN_DATA_FORMAT", "NUMBER_OF_FIELDS", "SPECTRAL_BANDS")
    return bool(re.match(r"(CGATS|ISO ?28178|CTI\d)", first)) or any(
        re.search(rf"^\s*{word}\b", text, re.MULTILINE) for word in keywords
    )


def read(path: Path) -> dict[str, Reading]:
    """Read a CGATS.17 file.

    Parameters
    ----------
    path : Path
        Spectra in even steps, as fractions or percent, or CIELAB, or XYZ; several tables and samples.

    Returns
    -------
    dict of str to Reading
        By SAMPLE_NAME, or SAMPLE_ID where there is none.

    Raises
    ------
    InputError
        Names file and line of what is wrong.

    References
    ----------
    ISO 28178; ANSI CGATS.17 (its form; the keywords for geometry and light as instruments write them, «common
    practice»).
    """
    path = Path(path)
    tables = [(table, _spectra(path, table)) for table in read_tables(path)]
    # an instrument writes a file in one unit, so a value that no fraction has shows it for all
    exceeded = any(found is not None and not found[2] and (found[1] > PERCENT_ABOVE).any() for _, found in tables)
    warnings = [f"{path}: read as percent, since values exceed {PERCENT_ABOVE}"] if exceeded else []
    samples: list[Sample] = []
    for table, found in tables:
        wheres = [f"{path}, line {line}" for line, _ in table.rows]
        names, geometry = _names(table), _geometry(table)
        if found is not None:
            nm, values, percent = found
            spectra = instrument_spectra(
                nm,
                values,
                percent or exceeded,
                lambda i, j, wheres=wheres, nm=nm: f"{wheres[i]}, {nm[j]:g} nm",  # type: ignore[misc]
                f"{path}, line {table.fields_line}",
            )
            if not (percent or exceeded):
                ask_whether_percent(
                    spectra, wheres[0], f'For percent add the line {_NORM} "100", for fractions {_NORM} "1"'
                )
            samples += [Sample(*made, geometry) for made in zip(names, spectra, wheres, strict=True)]
        elif (lab := _lab(path, table)) is not None:  # others hold CMYK, density and the like
            light, observer, doubt = _viewing(path, table) if lab.viewing is None else (*lab.viewing, [])
            warnings += doubt
            if lab.is_xyz:
                warnings.append(f"{path}: holds XYZ and no spectrum, so it is known in one light only")
            made = zip(names, lab.values(light, observer), wheres, strict=True)
            samples += [Sample(name, one, where, geometry, light, observer) for name, one, where in made]
    return gather(samples, path, tuple(dict.fromkeys(warnings)))


def _geometry(table: CgatsTable) -> str:
    named = (geometry_named(table.keywords.get(word, "")) for word in _SAYS_GEOMETRY)
    return next((geometry for geometry in named if geometry), "")


@dataclass(frozen=True)
class _Tristimulus:
    """The CIELAB or the XYZ (Y = 100 for the perfect white) of a table's samples, shape (n, 3), and their places.

    `viewing` are light and observer where the file names the white it was computed for.
    """

    written: Floats
    is_xyz: bool
    wheres: tuple[str, ...]
    viewing: tuple[str, int] | None

    def values(self, light: str, observer: int) -> Floats:
        """Return CIELAB under the light and observer the file names, or raise `InputError` where it is no colour."""
        lab = xyz_to_lab(self.written, white_point(light, observer)) if self.is_xyz else self.written
        for where, row, written in zip(self.wheres, lab, self.written, strict=True):
            if not (0 <= row[0] <= 120 and np.abs(row[1:]).max() <= 200):
                problem = ",".join(f"{value:g}" for value in written)
                kind = "an XYZ" if self.is_xyz else "a CIELAB"
                raise InputError(where, f"{problem} is not {kind} colour", "export it again")
        return lab


def _lab(path: Path, table: CgatsTable) -> _Tristimulus | None:
    """Return the colours of a table without spectra, or None when it has none."""
    viewing = _of_white(path, table)
    # CIELAB beside XYZ of a white that is named may be for another white
    for fields in (_LAB, _XYZ) if viewing is None else (_XYZ, _LAB):
        if all(name in table.fields for name in fields):
            written = _numbers(path, table, [table.fields.index(name) for name in fields])
            wheres = tuple(f"{path}, line {line}" for line, _ in table.rows)
            return _Tristimulus(written, fields is _XYZ, wheres, viewing if fields is _XYZ else None)
    return None


def _of_white(path: Path, table: CgatsTable) -> tuple[str, int] | None:
    """Return the light and observer whose white a file names, None where it names none."""
    if _WHITE not in table.keywords:
        return None
    text = table.keywords[_WHITE].split()
    if len(text) != 3 or not all(_plain(one) for one in text):
        raise InputError(str(path), f"{_WHITE} isn't three numbers", "the file is damaged: export it again")
    white = np.array([plain_number(one) for one in text])
    for light in LIGHTS:
        for observer in OBSERVERS:
            if np.abs(white_point(light, observer) / 100 - white).max() < SAME_WHITE:
                return light, observer
    raise InputError(str(path), "its colours are for a light not known here", "export spectra")


def _names(table: CgatsTable) -> list[str]:
    for column in ("SAMPLE_NAME", "SAMPLE_ID", "SAMPLEID", "STRING"):
        if column in table.fields:
            at = table.fields.index(column)
            names = [unguarded(row[at].strip()) for _, row in table.rows]
            if all(names):
                return names
    return [f"sample {number}" for number in range(1, len(table.rows) + 1)]


def _spectra(path: Path, table: CgatsTable) -> tuple[Floats, Floats, bool] | None:
    """Return the wavelengths of a table, its spectra as written, and whether it says percent; None when it has none."""
    _check_is_paint(path, table)
    where = f"{path}, line {table.fields_line}"
    if "SPECTRAL_NM" in table.fields:  # wavelength and value side by side
        return _pairs(path, table, where)
    numbers = {i: number for i, name in enumerate(table.fields) if (number := band_number(name)) is not None}
    announced = _announced(where, table)
    if announced is not None and numbers:
        nm = announced_bands(where, announced, list(numbers.values()))
    else:
        numbered = list(numbers)
        numbers = {i: number for i, number in numbers.items() if is_wavelength(number)}
        unknown = [table.fields[i] for i in numbered] if len(numbered) >= LEAST_BANDS else look_like_bands(table.fields)
        if not numbers and unknown:
            raise InputError(
                where,
                f"the columns {unknown[0][:20]} to {unknown[-1][:20]} look like a spectrum, and are not known here",
                f"name them {_USUAL.format(400)}, {_USUAL.format(410)}, …",
            )
        nm = np.array(list(numbers.values()))
    if not numbers:
        return None
    values = _numbers(path, table, list(numbers))
    percent = table.keywords.get(KIND) == _IN_PERCENT or all("PCT" in table.fields[i] for i in numbers)
    if _NORM in table.keywords:
        values, percent = 100 * values / _keyword_number(where, table, _NORM), True
    return nm, values, percent


def _pairs(path: Path, table: CgatsTable, where: str) -> tuple[Floats, Floats, bool]:
    """Return the spectra of a table in which each wavelength stands beside its value."""
    at = [i for i, name in enumerate(table.fields) if name == "SPECTRAL_NM"]
    kinds = {table.fields[i + 1] if i + 1 < len(table.fields) else "" for i in at}
    if len(kinds) > 1 or not kinds <= {"SPECTRAL_DEC", "SPECTRAL_PCT"}:
        raise InputError(where, "SPECTRAL_NM isn't followed by SPECTRAL_DEC or SPECTRAL_PCT", "export it again")
    nm_rows = _numbers(path, table, at)
    nm = nm_rows[0]
    if (nm_rows != nm).any():
        raise InputError(where, "the samples are at different wavelengths", "export them separately")
    return nm, _numbers(path, table, [i + 1 for i in at]), kinds == {"SPECTRAL_PCT"}


def _check_is_paint(path: Path, table: CgatsTable) -> None:
    """See that a file doesn't say that light was measured, and not a surface (keywords from memory)."""
    for word, kinds in _OF_LIGHT.items():
        said = table.keywords.get(word, "").upper()
        if said.startswith(kinds):
            raise InputError(str(path), f"is a measurement of light ({word} {said[:20]})", "measure the paint")


def _announced(where: str, table: CgatsTable) -> tuple[float, float, float] | None:
    """Return count, first and last of the bands that a file announces, nm, or None."""
    if not all(word in table.keywords for word in _ANNOUNCED):
        return None
    count, first, last = (_keyword_number(where, table, word) for word in _ANNOUNCED)
    return count, first, last


def _keyword_number(where: str, table: CgatsTable, word: str) -> float:
    """Return the number above 0 that stands behind a keyword, or raise `InputError`."""
    text = table.keywords[word].strip()
    number = plain_number(text) if _plain(text) else math.nan
    if not (math.isfinite(number) and number > 0):
        raise InputError(where, f"{word} is {text[:20]!r}", "the file is damaged: export it again")
    return number


def _numbers(path: Path, table: CgatsTable, columns: list[int]) -> Floats:
    rows = []
    for line, row in table.rows:
        try:
            rows.append([plain_number(row[i]) for i in columns])
        except ValueError:
            text = next(row[i] for i in columns if not _plain(row[i]))
            raise InputError(f"{path}, line {line}", f"{text[:40]!r} is not a number", number_hint(text)) from None
        if not np.isfinite(rows[-1]).all():
            raise InputError(f"{path}, line {line}", "holds a number beyond all bounds", "export the file again")
    return np.array(rows, dtype=float).reshape(len(rows), len(columns))


def _plain(text: str) -> bool:
    try:
        plain_number(text)
    except ValueError:
        return False
    return True


def _viewing(path: Path, table: CgatsTable) -> tuple[str, int, list[str]]:
    """Return light and observer of the CIELAB values, and a word when they had to be taken for granted."""
    keywords = table.keywords
    light = next((found for word in _SAYS_LIGHT if (found := _light_in(word, keywords.get(word, "")))), "")
    observer = next((found for word in _SAYS_OBSERVER if (found := _observer_in(word, keywords.get(word, "")))), "")
    doubt = f"{path}: doesn't name its light and observer in full; D50 and 2° are assumed (ISO 13655)"
    try:
        return *viewing_named(light, observer), [] if light and observer else [doubt]
    except InputError:
        raise InputError(
            str(path), f"its Lab is under {light or 'D50'} for {observer or '2'}°, not known here", "export spectra"
        ) from None


def _light_in(word: str, text: str) -> str:
    if word.startswith("ILLUMINA"):
        return text.strip().partition(" ")[0].strip(",;")[:20]
    found = _LIGHT.search(text)
    return found[1][:20] if found else ""


def _observer_in(word: str, text: str) -> str:
    found = re.search(r"(\d+)", text) if word.startswith("OBSERVER") else _OBSERVER.search(text)
    return next((group[:6] for group in found.groups() if group), "") if found else ""
