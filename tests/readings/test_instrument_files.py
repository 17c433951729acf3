"""Files of instruments come in whole: samples, repeats, steps, units, geometry, light, angles."""

from __future__ import annotations

import zipfile
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest

from finishmatch.colour import WAVELENGTHS_NM
from finishmatch.errors import InputError
from finishmatch.readings import read_readings, resolve_reading
from finishmatch.readings.geometry_names import aspecular_deg, geometry_named
from tests.helpers.instrument_files import (
    RING,
    SPHERE_EXCLUDED,
    SPHERE_INCLUDED,
    cgats,
    cgats_lab,
    cxf,
    cxf_lab,
    cxf_specification,
    cxf_spectrum,
    spectrum,
    steps,
)

Cli = Callable[..., object]
HOUSE = spectrum(0.5, WAVELENGTHS_NM)
GRIDS = [(400, 700, 10), (380, 730, 10), (360, 740, 5), (400, 700, 20), (380, 780, 5)]


def put(tmp_path: Path, text: str | bytes, name: str = "meter.txt") -> Path:
    path = tmp_path / name
    path.write_bytes(text if isinstance(text, bytes) else text.encode("utf-8"))
    return path


def nine(level: float) -> list[float]:
    return spectrum(level, steps(400, 700, 10))


# CGATS.17


@pytest.mark.parametrize("grid", GRIDS)
def test_cgats_spectra_of_every_step_come_onto_the_house_grid(tmp_path: Path, grid: tuple[int, int, int]) -> None:
    nm = steps(*grid)
    found = read_readings(put(tmp_path, cgats([("tin", spectrum(0.5, nm)), ("door", spectrum(0.3, nm))], nm)))
    assert list(found) == ["tin", "door"]
    np.testing.assert_allclose(found["tin"].reflectance, HOUSE, atol=1e-5)
    assert found["tin"].geometry == "45/0"
    assert found["tin"].source == tmp_path / "meter.txt"


@pytest.mark.parametrize(
    "field",
    [
        "SPECTRAL_NM{}",
        "SPECTRAL_{}",
        "NM_{}",
        "nm{}",
        "R_{}",
        "SPECTRAL_PCT_{}",
        "SPECTRAL_DEC{}",
        "{}",
        "SPEC_{}",
        "SPEC{}",
        "R{}",
        "{}nm",
        "SPECTRAL_NM_{}",
        "NM{}.0",
        "REFL_{}",
        "LAMBDA_{}",
    ],
)
def test_the_fields_are_known_however_instruments_write_them(tmp_path: Path, field: str) -> None:
    percent = 100 if "PCT" in field else 1
    nm = steps(400, 700, 10)
    text = cgats([("tin", [percent * value for value in spectrum(0.5, nm)])], nm, field=field)
    np.testing.assert_allclose(read_readings(put(tmp_path, text))["tin"].reflectance, HOUSE, atol=1e-5)


def announced(first: float, last: float, count: int, further: str = "") -> str:
    return f'SPECTRAL_BANDS "{count}"\nSPECTRAL_START_NM "{first}"\nSPECTRAL_END_NM "{last}"\n{further}'


def test_bands_that_are_only_counted_are_those_the_file_announces(tmp_path: Path) -> None:
    """SPEC_1 to SPEC_36, from SPECTRAL_START_NM to SPECTRAL_END_NM."""
    nm = steps(380, 730, 10)
    text = cgats([("tin", spectrum(0.5, nm))], list(range(1, 37)), announced(380, 730, 36), "SPEC_{}")
    np.testing.assert_allclose(read_readings(put(tmp_path, text))["tin"].reflectance, HOUSE, atol=1e-5)


def test_bands_between_whole_nanometres_lie_where_the_file_announces_them(tmp_path: Path) -> None:
    """As instruments of high resolution write: SPEC_380, SPEC_383, SPEC_387, … in steps of 3.33 nm."""
    nm = np.linspace(380, 730, 106)
    text = cgats([("tin", spectrum(0.5, nm.tolist()))], [round(x) for x in nm], announced(380, 730, 106), "SPEC_{}")
    np.testing.assert_allclose(read_readings(put(tmp_path, text))["tin"].reflectance, HOUSE, atol=1e-5)


@pytest.mark.parametrize(("norm", "scale"), [("100.0", 100.0), ("1.0", 1.0)])
def test_a_file_that_names_what_a_white_has_is_read_by_it_however_dark(tmp_path: Path, norm: str, scale: float) -> None:
    nm = steps(400, 700, 10)
    text = cgats([("black", [0.006 * scale] * 31)], nm, announced(400, 700, 31, f'SPECTRAL_NORM "{norm}"\n'), "SPEC_{}")
    np.testing.assert_allclose(read_readings(put(tmp_path, text))["black"].reflectance, 0.006)


def test_xyz_is_read_as_lab_in_the_light_it_tells(tmp_path: Path) -> None:
    head = 'ILLUMINANT "D65"\nOBSERVER "10"\n'
    text = cgats_lab([("white", (94.81, 100.0, 107.30))], head).replace("LAB_L LAB_A LAB_B", "XYZ_X XYZ_Y XYZ_Z")
    found = read_readings(put(tmp_path, text))["white"]
    assert (found.light, found.observer) == ("D65", 10)
    np.testing.assert_allclose(found.lab, [100, 0, 0], atol=0.02)
    assert any("one light only" in told for told in found.warnings)


def test_cgats_percent_is_known_by_its_values_and_told(tmp_path: Path) -> None:
    """Also where a deep black reads below 1.5 %: an instrument writes a file in one unit."""
    nm = steps(400, 700, 10)
    rows = [("white", [100 * value for value in spectrum(0.9, nm)]), ("black", [0.8] * len(nm))]
    found = read_readings(put(tmp_path, cgats(rows, nm)))
    np.testing.assert_allclose(found["black"].reflectance, 0.008)
    assert "read as percent" in found["white"].warnings[0]


def test_cgats_pairs_of_wavelength_and_value_are_read(tmp_path: Path) -> None:
    """ISO 28178: SPECTRAL_NM with SPECTRAL_DEC or SPECTRAL_PCT beside it."""
    nm = steps(400, 700, 20)
    fields = "SAMPLE_ID " + " ".join(["SPECTRAL_NM SPECTRAL_PCT"] * len(nm))
    row = "7 " + " ".join(f"{w} {100 * v:.4f}" for w, v in zip(nm, spectrum(0.5, nm), strict=True))
    text = f"CGATS.17\nBEGIN_DATA_FORMAT\n{fields}\nEND_DATA_FORMAT\nBEGIN_DATA\n{row}\nEND_DATA\n"
    np.testing.assert_allclose(read_readings(put(tmp_path, text))["7"].reflectance, HOUSE, atol=1e-5)


def test_cgats_repeats_of_a_name_are_kept(tmp_path: Path) -> None:
    nm = steps(400, 700, 10)
    found = read_readings(put(tmp_path, cgats([("tin", spectrum(v, nm)) for v in (0.5, 0.51, 0.49)], nm)))
    assert found["tin"].repeats.shape == (3, 31)
    assert found["tin"].spread_de00 is not None


def test_cgats_comments_quotes_and_wrapped_rows_are_read(tmp_path: Path) -> None:
    nm = steps(400, 700, 20)
    values = [f"{value:.5f}" for value in spectrum(0.5, nm)]
    text = (
        '# an invented file\nCGATS.17\nKEYWORD "SAMPLE_TYPE"\nDESCRIPTOR "a ""quoted"" word" # aside\n'
        "BEGIN_DATA_FORMAT\nSAMPLE_NAME\n" + " ".join(f"NM{w}" for w in nm) + "\nEND_DATA_FORMAT\nBEGIN_DATA\n"
        f'"wing, ""front"" left"  {" ".join(values[:9])}\n   {" ".join(values[9:])}\n\nEND_DATA\n'
    )
    found = read_readings(put(tmp_path, text.replace("\n", "\r\n").encode("utf-8-sig")))
    assert list(found) == ['wing, "front" left']
    np.testing.assert_allclose(found['wing, "front" left'].reflectance, HOUSE, atol=1e-4)


@pytest.mark.parametrize(
    ("head", "light", "observer", "doubtful"),
    [
        ('ILLUMINATION_NAME "D65"\nOBSERVER_ANGLE "10"\n', "D65", 10, False),
        ('WEIGHTING_FUNCTION "ILLUMINANT, A"\nOBSERVER "2 degree"\n', "A", 2, False),
        ('MEASUREMENT_SOURCE "Illumination=D50 ObserverAngle=2 WhiteBase=Abs"\n', "D50", 2, False),
        ('ILLUMINANT "FL11"\nOBSERVER "10"\n', "F11", 10, False),
        ('ILLUMINANT "LED-B3"\nOBSERVER "10"\n', "LED-B3", 10, False),
        ("", "D50", 2, True),
    ],
)
def test_cgats_lab_is_taken_under_the_light_it_tells(
    tmp_path: Path, head: str, light: str, observer: int, doubtful: bool
) -> None:
    found = read_readings(put(tmp_path, cgats_lab([("tin", (45.0, -5.0, -16.0))], head)))["tin"]
    assert (found.light, found.observer) == (light, observer)
    np.testing.assert_allclose(found.lab, [45, -5, -16])
    assert any("ISO 13655" in told for told in found.warnings) is doubtful


def test_cgats_tables_of_several_angles_are_kept_side_by_side(tmp_path: Path) -> None:
    nm = steps(400, 700, 10)
    levels = {15: 0.7, 25: 0.5, 45: 0.3, 75: 0.2, 110: 0.015}
    text = "".join(
        cgats([("flake", spectrum(v, nm))], nm, f'MEASUREMENT_GEOMETRY "45as{k}"\n') for k, v in levels.items()
    )
    found = read_readings(put(tmp_path, text))["flake"]
    assert list(found.angles) == list(levels)
    for angle, level in levels.items():
        np.testing.assert_allclose(found.angles[angle].reflectance, spectrum(level, WAVELENGTHS_NM), atol=1e-5)
    assert found.geometry == "45as45"
    assert "flake was read as 45as15, 45as25" in found.warnings[0]


# CxF3


@pytest.mark.parametrize("grid", GRIDS)
def test_cxf_spectra_of_every_step_come_onto_the_house_grid(tmp_path: Path, grid: tuple[int, int, int]) -> None:
    values = cxf_spectrum(spectrum(0.5, steps(*grid)), grid[0])
    found = read_readings(put(tmp_path, cxf([("tin", values)], cxf_specification(step=grid[2])), "meter.cxf"))
    np.testing.assert_allclose(found["tin"].reflectance, HOUSE, atol=1e-5)
    assert found["tin"].geometry == "di8"


@pytest.mark.parametrize(
    ("geometry", "wanted"), [(SPHERE_INCLUDED, "di8"), (SPHERE_EXCLUDED, "de8"), (RING, "45/0"), ("<cc:Odd/>", "")]
)
def test_cxf_tells_its_geometry(tmp_path: Path, geometry: str, wanted: str) -> None:
    text = cxf([("tin", cxf_spectrum(nine(0.5)))], cxf_specification(geometry))
    assert read_readings(put(tmp_path, text))["tin"].geometry == wanted


def test_cxf_objects_and_repeats_are_kept(tmp_path: Path) -> None:
    names = ("door", "wing & <boot>", "door")
    text = cxf([(name, cxf_spectrum(nine(0.3 + 0.01 * i))) for i, name in enumerate(names)])
    found = read_readings(put(tmp_path, text))
    assert {name: len(reading.repeats) for name, reading in found.items()} == {"door": 2, "wing & <boot>": 1}


def test_cxf_lab_alone_is_read_and_beside_a_spectrum_left(tmp_path: Path) -> None:
    both = cxf_lab((45, -5, -16), "lab") + cxf_spectrum(nine(0.5))
    told = cxf_specification() + cxf_specification(light="A", observer="2_Degree", name="lab")
    found = read_readings(put(tmp_path, cxf([("both", both), ("lab", cxf_lab((45, -5, -16), "lab"))], told)))
    assert found["both"].is_spectral
    assert (found["lab"].light, found["lab"].observer) == ("A", 2)
    np.testing.assert_allclose(found["lab"].lab, [45, -5, -16])


def test_cxf_lab_is_taken_in_the_first_light_that_is_known(tmp_path: Path) -> None:
    told = cxf_specification(light="D75", name="odd") + cxf_specification(name="one")
    text = cxf([("tin", cxf_lab((44, 0, 0), "odd") + cxf_lab((45, -5, -16)))], told)
    found = read_readings(put(tmp_path, text))["tin"]
    np.testing.assert_allclose(found.lab, [45, -5, -16])


def test_cxf_percent_is_known_for_the_whole_file(tmp_path: Path) -> None:
    text = cxf([("white", cxf_spectrum([87.0] * 31)), ("black", cxf_spectrum([0.8] * 31))])
    found = read_readings(put(tmp_path, text))
    np.testing.assert_allclose(found["black"].reflectance, 0.008)
    assert "read as percent" in found["black"].warnings[0]


def angles(pairs: dict[float, float]) -> str:
    """Specifications lit at 45°, seen at angles counted positive towards the light."""
    return "".join(
        cxf_specification(
            f"<cc:MultiAngle><cc:IlluminationAngle>45</cc:IlluminationAngle><cc:MeasurementAngle>{seen:g}"
            "</cc:MeasurementAngle></cc:MultiAngle>",
            name=f"as{aspecular:g}",
        )
        for aspecular, seen in pairs.items()
    )


def test_cxf_keeps_every_angle(tmp_path: Path) -> None:
    """ASTM E2194: lit at 45°, the gloss is at -45°, so that 0° looks 45° off it and 65° looks 110° off."""
    off = {-15.0: -60.0, 15.0: -30.0, 25.0: -20.0, 45.0: 0.0, 75.0: 30.0, 110.0: 65.0}
    values = "".join(cxf_spectrum([0.6 - 0.004 * abs(k)] * 31, 400, f"as{k:g}") for k in off)
    found = read_readings(put(tmp_path, cxf([("flake", values)], angles(off))))["flake"]
    assert set(found.angles) == {-15.0, 15.0, 25.0, 75.0, 110.0}
    assert found.geometry == "45/0"  # lit at 45°, seen at 0°
    np.testing.assert_allclose(found.reflectance, 0.42)
    np.testing.assert_allclose(found.angles[110].reflectance, 0.16)
    np.testing.assert_allclose(found.view("45as15").reflectance, 0.54)
    with pytest.raises(InputError, match="flake: was not read as 45as20; it was read as 45as-15, 45as15"):
        found.view("45as20")


def test_one_geometry_of_several_is_picked_by_name(tmp_path: Path) -> None:
    both = cxf_spectrum(nine(0.5)) + cxf_spectrum(nine(0.46), 400, "two")
    path = put(
        tmp_path, cxf([("tin: old", both)], cxf_specification() + cxf_specification(SPHERE_EXCLUDED, name="two"))
    )
    assert resolve_reading(str(path)).geometry == "di8"
    picked = resolve_reading(f"{path}@tin: old:de8")
    np.testing.assert_allclose(picked.reflectance, spectrum(0.46, WAVELENGTHS_NM), atol=1e-5)
    with pytest.raises(InputError, match="was not read as 45/0; it was read as di8, de8"):
        resolve_reading(f"{path}@tin: old:45/0")
    with pytest.raises(InputError, match="has no reading named 'cup:de8'"):
        resolve_reading(f"{path}@cup:de8")


# a table tells its geometry too


def test_a_csv_tells_its_geometry_in_a_column(tmp_path: Path) -> None:
    head = "name,geometry," + ",".join(f"{nm:g}" for nm in WAVELENGTHS_NM)
    row = ",".join(f"{value:.5f}" for value in HOUSE)
    found = read_readings(put(tmp_path, f"{head}\ntin,di8,{row}\ntin,45/0,{row}\ntin,di8,{row}\ncup,,{row}\n", "r.csv"))
    assert [(view.geometry, len(view.repeats)) for view in found["tin"].views] == [("di8", 2), ("45/0", 1)]
    assert found["cup"].geometry == ""
    lab = read_readings(put(tmp_path, "name,L,a,b,geometry\ntin,50,0,0,SCE\n", "l.csv"))["tin"]
    assert lab.geometry == "de8"


def test_a_geometry_that_is_none_is_told(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="line 2, column 'geometry': 'round' is not a geometry known here; write di8"):
        read_readings(put(tmp_path, "name,L,a,b,geometry\ntin,50,0,0,round\n", "l.csv"))


@pytest.mark.parametrize(
    ("text", "wanted"),
    [
        *(
            (text, "di8")
            for text in ("di8", "DI:8°", "d/8 SCI", "d:8 specular included", "Sphere Specular_Included", "SCI")
        ),
        *((text, "de8") for text in ("de8", "de:8°", "d/8 SCE", "D8 SPEX", "diffuse, specular excluded", "sce")),
        *((text, "45/0") for text in ("45/0", "0/45", "45°a:0°", "45-0", "0:45c", "45°/0°", "45x:0")),
        *((text, "45as15") for text in ("45as15", "as15", "45°:as15°", "as 15")),
        ("45as-15", "45as-15"),
        ("as110", "45as110"),
        *((text, "") for text in ("", "d/8", "round", "sphere", "45", "450/0", "sci and sce sphere", "included")),
    ],
)
def test_geometries_are_known_however_they_are_written(text: str, wanted: str) -> None:
    assert geometry_named(text) == wanted


def test_the_angle_off_the_gloss_is_read_from_the_name() -> None:
    assert aspecular_deg("45as110") == 110
    assert aspecular_deg("45as-15") == -15
    assert aspecular_deg("di8") is None


# every command that takes a reading takes these files


def test_the_commands_take_instruments_files(cli: Cli, tmp_path: Path) -> None:
    text = put(tmp_path, cgats([("tin", nine(0.5))], steps(400, 700, 10), 'MEASUREMENT_GEOMETRY "d/8 SCI"\n'))
    xml = put(tmp_path, cxf([("card", cxf_spectrum(nine(0.505))), ("other", cxf_spectrum(nine(0.2)))]), "meter.cxf")
    ran = cli("compare", text, f"{xml}@card", "--json")
    assert ran.status == 0, ran.err
    assert ran.json["warnings"] == []
    assert "holds 2 names (card, other)" in cli("compare", text, xml).error


def test_what_a_file_is_called_does_not_matter(tmp_path: Path) -> None:
    path = put(tmp_path, cxf([("tin", cxf_spectrum(nine(0.5)))]), "export.csv")
    assert read_readings(path)["tin"].is_spectral
    zipped = tmp_path / "export.cxf"
    with zipfile.ZipFile(zipped, "w") as archive:
        archive.write(path)
    with pytest.raises(InputError, match="is not"):
        read_readings(zipped)
