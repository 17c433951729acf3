"""CxF3 XML of an instrument (ISO 17972-1): objects with spectra or CIELAB, and the specifications they refer to."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import islice
from pathlib import Path
from xml.etree.ElementTree import Element, ParseError

import numpy as np
from defusedxml.common import DefusedXmlException
from defusedxml.ElementTree import fromstring

from finishmatch.colour import Floats
from finishmatch.errors import InputError
from finishmatch.readings.geometry_names import LIT_AT_DEG, angle_label, geometry_named
from finishmatch.readings.plain_number import number_hint, plain_number
from finishmatch.readings.reading import Reading
from finishmatch.readings.samples import Sample, check_count, gather, viewing_named
from finishmatch.readings.spectra import PERCENT_ABOVE, instrument_spectra
from finishmatch.readings.table_file import read_bytes

MAX_BYTES = 8_000_000  # as a tree it takes ten times that of memory
MAX_TAGS = 400_000
MAX_BANDS = 1000
_AGAIN = "export it again"


@dataclass(frozen=True)
class _Specification:
    """How something was measured: its geometry, the steps of its spectra, its light and observer."""

    geometry: str = ""
    start_nm: str = ""
    step_nm: str = ""
    light: str = ""
    observer: str = ""


@dataclass(frozen=True)
class _Spectrum:
    """A spectrum as it is written, before it is known whether the file is in percent."""

    name: str
    where: str
    geometry: str
    nm: Floats
    values: Floats

    def sample(self, percent: bool) -> Sample:
        """Return it as a sample on the house grid."""
        spectra = instrument_spectra(
            self.nm, self.values[None], percent, lambda _, j: f"{self.where}, {self.nm[j]:g} nm", self.where
        )
        return Sample(self.name, spectra[0], self.where, self.geometry)


def recognised(head: bytes) -> bool:
    """Whether a file begins as XML does, in any of the encodings of XML."""
    return head.replace(b"\0", b"").lstrip(b"\xef\xbb\xbf\xff\xfe \t\r\n").startswith(b"<")


def read(path: Path) -> dict[str, Reading]:
    """Read a CxF3 file.

    Parameters
    ----------
    path : Path
        At most 8 MB. Spectra in 5, 10 or 20 nm steps, as fractions or percent, or CIELAB; several objects, each in
        one or several geometries or angles.

    Returns
    -------
    dict of str to Reading
        By the objects' names.

    Raises
    ------
    InputError
        Damaged or hostile XML, another kind of XML, values that don't serve.

    References
    ----------
    ISO 17972-1 (its elements from memory: of a geometry everything that is written there is looked at). ASTM E2194
    (angles off the gloss).
    """
    path = Path(path)
    root = _parsed(path)
    specifications = {node.get("Id", ""): _specification(node) for node in _whole(path, root, "ColorSpecification")}
    spectra: list[_Spectrum] = []
    samples: list[Sample | _Spectrum] = []
    for number, node in enumerate(_whole(path, root, "Object"), start=1):
        name = " ".join((node.get("Name") or node.get("Id") or "").split()) or f"sample {number}"
        where = f"{path}, object {name[:40]!r}"
        found = [_spectrum(part, name, where, specifications) for part in _inside(node, "ReflectanceSpectrum")]
        spectra += found
        samples += found or _lab_samples(node, name, where, specifications)
    # an instrument writes a file in one unit, so a value that no fraction has shows it for all
    percent = any((spectrum.values > PERCENT_ABOVE).any() for spectrum in spectra)
    warnings = (f"{path}: read as percent, since values exceed {PERCENT_ABOVE}",) if percent else ()
    return gather(
        [found.sample(percent) if isinstance(found, _Spectrum) else found for found in samples], path, warnings
    )


def _whole(path: Path, root: Element, name: str) -> list[Element]:
    """Return the elements of a name, which may not stand in one another."""
    nodes = list(_inside(root, name))
    check_count(len(nodes), path)
    for node in nodes:
        if sum(1 for _ in islice(_inside(node, name), 2)) > 1:
            raise InputError(str(path), f"has one {name} within another", _AGAIN)
    return nodes


def _parsed(path: Path) -> Element:
    data = read_bytes(path)
    if len(data) > MAX_BYTES:
        raise InputError(str(path), f"is larger than {MAX_BYTES // 1_000_000} MB", "export fewer samples at a time")
    if data.count(b"<") > MAX_TAGS:
        raise InputError(str(path), f"has more than {MAX_TAGS} tags", "export fewer samples at a time")
    try:
        root: Element = fromstring(data, forbid_dtd=True, forbid_entities=True, forbid_external=True)
    except DefusedXmlException:
        raise InputError(
            str(path), "declares a document type or entities, which no reading needs", "don't trust this file"
        ) from None
    except ParseError as error:
        line, column = error.position
        raise InputError(f"{path}, line {line}", f"is damaged XML (column {column + 1})", _AGAIN) from None
    except (ValueError, LookupError):  # an encoding that isn't known, or isn't the one that is named
        raise InputError(str(path), "is XML in an encoding that can't be read", "save it as UTF-8") from None
    if _tag(root) != "CxF":
        raise InputError(str(path), f"is XML of another kind ({_tag(root)[:40]!r})", "export it as CxF3, CGATS or CSV")
    return root


def _tag(node: Element) -> str:
    """Return the name of an element without its namespace."""
    return str(node.tag).rpartition("}")[2]


def _inside(node: Element, *names: str) -> Iterator[Element]:
    return (child for child in node.iter() if _tag(child) in names)


def _text(node: Element, *names: str) -> str:
    """Return the text of the first element of a name within a node, or ""."""
    return next(((child.text or "").strip() for child in _inside(node, *names)), "")


def _specification(node: Element) -> _Specification:
    band = next(_inside(node, "WavelengthRange"), None)
    choices = _inside(node, "GeometryChoice", "Geometry")
    return _Specification(
        geometry=next((found for part in islice(choices, 4) if (found := _geometry(part))), ""),
        start_nm="" if band is None else band.get("StartWL", ""),
        step_nm="" if band is None else band.get("Increment", ""),
        light=_text(node, "Illuminant"),
        observer=_text(node, "Observer"),
    )


def _geometry(node: Element) -> str:
    """Return the geometry that a part of a specification gives, by angles or in words; "" when it gives none."""
    aspecular = _text(node, "AspecularAngle", "Aspecular")
    lit, seen = _text(node, "IlluminationAngle", "InfluxAngle"), _text(node, "MeasurementAngle", "EffluxAngle")
    try:
        if aspecular:
            return angle_label(plain_number(aspecular), plain_number(lit) if lit else LIT_AT_DEG)
        if lit and seen:
            return _by_angles(plain_number(lit), plain_number(seen))
    except ValueError:
        return ""
    words = [f"{_tag(part)} {' '.join(part.attrib.values())} {part.text or ''}" for part in node.iter()]
    # SpecularIncluded, specular_included and "Specular included" are all met
    return geometry_named(re.sub(r"(?<=[a-z])(?=[A-Z])", " ", " ".join(words)))


def _by_angles(lit: float, seen: float) -> str:
    """Return the geometry of two angles from the upright, the second counted positive towards the light."""
    if {abs(lit), abs(seen)} == {45.0, 0.0}:
        return "45/0"
    return angle_label(round(lit + seen, 3), lit)


def _spectrum(node: Element, name: str, where: str, specifications: dict[str, _Specification]) -> _Spectrum:
    specification = specifications.get(node.get("ColorSpecification", ""), _Specification())
    start, step = node.get("StartWL") or specification.start_nm, node.get("Increment") or specification.step_nm
    if not start or not step:
        raise InputError(where, "doesn't say where its spectrum starts, or its steps", _AGAIN)
    first, by = _number(start, where), _number(step, where)
    values = np.array([_number(word, where) for word in (node.text or "").split()])
    if not (2 <= values.size <= MAX_BANDS and 0 < by <= 100):
        raise InputError(where, f"has a spectrum of {values.size} values in steps of {by:g} nm", _AGAIN)
    return _Spectrum(name, where, specification.geometry, first + by * np.arange(float(values.size)), values)


def _lab_samples(node: Element, name: str, where: str, specifications: dict[str, _Specification]) -> list[Sample]:
    """Return an object's CIELAB values in the first light that is known here; none when it holds no colour."""
    samples: list[Sample] = []
    unknown = None
    for values in _inside(node, "ColorCIELab"):
        specification = specifications.get(values.get("ColorSpecification", ""), _Specification())
        try:
            viewing = viewing_named(specification.light, specification.observer)
        except InputError:
            unknown = specification
            continue
        if not samples or viewing == (samples[0].light, samples[0].observer):
            samples.append(Sample(name, _lab(values, where), where, specification.geometry, *viewing))
    if unknown is not None and not samples:
        viewed = f"{unknown.light[:20]}, {unknown.observer[:20]}"
        raise InputError(where, f"its Lab is under {viewed}, not known here", "export spectra")
    return samples


def _lab(node: Element, where: str) -> Floats:
    lab = np.array([_number(_text(node, axis), where) for axis in ("L", "A", "B")])
    if not (0 <= lab[0] <= 120 and np.abs(lab[1:]).max() <= 200):
        raise InputError(where, f"{lab[0]:g},{lab[1]:g},{lab[2]:g} is not a CIELAB colour", _AGAIN)
    return lab


def _number(text: str, where: str) -> float:
    try:
        value = plain_number(text)
    except ValueError:
        raise InputError(where, f"{text[:40]!r} is not a number", number_hint(text)) from None
    if not np.isfinite(value):
        raise InputError(where, "holds a number beyond all bounds", _AGAIN)
    return value
