"""Spectra written for any program: CGATS.17 text (ISO 28178) and CxF3 XML (ISO 17972-1)."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from xml.sax.saxutils import escape, quoteattr

from finishmatch.colour import WAVELENGTHS_NM
from finishmatch.readings.geometry_names import aspecular_deg
from finishmatch.readings.guarded_cells import guarded

NAMESPACE = "http://colorexchangeformat.com/CxF3-core"
_STEP_NM = 10
_SPHERES = {"di8": "Specular_Included", "de8": "Specular_Excluded"}
_CGATS_GEOMETRY = {"di8": "d/8 specular included", "de8": "d/8 specular excluded", "45/0": "45/0"}
# XML knows no other control characters, and no halves of a pair
_NOT_XML = re.compile("[^\t\n\r -\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")


@dataclass(frozen=True)
class SpectrumToWrite:
    """A spectrum and what is said of it.

    Parameters
    ----------
    name : str
        One of its own in the file.
    what : str
        What it is, in a word: Standard, Trial or Sample.
    made_at : str
        When it was recorded, ISO 8601.
    reflectance : sequence of 31 float
        Factors, 0 to 1.
    geometry : str
        As the house names it, "" where it isn't known.
    light : str
    observer : int
        For which its CIELAB is meant.
    """

    name: str
    what: str
    made_at: str
    reflectance: Sequence[float]
    geometry: str
    light: str
    observer: int


def cgats_text(spectra: Sequence[SpectrumToWrite], title: str, day: str) -> str:
    """Return spectra as CGATS.17, a table for each geometry; reflectance as factors."""
    tables: list[str] = []
    for geometry in dict.fromkeys(one.geometry for one in spectra):
        rows = [one for one in spectra if one.geometry == geometry]
        tables.append(_cgats_table(rows, title, day, _CGATS_GEOMETRY.get(geometry, geometry), first=not tables))
    return "".join(tables)


def _cgats_table(spectra: Sequence[SpectrumToWrite], title: str, day: str, geometry: str, first: bool) -> str:
    bands = [f"SPECTRAL_NM{wavelength:g}" for wavelength in WAVELENGTHS_NM]
    head = [
        *(["CGATS.17"] if first else []),
        'ORIGINATOR "finishmatch"',
        f'DESCRIPTOR "{_quoted(title)}"',
        f'CREATED "{day}"',
        *([f'MEASUREMENT_GEOMETRY "{geometry}"'] if geometry else []),
        'KEYWORD "SPECTRAL_NORM"',
        'SPECTRAL_NORM "1"',
        f"NUMBER_OF_FIELDS {2 + len(bands)}",
        "BEGIN_DATA_FORMAT",
        " ".join(["SAMPLE_ID", "SAMPLE_NAME", *bands]),
        "END_DATA_FORMAT",
        f"NUMBER_OF_SETS {len(spectra)}",
        "BEGIN_DATA",
    ]
    rows = [
        f'{number} "{_quoted(guarded(one.name))}" ' + " ".join(f"{value:.6f}" for value in one.reflectance)
        for number, one in enumerate(spectra, start=1)
    ]
    return "\n".join([*head, *rows, "END_DATA", ""])


def _quoted(text: str) -> str:
    """Return a text that may stand between quotation marks."""
    return " ".join(text.replace('"', "'").split())


def cxf_text(spectra: Sequence[SpectrumToWrite], title: str, made_at: str) -> str:
    """Return spectra as CxF3.

    References
    ----------
    ISO 17972-1 (the order and the names of its elements from memory).
    """
    kinds = list(dict.fromkeys((one.geometry, one.light, one.observer) for one in spectra))
    objects = "\n".join(
        _cxf_object(number, one, f"spec{kinds.index((one.geometry, one.light, one.observer)) + 1}")
        for number, one in enumerate(spectra, start=1)
    )
    specifications = "\n".join(_cxf_specification(f"spec{number}", *kind) for number, kind in enumerate(kinds, start=1))
    return (
        '<?xml version="1.0" encoding="UTF-8"?>\n'
        f'<cc:CxF xmlns:cc="{NAMESPACE}" xmlns:xsi="http://www.w3.org/2001/XMLSchema-instance">\n'
        "<cc:FileInformation>\n<cc:Creator>finishmatch</cc:Creator>\n"
        f"<cc:CreationDate>{made_at}</cc:CreationDate>\n<cc:Description>{_plain(title)}</cc:Description>\n"
        "</cc:FileInformation>\n<cc:Resources>\n<cc:ObjectCollection>\n"
        f"{objects}\n</cc:ObjectCollection>\n<cc:ColorSpecificationCollection>\n{specifications}\n"
        "</cc:ColorSpecificationCollection>\n</cc:Resources>\n</cc:CxF>\n"
    )


def _plain(text: str) -> str:
    return escape(_NOT_XML.sub("?", text))


def _cxf_object(number: int, one: SpectrumToWrite, specification: str) -> str:
    values = " ".join(f"{value:.6f}" for value in one.reflectance)
    name = quoteattr(_NOT_XML.sub("?", one.name))
    return (
        f'<cc:Object ObjectType="{one.what}" Name={name} Id="object{number}">\n'
        f"<cc:CreationDate>{one.made_at}</cc:CreationDate>\n<cc:ColorValues>\n"
        f'<cc:ReflectanceSpectrum ColorSpecification="{specification}" StartWL="{WAVELENGTHS_NM[0]:g}">{values}'
        "</cc:ReflectanceSpectrum>\n</cc:ColorValues>\n</cc:Object>"
    )


def _cxf_specification(name: str, geometry: str, light: str, observer: int) -> str:
    choice = f"<cc:GeometryChoice>{found}</cc:GeometryChoice>\n" if (found := _cxf_geometry(geometry)) else ""
    return (
        f'<cc:ColorSpecification Id="{name}">\n<cc:TristimulusSpec>\n'
        f"<cc:Illuminant>{light}</cc:Illuminant>\n<cc:Observer>{observer}_Degree</cc:Observer>\n"
        "</cc:TristimulusSpec>\n<cc:MeasurementSpec>\n<cc:MeasurementType>Spectrum_Reflectance</cc:MeasurementType>\n"
        f'{choice}<cc:WavelengthRange StartWL="{WAVELENGTHS_NM[0]:g}" Increment="{_STEP_NM}"/>\n'
        "</cc:MeasurementSpec>\n</cc:ColorSpecification>"
    )


def _cxf_geometry(geometry: str) -> str:
    if geometry in _SPHERES:
        component = f"<cc:SpecularComponent>{_SPHERES[geometry]}</cc:SpecularComponent>"
        return f"<cc:Sphere>{component}</cc:Sphere>"
    if geometry == "45/0":
        return (
            "<cc:SingleAngle><cc:SingleAngleConfiguration>Annular</cc:SingleAngleConfiguration>"
            "<cc:IlluminationAngle>45</cc:IlluminationAngle><cc:MeasurementAngle>0</cc:MeasurementAngle>"
            "</cc:SingleAngle>"
        )
    aspecular = aspecular_deg(geometry)
    if aspecular is None:
        return ""
    lit = geometry.partition("as")[0]
    return (
        f"<cc:MultiAngle><cc:IlluminationAngle>{lit}</cc:IlluminationAngle>"
        f"<cc:AspecularAngle>{aspecular:g}</cc:AspecularAngle></cc:MultiAngle>"
    )
