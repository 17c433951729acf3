"""Files as instruments write them, for tests: built after the structure of the standards, with invented values.

CGATS.17 text after ISO 28178; CxF3 XML after ISO 17972-1 (element names from memory).
"""

from __future__ import annotations

from collections.abc import Sequence
from xml.sax.saxutils import quoteattr

NAMESPACE = "http://colorexchangeformat.com/CxF3-core"

SPHERE_INCLUDED = "<cc:Sphere><cc:SpecularComponent>Specular_Included</cc:SpecularComponent></cc:Sphere>"
SPHERE_EXCLUDED = "<cc:Sphere><cc:SpecularComponent>Specular_Excluded</cc:SpecularComponent></cc:Sphere>"
RING = (
    "<cc:SingleAngle><cc:SingleAngleConfiguration>Annular</cc:SingleAngleConfiguration>"
    "<cc:IlluminationAngle>45</cc:IlluminationAngle><cc:MeasurementAngle>0</cc:MeasurementAngle></cc:SingleAngle>"
)


def spectrum(level: float, nm: Sequence[float]) -> list[float]:
    """A smooth invented spectrum; on a straight line between its ends, so that any step interpolates it exactly."""
    return [level * (0.8 + (wavelength - 400) / 1000) for wavelength in nm]


def steps(first: int, last: int, by: int) -> list[int]:
    return list(range(first, last + 1, by))


def cgats(
    rows: Sequence[tuple[str, Sequence[float]]],
    nm: Sequence[int],
    head: str = 'MEASUREMENT_GEOMETRY "45/0"\n',
    field: str = "SPECTRAL_NM{}",
    decimals: int = 6,
) -> str:
    """A CGATS.17 file of spectra."""
    fields = ["SAMPLE_ID", "SAMPLE_NAME", *(field.format(wavelength) for wavelength in nm)]
    data = [
        f'{number} "{name}" ' + " ".join(f"{value:.{decimals}f}" for value in values)
        for number, (name, values) in enumerate(rows, start=1)
    ]
    return (
        'CGATS.17\nORIGINATOR "invented"\nDESCRIPTOR "invented readings"\nCREATED "2026-02-03"\n'
        f"{head}NUMBER_OF_FIELDS {len(fields)}\nBEGIN_DATA_FORMAT\n{' '.join(fields)}\nEND_DATA_FORMAT\n"
        f"NUMBER_OF_SETS {len(data)}\nBEGIN_DATA\n" + "\n".join(data) + "\nEND_DATA\n"
    )


def cgats_lab(rows: Sequence[tuple[str, tuple[float, float, float]]], head: str) -> str:
    """A CGATS.17 file of CIELAB values."""
    data = [f'"{name}" {L} {a} {b}' for name, (L, a, b) in rows]
    return (
        f"CGATS.17\n{head}BEGIN_DATA_FORMAT\nSAMPLE_NAME LAB_L LAB_A LAB_B\nEND_DATA_FORMAT\n"
        f"NUMBER_OF_SETS {len(data)}\nBEGIN_DATA\n" + "\n".join(data) + "\nEND_DATA\n"
    )


def cxf_spectrum(values: Sequence[float], start: int = 400, specification: str = "one") -> str:
    told = " ".join(f"{value:.6f}" for value in values)
    return (
        f'<cc:ReflectanceSpectrum ColorSpecification="{specification}" StartWL="{start}">{told}'
        "</cc:ReflectanceSpectrum>"
    )


def cxf_lab(lab: tuple[float, float, float], specification: str = "one") -> str:
    L, a, b = lab
    return (
        f'<cc:ColorCIELab ColorSpecification="{specification}"><cc:L>{L}</cc:L><cc:A>{a}</cc:A><cc:B>{b}</cc:B>'
        "</cc:ColorCIELab>"
    )


def cxf_specification(
    geometry: str = SPHERE_INCLUDED, step: int = 10, light: str = "D65", observer: str = "10_Degree", name: str = "one"
) -> str:
    return (
        f'<cc:ColorSpecification Id="{name}"><cc:TristimulusSpec><cc:Illuminant>{light}</cc:Illuminant>'
        f"<cc:Observer>{observer}</cc:Observer></cc:TristimulusSpec><cc:MeasurementSpec>"
        "<cc:MeasurementType>Spectrum_Reflectance</cc:MeasurementType>"
        f'<cc:GeometryChoice>{geometry}</cc:GeometryChoice><cc:WavelengthRange StartWL="400" Increment="{step}"/>'
        "</cc:MeasurementSpec></cc:ColorSpecification>"
    )


def cxf(objects: Sequence[tuple[str, str]], specifications: str | None = None) -> str:
    """A CxF3 file: objects as (name, what stands in their ColorValues)."""
    told = "".join(
        f'<cc:Object ObjectType="Standard" Name={quoteattr(name)} Id="o{number}">'
        f"<cc:CreationDate>2026-02-03T10:00:00</cc:CreationDate><cc:ColorValues>{values}</cc:ColorValues></cc:Object>"
        for number, (name, values) in enumerate(objects, start=1)
    )
    kept = cxf_specification() if specifications is None else specifications
    return (
        f'<?xml version="1.0" encoding="UTF-8"?>\n<cc:CxF xmlns:cc="{NAMESPACE}"><cc:FileInformation>'
        "<cc:Creator>invented</cc:Creator></cc:FileInformation><cc:Resources>"
        f"<cc:ObjectCollection>{told}</cc:ObjectCollection><cc:ColorSpecificationCollection>{kept}"
        "</cc:ColorSpecificationCollection></cc:Resources></cc:CxF>\n"
    )
