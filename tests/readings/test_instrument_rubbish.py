"""Damaged, huge and hostile files of instruments are refused in one line; no rubbish brings the program down."""

from __future__ import annotations

import time
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from finishmatch.errors import InputError
from finishmatch.readings import read_readings
from finishmatch.readings.cxf import MAX_BYTES
from tests.helpers.instrument_files import (
    cgats,
    cgats_lab,
    cxf,
    cxf_lab,
    cxf_specification,
    cxf_spectrum,
    spectrum,
    steps,
)

NM = steps(400, 700, 10)
GOOD_TEXT = cgats([("tin", spectrum(0.5, NM)), ("door", spectrum(0.3, NM))], NM)
GOOD_XML = cxf([("tin", cxf_spectrum(spectrum(0.5, NM))), ("door", cxf_lab((50, 1, 2)))])
LINES = GOOD_TEXT.splitlines()

BOMB = (
    '<?xml version="1.0"?><!DOCTYPE b [<!ENTITY a "ha">'
    + "".join(f'<!ENTITY {chr(98 + i)} "{f"&{chr(97 + i)};" * 10}">' for i in range(9))
    + "]><CxF>&j;</CxF>"
)
EXTERNAL = '<!DOCTYPE x [<!ENTITY e SYSTEM "file:///etc/hostname">]><CxF><Object Name="a">&e;</Object></CxF>'
OUTSIDE_DTD = '<?xml version="1.0"?><!DOCTYPE CxF SYSTEM "other.dtd"><CxF/>'
HOSTILE = "declares a document type or entities, which no reading needs"


def announced(first: float, last: float, count: object) -> str:
    head = f'SPECTRAL_BANDS "{count}"\nSPECTRAL_START_NM "{first}"\nSPECTRAL_END_NM "{last}"\n'
    return cgats([("tin", spectrum(0.2, NM))], NM, head, "SPEC_{}")


def swapped(old: str, new: str, text: str = GOOD_TEXT) -> str:
    assert old in text
    return text.replace(old, new, 1)


def one(values: str, specification: str | None = None) -> str:
    return cxf([("tin", values)], specification)


TEXTS: dict[str, tuple[str | bytes, str]] = {
    "cut in the samples": ("\n".join(LINES[:-1]), "the file ends before END_DATA; it was cut short"),
    "cut in a sample": ("\n".join([*LINES[:-2], LINES[-2][:40]]), "the file ends before END_DATA"),
    "cut in the fields": ("\n".join(LINES[:8]), "the file ends before END_DATA_FORMAT"),
    "cut before the samples": ("\n".join(LINES[:10]), "has no table of samples (BEGIN_DATA)"),
    "head alone": ("CGATS.17\n", "has no table of samples"),
    "a sample lost": (swapped("NUMBER_OF_SETS 2", "NUMBER_OF_SETS 3"), "NUMBER_OF_SETS says 3 and there are 2"),
    "a field lost": (
        swapped("NUMBER_OF_FIELDS 33", "NUMBER_OF_FIELDS 34"),
        "NUMBER_OF_FIELDS says 34 and there are 33",
    ),
    "a value lost": (
        GOOD_TEXT.replace('"tin" 0.400000 ', '"tin" '),
        "line 12: has 32 values where 33 fields are named",
    ),
    "the last value lost": ("\n".join([*LINES[:-2], LINES[-2][:-9], LINES[-1]]), "line 13: has 32 values where 33"),
    "a value too many": (swapped('"tin" ', '"tin" 0.5 '), "line 12: has 34 values where 33 fields are named"),
    "text for a number": (swapped('"tin" 0.400000', '"tin" grey'), "line 12: 'grey' is not a number"),
    "a decimal comma": (swapped('"tin" 0.400000', '"tin" 0,4'), "'0,4' is not a number; write it with a decimal point"),
    "nan": (swapped('"tin" 0.400000', '"tin" nan'), "'nan' is not a number"),
    "beyond all bounds": (swapped('"tin" 0.400000', '"tin" 1e999'), "a number beyond all bounds"),
    "below zero": (swapped('"tin" 0.400000', '"tin" -0.2'), "line 12, 400 nm: a reflectance of -0.2 is below 0"),
    "above all paint": (swapped('"tin" 0.400000', '"tin" 1.3'), "line 12, 400 nm: a reflectance of 1.3 is above 1.2"),
    "an open quote": (swapped('"tin"', '"tin'), "line 12: has a quote that isn't closed"),
    "uneven steps": (swapped("SPECTRAL_NM410", "SPECTRAL_NM415"), "the wavelengths go from 400 to 415 nm"),
    "too few steps": (cgats([("t", [0.5] * 11)], steps(400, 500, 10)), "the wavelengths cover 400 to 500 nm"),
    "columns that look like a spectrum": (
        GOOD_TEXT.replace("SPECTRAL_NM", "CHANNEL_"),
        "line 7: the columns CHANNEL_400 to CHANNEL_700 look like a spectrum, and are not known here; name them",
    ),
    "columns that look like a spectrum beside a Lab": (
        cgats_lab([("t", (50, 0, 0))], "")
        .replace("LAB_B\n", "LAB_B " + " ".join(f"Q{nm}" for nm in NM) + "\n")
        .replace('"t" 50 0 0', '"t" 50 0 0' + " 0.2" * len(NM)),
        "the columns Q400 to Q700 look like a spectrum",
    ),
    "bands without their wavelengths": (
        cgats([("t", [0.5] * 31)], list(range(1, 32)), field="SPEC_{}"),
        "the columns SPEC_1 to SPEC_31 look like a spectrum",
    ),
    "another count of bands than announced": (
        announced(400, 700, 36),
        "36 bands are announced and 31 columns are there",
    ),
    "other wavelengths than announced": (announced(380, 680, 31), "380 to 680 nm, and column 1 says 400"),
    "bands announced in words": (announced(400, 700, "many"), "SPECTRAL_BANDS is 'many'"),
    "the spectrum of a lamp": (
        cgats([("t", [0.5] * 31)], steps(400, 700, 10), 'MEAS_TYPE "EMISSION"\n'),
        "is a measurement of light (MEAS_TYPE EMISSION); measure the paint",
    ),
    "a black in percent, or a light grey": (
        cgats([("t", [0.62] * 31)], steps(400, 700, 10)),
        "from 0.62 to 0.62: a light grey in fractions, or a black in percent? For percent add the line SPECTRAL_NORM",
    ),
    "a white not known": (
        cgats_lab([("t", (50, 50, 50))], 'ILLUMINANT_WHITE_POINT_XYZ "1 1 1"\n').replace(
            "LAB_L LAB_A LAB_B", "XYZ_X XYZ_Y XYZ_Z"
        ),
        "its colours are for a light not known here; export spectra",
    ),
    "samples before fields": ("CGATS.17\nBEGIN_DATA\n1 2\nEND_DATA\n", "the samples come before their fields"),
    "no colours": (
        "CGATS.17\nBEGIN_DATA_FORMAT\nSAMPLE_ID CMYK_C\nEND_DATA_FORMAT\nBEGIN_DATA\n1 50\nEND_DATA\n",
        "holds no sample that can be read",
    ),
    "a light not known": (
        cgats_lab([("t", (50, 0, 0))], 'ILLUMINANT "D75"\nOBSERVER "10"\n'),
        "its Lab is under D75 for 10°, not known here; export spectra",
    ),
    "no colour of this world": (cgats_lab([("t", (50, 900, 0))], ""), "line 7: 50,900,0 is not a CIELAB colour"),
    "not text": (b"CGATS.17\n\xff\xfe\x80", "is not UTF-8 text"),
    "a bomb of entities": (BOMB, HOSTILE),
    "an entity from outside": (EXTERNAL, HOSTILE),
    "a document type from outside": (OUTSIDE_DTD, HOSTILE),
    "cut XML": (GOOD_XML[:700], "is damaged XML (column"),
    "no XML at all": ("<", "line 1: is damaged XML"),
    "XML of another kind": ('<?xml version="1.0"?><svg/>', "is XML of another kind ('svg'); export it as CxF3, CGATS"),
    "an unknown encoding": ('<?xml version="1.0" encoding="x-mars"?><CxF/>', "is "),
    "an encoding that isn't true": (GOOD_XML.replace("tin", "tïn").encode("latin-1"), "is damaged XML"),
    "no objects": (cxf([]), "holds no sample that can be read"),
    "an object in another": (
        GOOD_XML.replace("</cc:ColorValues>", '<cc:Object Name="x"/></cc:ColorValues>', 1),
        "has one Object within another",
    ),
    "no steps": (
        one(cxf_spectrum(spectrum(0.5, NM)), ""),
        "object 'tin': doesn't say where its spectrum starts, or its steps",
    ),
    "steps of nothing": (one(cxf_spectrum([0.5] * 31), cxf_specification(step=0)), "31 values in steps of 0 nm"),
    "XML with text for a number": (one(cxf_spectrum([0.5] * 31).replace("0.500000", "grey")), "'grey' is not a number"),
    "XML with nan": (one(cxf_spectrum([0.5] * 31).replace("0.500000", "NaN")), "'NaN' is not a number"),
    "XML below zero": (one(cxf_spectrum([-0.5] * 31)), "400 nm: a reflectance of -0.5 is below 0"),
    "XML above all paint": (one(cxf_spectrum([1.4] * 31)), "a reflectance of 1.4 is above 1.2"),
    "an empty spectrum": (one(cxf_spectrum([])), "has a spectrum of 0 values"),
    "an endless spectrum": (one(cxf_spectrum([0.5] * 1500)), "has a spectrum of 1500 values"),
    "half a Lab": (one("<cc:ColorCIELab><cc:L>50</cc:L></cc:ColorCIELab>"), "'' is not a number"),
    "a Lab of no colour": (one(cxf_lab((500, 0, 0))), "500,0,0 is not a CIELAB colour"),
    "a Lab in a light not known": (
        one(cxf_lab((50, 0, 0)), cxf_specification(light="D75")),
        "its Lab is under D75, 10_Degree, not known here",
    ),
    "repeats in two lights": (
        cxf(
            [("t", cxf_lab((50, 0, 0))), ("t", cxf_lab((50, 0, 0), "two"))],
            cxf_specification() + cxf_specification(light="A", name="two"),
        ),
        "the repeats of 't' differ in light or observer",
    ),
}


@pytest.mark.parametrize("name", TEXTS)
def test_what_is_wrong_is_told_in_one_line(name: str, cli: Callable[..., object], tmp_path: Path, home: Path) -> None:
    text, told = TEXTS[name]
    path = tmp_path / "meter.txt"
    path.write_bytes(text if isinstance(text, bytes) else text.encode("utf-8"))
    error = cli("compare", path, "50,0,0").error
    assert error.startswith(f"finishmatch: {path}")
    assert told in error
    assert len(error) < 400
    assert not any(home.iterdir())


def refused(path: Path, match: str) -> float:
    """Return how long a refusal took, s."""
    start = time.perf_counter()
    with pytest.raises(InputError, match=match):
        read_readings(path)
    return time.perf_counter() - start


def test_huge_files_are_refused_before_they_are_taken_apart(tmp_path: Path) -> None:
    path = tmp_path / "huge.cxf"
    with path.open("wb") as file:
        file.write(b'<?xml version="1.0"?><CxF>')
        file.truncate(MAX_BYTES + 1)
    assert refused(path, "is larger than 8 MB; export fewer samples at a time") < 2
    with path.open("wb") as file:
        file.write(b"CGATS.17\n")
        file.truncate(60_000_000)
    assert refused(path, "is larger than 20 MB") < 2


def test_deep_and_wide_xml_is_answered_in_time(tmp_path: Path) -> None:
    path = tmp_path / "deep.cxf"
    path.write_text("<CxF>" + "<a>" * 100_000 + "</a>" * 100_000 + "</CxF>", "utf-8")
    assert refused(path, "holds no sample") < 5
    path.write_text("<CxF>" + '<Object Name="x">' * 30_000 + "</Object>" * 30_000 + "</CxF>", "utf-8")
    assert refused(path, "holds more than 20000 samples") < 5
    path.write_text("<CxF>" + '<Object Name="x">' * 15_000 + "</Object>" * 15_000 + "</CxF>", "utf-8")
    assert refused(path, "has one Object within another") < 5
    nest = "<GeometryChoice>" * 20_000 + "</GeometryChoice>" * 20_000
    path.write_text(f'<CxF><ColorSpecification Id="a">{nest}</ColorSpecification></CxF>', "utf-8")
    assert refused(path, "holds no sample") < 5


def test_no_file_outside_is_read_for_an_entity(tmp_path: Path) -> None:
    secret = tmp_path / "secret.txt"
    secret.write_text("0.1 0.2", "utf-8")
    path = tmp_path / "e.cxf"
    path.write_text(
        f'<!DOCTYPE CxF [<!ENTITY e SYSTEM "{secret.as_uri()}">]><CxF><Object Name="a">'
        '<ReflectanceSpectrum StartWL="400" Increment="10">&e;</ReflectanceSpectrum></Object></CxF>',
        "utf-8",
    )
    refused(path, "don't trust this file")


@pytest.fixture(scope="module")
def scratch(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("rubbish") / "meter.any"


def answered(path: Path, data: bytes) -> None:
    """See that bytes are read as sound readings, or refused in one line."""
    path.write_bytes(data)
    told = ""
    try:
        readings = read_readings(path)
    except InputError as error:
        readings, told = {}, str(error)
    assert bool(readings) != bool(told)
    assert "\n" not in told
    for reading in readings.values():
        assert np.isfinite(reading.repeats).all()
        assert reading.repeats.shape[1] in (3, 31)


PIECES = [
    "<CxF>",
    "</CxF>",
    "BEGIN_DATA\n",
    "END_DATA\n",
    "NaN",
    "1e999",
    '"',
    "\n",
    "\0",
    "&a;",
    "-",
    "#",
    "é",
    "0 " * 40,
]


@settings(max_examples=150, deadline=None, derandomize=True)
@given(
    good=st.sampled_from([GOOD_TEXT, GOOD_XML]),
    changes=st.lists(
        st.tuples(st.floats(0, 1), st.integers(0, 40), st.sampled_from(PIECES) | st.text(max_size=6)), max_size=4
    ),
    end=st.floats(0.2, 1),
)
def test_a_good_file_spoilt_is_read_or_refused(
    scratch: Path, good: str, changes: list[tuple[float, int, str]], end: float
) -> None:
    text = good[: int(end * len(good))] if end < 0.9 else good
    for place, length, piece in changes:
        at = int(place * len(text))
        text = text[:at] + piece + text[at + length :]
    answered(scratch, text.encode("utf-8", "surrogatepass"))


@settings(max_examples=150, deadline=None, derandomize=True)
@given(
    head=st.sampled_from([b"CGATS.17\n", b"<CxF>", b"<?xml version='1.0'?>", b"\xff\xfe<\0", b""]),
    tail=st.binary(max_size=300),
)
def test_any_bytes_are_read_or_refused(scratch: Path, head: bytes, tail: bytes) -> None:
    answered(scratch, head + tail)


WORDS = st.sampled_from(
    [
        "BEGIN_DATA_FORMAT",
        "END_DATA_FORMAT",
        "BEGIN_DATA",
        "END_DATA",
        "NUMBER_OF_SETS",
        "NUMBER_OF_FIELDS",
        "SAMPLE_ID",
        "SAMPLE_NAME",
        "LAB_L",
        "LAB_A",
        "LAB_B",
        "SPECTRAL_NM",
        "SPECTRAL_PCT",
        "NM400",
        "NM410",
        "KEYWORD",
        "ILLUMINANT",
        "OBSERVER",
        "D65",
        "A",
        "10",
        "0.5",
        "50",
        "-3",
        '"x_y"',
        "1",
        "2",
        "3",
    ]
)


@settings(max_examples=150, deadline=None, derandomize=True)
@given(st.lists(st.lists(WORDS, min_size=1, max_size=8), max_size=14))
def test_the_words_of_the_format_in_any_order_are_read_or_refused(scratch: Path, lines: list[list[str]]) -> None:
    answered(scratch, ("CGATS.17\n" + "\n".join(" ".join(words) for words in lines)).encode())
