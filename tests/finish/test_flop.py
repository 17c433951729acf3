"""Readings at several angles: compared one by one, and the flop by its formula."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from finishmatch.colour import de00, reflectance_to_lab
from finishmatch.errors import InputError
from finishmatch.finish.flop import compare_angles, flop_index
from finishmatch.readings.angles_file import read_angles, resolve_angles

LABS = np.array([[88.2, -6.1, -22.4], [41.3, -4.2, -22.8], [21.8, -0.6, -16.9]])
ANGLES = (15.0, 45.0, 110.0)


def test_the_flop_index_is_almans() -> None:
    """Alman 1987 (from memory): 2.69 (L15 - L110)^1.11 / L45^0.86, by hand: 66.4^1.11 = 105.35, 41.3^0.86 = 24.53."""
    assert flop_index(88.2, 41.3, 21.8) == pytest.approx(2.69 * 105.35 / 24.53, rel=2e-3)
    assert flop_index(50, 50, 50) == 0
    assert flop_index(40, 50, 60) == 0


def test_every_angle_is_compared_by_itself() -> None:
    trial = np.add(LABS, [[-5.2, 0.1, 0.5], [0.6, -0.1, 0.1], [2.3, -0.2, -0.5]])
    found = compare_angles((ANGLES, LABS), (ANGLES, trial))
    assert [one.angle for one in found.angles] == list(ANGLES)
    assert [one.de00 for one in found.angles] == pytest.approx(list(de00(LABS, trial)))
    assert found.worst.angle == 15
    assert found.angles[0].words[0] == "darker"
    assert found.angles[0].delta["L"] == pytest.approx(-5.2)
    assert found.trial_flop < found.standard_flop  # type: ignore[operator]


def test_only_common_angles_are_compared_and_the_flop_needs_its_three() -> None:
    found = compare_angles((ANGLES, LABS), ((14.8, 45.2, 75.0), LABS))
    assert [one.angle for one in found.angles] == [15, 45]
    assert found.left_out == (75, 110)
    assert found.trial_flop is None
    assert found.standard_flop is not None
    with pytest.raises(InputError, match="read at different angles: 15° and 25°"):
        compare_angles(((15.0,), LABS[:1]), ((25.0,), LABS[:1]))


def test_a_black_has_no_flop_index() -> None:
    with pytest.raises(InputError, match="some lightness"):
        flop_index(10, 0, 0)


def test_a_file_of_angles_is_read_and_repeats_are_averaged(tmp_path: Path) -> None:
    file = tmp_path / "flake.csv"
    file.write_text("name,angle,L,a,b\nx,45,40,0,0\nx,15,90,1,2\nx,15,92,3,4\ny,15,50,0,0\n", "utf-8")
    found = read_angles(file)["x"]
    assert found.angles == (15, 45)
    np.testing.assert_allclose(found.labs, [[91, 2, 3], [40, 0, 0]])
    assert resolve_angles(f"{file}@y", "D65", 10).angles == (15,)
    with pytest.raises(InputError, match="holds several colours"):
        resolve_angles(str(file), "D65", 10)
    with pytest.raises(InputError, match="the file has no 'z'"):
        resolve_angles(f"{file}@z", "D65", 10)


def test_spectra_at_angles_are_seen_in_the_light(tmp_path: Path) -> None:
    """Flake near the gloss sends back more than a white, which a reading of a solid colour may not."""
    file = tmp_path / "flake.csv"
    bands = list(range(400, 701, 10))
    values = np.linspace(2.0, 1.0, 31)
    rows = [",".join(["name", "angle", *map(str, bands)]), ",".join(["x", "15", *(f"{v:.4f}" for v in values)])]
    file.write_text("\n".join(rows) + "\n", "utf-8")
    lab = read_angles(file, "A", 2)["x"].labs[0]
    np.testing.assert_allclose(lab, reflectance_to_lab(np.round(values, 4), "A", 2), atol=1e-6)


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("name,L,a,b\nx,1,2,3\n", "no column 'angle'"),
        ("name,angle,L,a,b\nx,400,40,0,0\n", "too large"),
        ("name,angle,L,a,b\nx,,40,0,0\n", "is empty"),
        ("name,angle,L,a,b,c\nx,15,40,0,0,1\n", "'c' is not known here"),
        ("name,angle,L,a\nx,15,40,0\n", "no column 'b'"),
        ("name,angle,geometry,400,500\nx,15,1,1,1\n", "'geometry' is not known here"),
    ],
)
def test_a_file_of_angles_that_is_wrong_is_refused(text: str, message: str, tmp_path: Path) -> None:
    file = tmp_path / "flake.csv"
    file.write_text(text, "utf-8")
    with pytest.raises(InputError, match=message):
        read_angles(file)


def test_geometries_of_an_instrument_are_angles_too(tmp_path: Path) -> None:
    """Lit at 45°, seen 15°, 45° and 110° off the gloss (ASTM E2194)."""
    file = tmp_path / "flake.csv"
    rows = [f"x,{lab[0]},{lab[1]},{lab[2]},45as{angle:g}" for angle, lab in zip(ANGLES, LABS, strict=True)]
    file.write_text("\n".join(["name,L,a,b,geometry", *rows, "y,50,0,0,di8"]) + "\n", "utf-8")
    found = resolve_angles(f"{file}@x", "D65", 10)
    assert found.angles == ANGLES
    np.testing.assert_allclose(found.labs, LABS)
    with pytest.raises(InputError, match="not read at several angles"):
        resolve_angles(f"{file}@y", "D65", 10)


def test_mix_says_that_it_does_not_know_flake(cli: Callable[..., Any], swatches: Path, tmp_path: Path) -> None:
    file = tmp_path / "flake.csv"
    rows = [f"x,{lab},-5,-15,45as{angle:g}" for angle, lab in zip(ANGLES, (80, 45, 25), strict=True)]
    file.write_text("\n".join(["name,L,a,b,geometry", *rows]) + "\n", "utf-8")
    ran = cli("mix", file, "--bank", swatches / "bank", "--grams", 500, "--max-tints", 3, "--json")
    assert any("doesn't know flake or pearl" in warning for warning in ran.json["warnings"])
    table = swatches / "plan/metallic.csv"
    refused = cli("mix", f"{table}@standard", "--bank", swatches / "bank", "--grams", 500).error
    assert "holds readings at several angles" in refused
