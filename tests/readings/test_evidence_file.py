"""An evidence file at the door, the shop's own kinds, and a target as a file: read rightly, or refused in one line."""

from __future__ import annotations

from functools import partial
from pathlib import Path
from tempfile import TemporaryDirectory

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from finishmatch.errors import InputError
from finishmatch.evidence import common_catalogue, shop_catalogue, weigh_evidence
from finishmatch.readings import read_readings
from finishmatch.readings.evidence_file import read_evidence
from finishmatch.readings.reading import TargetFacts
from finishmatch.readings.target_file import target_text
from tests.conftest import ROOT
from tests.helpers.door_files import HOUSE_NM, smooth, write
from tests.readings.test_rubbish import mangled, read_or_refused

CATALOGUE = common_catalogue()
COLUMNS = CATALOGUE.columns
FILE = (
    "name,kind,vehicle,year,pair,stirred,dried_days,polished,u95,note,L,a,b,light,observer\n"
    "tin,leftover tin,,1934,,yes,14,,,half dried,45,-5,-15,D65,10\ntin,,,,,,,,,,45.2,-5,-15,,\n"
    "door,exposed paint,,,door,,,before,0.5,,48,-5,-11,,\n"
)
many = settings(max_examples=120, derandomize=True, deadline=None, suppress_health_check=list(HealthCheck))


def read(tmp_path: Path, text: str) -> object:
    return read_evidence(write(tmp_path / "e.csv", text), COLUMNS)


def test_rows_of_one_name_are_repeats_and_a_condition_is_said_once(tmp_path: Path) -> None:
    tin, door = read(tmp_path, FILE)  # type: ignore[misc]
    assert (tin.name, tin.kind, tin.year, tin.conditions) == (
        "tin",
        "leftover tin",
        "1934",
        {"stirred": "yes", "dried_days": "14"},
    )
    assert tin.reading.repeats.shape == (2, 3)
    assert (door.pair, door.u95, door.conditions) == ("door", 0.5, {"polished": "before"})


def test_a_reading_may_stand_in_another_file_or_be_a_spectrum() -> None:
    samples = {sample.name: sample for sample in read_evidence(ROOT / "swatches/survivors.csv", COLUMNS)}
    np.testing.assert_allclose(
        samples["tin"].reading.repeats, read_readings(ROOT / "swatches/evidence.csv")["tin"].repeats
    )
    assert not samples["brochure"].reading.is_spectral


def test_a_sample_keeps_its_pictures_and_what_of_its_doubt_is_its_own(tmp_path: Path) -> None:
    """As its own rows say, else as the file does that its reading stands in."""
    colours = "name,L,a,b,u95,u95_own,picture\ntin,45,-5,-15,2.4,0.6,one.jpg\ntin,45.2,-5,-15,2.4,0.6,two.jpg\n"
    write(tmp_path / "seen.csv", colours + "door,47,-5,-12,2.4,,one.jpg\n")
    text = (
        "name,reading,L,a,b,u95,u95_own,picture,camera\nold tin,seen.csv@tin,,,,,,,\ndoor,seen.csv@door,,,,3,,,grey\n"
        "roof,,45,-5,-14,2,0.5, x.jpg;  y.jpg;,\nroof,,45,-5,-14,,,y.jpg,\nhood,,45,-5,-14,,,,\n"
        "worn,seen.csv@tin,,,,5,,,\nagain,seen.csv@tin,,,,,0.3,other.jpg,\n"
    )
    tin, door, roof, hood, worn, again = read(tmp_path, text)  # type: ignore[misc]
    assert (tin.u95, tin.u95_own, tin.pictures, tin.camera) == (2.4, 0.6, ("one.jpg", "two.jpg"), "grey")
    assert (door.u95, door.u95_own, door.pictures, door.camera) == (3, None, ("one.jpg",), "grey")
    assert (roof.u95, roof.u95_own, roof.pictures) == (2, 0.5, ("x.jpg", "y.jpg"))
    assert (hood.u95, hood.u95_own, hood.pictures, hood.of_photographs) == (None, None, (), False)
    assert (worn.u95, worn.u95_own, worn.pictures) == (5, None, ("one.jpg", "two.jpg"))
    assert (again.u95, again.u95_own, again.pictures) == (2.4, 0.3, ("other.jpg",))


def test_a_photograph_is_by_the_camera_that_any_of_its_rows_names(tmp_path: Path) -> None:
    rows = "tin,45,-5,9,2,a.jpg,grey phone\nrim,44,-5,9,2,b.jpg; a.jpg,\nhood,44,-5,9,2,b.jpg,\n"
    cameras = [one.camera for one in read(tmp_path, "name,L,a,b,u95,picture,camera\n" + rows)]  # type: ignore[attr-defined]
    assert cameras == ["grey phone", "grey phone", ""]


def test_spectra_lab_and_percent_in_one_file(tmp_path: Path) -> None:
    nm = ",".join(map(str, HOUSE_NM))
    spectrum = ",".join(f"{100 * value:.4f}" for value in smooth(HOUSE_NM))
    text = f"name,kind,L,a,b,{nm}\ntin,tin,,,,{spectrum}\nchip,chip,45,-5,-15{',' * len(HOUSE_NM)}\n"
    tin, chip = read(tmp_path, text)  # type: ignore[misc]
    np.testing.assert_allclose(tin.reading.reflectance, smooth(HOUSE_NM), atol=1e-5)
    assert "read as percent" in tin.reading.warnings[0]
    assert chip.reading.lab.tolist() == [45, -5, -15]


WRONG = {
    "name,kind\ntin,tin\n": "there are no readings; add the columns L,a,b",
    "name,kind,L,a,b,colour\ntin,tin,1,2,3,x\n": "line 1: the column 'colour' is not known here; use name, kind",
    "name,kind,L,a\ntin,tin,45,1\n": "there are no readings",
    "name,kind,L,a,b\ntin,tin,45,-5,\n": "line 2, column 'b': is empty",
    "name,kind,L,a,b\ntin,tin,,,\n": "line 2: holds no reading; fill in",
    "name,kind,L,a,b\ntin,tin,45,-5,900\n": "900 is too large",
    "name,L,a,b,picture\ntin,45,-5,9,roof.jpg\n": "line 2, column 'picture': is given, but not how surely its",
    "name,L,a,b,camera\ntin,45,-5,9,phone\n": "line 2, column 'camera': is given, but not how surely its colour is",
    "name,L,a,b,u95_own,picture\ntin,45,-5,9,1,a.jpg\n": "column 'picture': is given, but not how surely its colour is",
    "name,L,a,b,u95,u95_own\ntin,45,-5,9,2,1\n": "line 2, column 'u95_own': is given, but no picture is named; name it",
    "name,L,a,b,u95,u95_own,picture\ntin,45,-5,9,2,3,a.jpg\n": "column 'u95_own': is more than u95, of which it is a",
    "name,L,a,b,u95,u95_own,picture\ntin,45,-5,9,2,-1,a.jpg\n": "line 2, column 'u95_own': -1 is too small",
    "name,L,a,b,u95,picture,camera\ntin,45,-5,9,2,a.jpg,x\nrim,4,5,9,2,a.jpg,y\n": "line 3: has a.jpg by the camera",
    "name,L,a,b,u95,camera\ntin,45,-5,9,2,x\ntin,45,-5,9,2,y\n": "column 'camera': the rows of 'tin' say 'x' and 'y'",
    "name,kind,L,a,b\ntin,tin,4,5,6\ntin,chip,4,5,6\n": "line 3, column 'kind': the rows of 'tin' say 'chip' and 'tin'",
    "name,kind,u95,L,a,b\ntin,tin,-1,45,-5,-15\n": "line 2, column 'u95': -1 is too small",
    "name,kind,light,L,a,b\ntin,tin,D66,45,-5,-15\n": "column 'light': 'D66' is not a light known here",
    "name,reading,L,a,b\ntin,x.csv,45,-5,-15\n": "line 2: 'tin' is given as Lab and as reading; keep one way",
    "name,reading\ntin,nowhere.csv\n": "line 2, column 'reading': ",
    "name,reading\ntin,x.csv\ntin,y.csv\n": "'tin' names two",
    "name,kind,L,a,b\n,tin,45,-5,-15\n": "line 2, column 'name': is empty",
}


@pytest.mark.parametrize("text", WRONG)
def test_what_is_wrong_is_named_by_line_and_column(tmp_path: Path, text: str) -> None:
    with pytest.raises(InputError) as caught:
        read(tmp_path, text)
    assert WRONG[text] in str(caught.value)


@many
@given(mangled((FILE,)))
def test_a_file_nearly_right_is_weighed_or_refused(data: bytes) -> None:
    with TemporaryDirectory() as folder:
        path = Path(folder) / "e.csv"
        path.write_bytes(data)
        samples = read_or_refused(read_evidence, path, COLUMNS)
        found = samples and read_or_refused(
            partial(weigh_evidence, forecast=False), samples, CATALOGUE, CATALOGUE.use("touch-in")
        )
    if not found:
        return
    assert np.isfinite(found.colours[0].lab).all()
    assert 0 < found.colours[0].u95 < 1000


@many
@given(
    st.text(max_size=80)
    | st.sampled_from(["[settings]\n", "[[kind]]\n", "[effect.x]\nL=[1,2]\n"]).map(lambda t: t + "a=1")
)
def test_a_shops_file_of_any_kind(text: str) -> None:
    found = read_or_refused(shop_catalogue, text, "own.toml")
    assert found is None or len(found.kinds) >= len(CATALOGUE.kinds)


FACTS = TargetFacts(0.8, 0.75, np.array([[0.2, 0.01, 0.0], [0.01, 0.1, 0.02], [0.0, 0.02, 0.3]]))


@pytest.mark.parametrize("spectral", [True, False])
def test_a_target_comes_back_from_its_file(tmp_path: Path, spectral: bool) -> None:
    reflectance = np.round(smooth(HOUSE_NM), 6) if spectral else None
    text = target_text('Blue, "old"', np.array([45.0, -5, -15]), reflectance, FACTS, ("A", 2), "two\nlines")
    (reading,) = read_readings(write(tmp_path / "t.csv", text)).values()
    assert reading.name == 'Blue, "old"'
    assert reading.target is not None
    assert (reading.target.tolerance, reading.target.u95) == (0.8, 0.75)
    np.testing.assert_allclose(reading.target.covariance, FACTS.covariance, atol=1e-6)
    if spectral:
        np.testing.assert_allclose(reading.reflectance, reflectance, atol=1e-12)
    else:
        assert (reading.light, reading.observer) == ("A", 2)


@pytest.mark.parametrize(
    ("columns", "cells", "told"),
    [
        ("tolerance", "0", "column 'tolerance': 0 is too small"),
        ("tolerance", "x", "column 'tolerance': 'x' is not a number"),
        ("u95", "-1", "column 'u95': -1 is too small"),
        ("cov_LL", "1", "cov_"),
        ("cov_LL,cov_La,cov_Lb,cov_aa,cov_ab,cov_bb", "1,5,0,1,0,1", "they are not a covariance"),
    ],
)
def test_a_target_file_that_is_wrong_is_refused(tmp_path: Path, columns: str, cells: str, told: str) -> None:
    path = write(tmp_path / "t.csv", f"name,L,a,b,{columns}\nblue,45,-5,-15,{cells}\n")
    with pytest.raises(InputError) as caught:
        read_readings(path)
    assert told in str(caught.value)


def test_a_reading_of_something_else_among_repeats_is_named(tmp_path: Path) -> None:
    path = tmp_path / "evidence.csv"
    path.write_text(
        "name,kind,L,a,b\n" + "".join(f"tin,leftover tin,{lab}\n" for lab in ("50,-3,4", "50.2,-3,4", "70,3,9"))
    )
    (sample,) = read_evidence(path)
    assert len(sample.reading.repeats) == 2
    assert any("line 4: ΔE00" in warning for warning in sample.reading.warnings)
