"""CGATS.17 text of an instrument (ISO 28178): keywords, then tables of samples."""

from __future__ import annotations

import re
from pathlib import Path

import numpy as np

from finishmatch.colour import Floats
from finishmatch.errors import InputError
from finishmatch.readings.cgats_text import CgatsTable, read_tables
from finishmatch.readings.geometry_names import geometry_named
from finishmatch.readings.plain_number import number_hint, plain_number
from finishmatch.readings.reading import Reading
from finishmatch.readings.samples import Sample, gather, viewing_named
from finishmatch.readings.spectra import PERCENT_ABOVE, instrument_spectra

# SPECTRAL_NM400, SPECTRAL_400, NM_400, nm400, R_400, SPECTRAL_PCT_400 and the like («common practice»)
_BAND = re.compile(r"(?:SPECTRAL_?)?(?:NM|R|DEC|PCT)?_?(\d{3}(?:\.\d+)?)(?:NM)?", re.IGNORECASE)
_LAB = ("LAB_L", "LAB_A", "LAB_B")
_LIGHT = re.compile(r"\b(?:illuminant|illumination\w*)\W+(LED-B3|[A-Z]\w*)", re.IGNORECASE)
_OBSERVER = re.compile(r"\bobserver\w*\W+(\d+)|\b(\d+)\W*degree", re.IGNORECASE)
_SAYS_GEOMETRY = ("MEASUREMENT_GEOMETRY", "GEOMETRY", "MEASUREMENT_SOURCE", "INSTRUMENTATION")
_SAYS_LIGHT = ("ILLUMINATION_NAME", "ILLUMINANT", "WEIGHTING_FUNCTION", "MEASUREMENT_SOURCE")
_SAYS_OBSERVER = ("OBSERVER_ANGLE", "OBSERVER", "WEIGHTING_FUNCTION", "MEASUREMENT_SOURCE")


def recognised(head: bytes) -> bool:
    """Whether a file begins as CGATS.17 does."""
    text = head.decode("utf-8", "replace").lstrip("\ufeff \t\r\n")
    first = text.partition("\n")[0].strip()
    keywords = ("BEGIN_DATA_FORMAT", "NUMBER_OF_FIELDS")
    return bool(re.match(r"(CGATS|ISO ?28178)", first)) or any(
        re.search(rf"^\s*{word}\b", text, re.MULTILINE) for word in keywords
    )


def read(path: Path) -> dict[str, Reading]:
    """Read a CGATS.17 file.

    Parameters
    ----------
    path : Path
        Spectra in 5, 10 or 20 nm steps, as fractions or percent, or CIELAB; several tables and samples.

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
            samples += [Sample(*made, geometry) for made in zip(names, spectra, wheres, strict=True)]
        elif all(name in table.fields for name in _LAB):  # others hold CMYK, density and the like
            light, observer, doubt = _viewing(path, table)
            warnings += doubt
            made = zip(names, _lab(path, table), wheres, strict=True)
            samples += [Sample(name, lab, where, geometry, light, observer) for name, lab, where in made]
    return gather(samples, path, tuple(dict.fromkeys(warnings)))


def _geometry(table: CgatsTable) -> str:
    named = (geometry_named(table.keywords.get(word, "")) for word in _SAYS_GEOMETRY)
    return next((geometry for geometry in named if geometry), "")


def _lab(path: Path, table: CgatsTable) -> Floats:
    lab = _numbers(path, table, [table.fields.index(name) for name in _LAB])
    for (line, _), row in zip(table.rows, lab, strict=True):
        if not (0 <= row[0] <= 120 and np.abs(row[1:]).max() <= 200):
            problem = f"{row[0]:g},{row[1]:g},{row[2]:g} is not a CIELAB colour"
            raise InputError(f"{path}, line {line}", problem, "export it again")
    return lab


def _names(table: CgatsTable) -> list[str]:
    for column in ("SAMPLE_NAME", "SAMPLE_ID", "SAMPLEID", "STRING"):
        if column in table.fields:
            at = table.fields.index(column)
            names = [row[at].strip() for _, row in table.rows]
            if all(names):
                return names
    return [f"sample {number}" for number in range(1, len(table.rows) + 1)]


def _spectra(path: Path, table: CgatsTable) -> tuple[Floats, Floats, bool] | None:
    """Return the wavelengths of a table, its spectra as written, and whether it says percent; None when it has none."""
    where = f"{path}, line {table.fields_line}"
    if "SPECTRAL_NM" in table.fields:  # wavelength and value side by side
        at = [i for i, name in enumerate(table.fields) if name == "SPECTRAL_NM"]
        kinds = {table.fields[i + 1] if i + 1 < len(table.fields) else "" for i in at}
        if len(kinds) > 1 or not kinds <= {"SPECTRAL_DEC", "SPECTRAL_PCT"}:
            raise InputError(where, "SPECTRAL_NM isn't followed by SPECTRAL_DEC or SPECTRAL_PCT", "export it again")
        nm_rows = _numbers(path, table, at)
        nm = nm_rows[0]
        if (nm_rows != nm).any():
            raise InputError(where, "the samples are at different wavelengths", "export them separately")
        values = _numbers(path, table, [i + 1 for i in at])
        percent = kinds == {"SPECTRAL_PCT"}
    else:
        bands = {i: float(found[1]) for i, name in enumerate(table.fields) if (found := _BAND.fullmatch(name))}
        if not bands:
            return None
        nm, values = np.array(list(bands.values())), _numbers(path, table, list(bands))
        percent = all("PCT" in table.fields[i] for i in bands)
    return nm, values, percent


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
