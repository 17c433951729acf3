"""Files of a general-purpose measuring program are read, and their XYZ agrees with what that program makes of them.

The outside truth: Debian's package `argyll` (https://packages.debian.org/argyll), whose `txt2ti3` writes such files and
whose `spec2cie` computes XYZ of their spectra from its own tables of lights and observers.
"""

from __future__ import annotations

import re
import shutil
import subprocess
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest

from finishmatch.colour import Floats, lab_to_xyz, reflectance_to_xyz, white_point
from finishmatch.readings import read_bank, read_readings
from finishmatch.readings.cgats_text import read_tables
from tests.conftest import ROOT
from tests.helpers.instrument_files import cgats, steps

WITHIN = 0.02  # of XYZ, the white's Y being 100
ABRIDGED = 0.03  # where a spectrum ends at 400 nm, what lies below is guessed, and here it is held as ASTM E308 has it
OBSERVER_THERE = {2: "1931_2", 10: "1964_10"}
GRIDS = {"380 to 730 nm": (380, 730, WITHIN), "400 to 700 nm": (400, 700, ABRIDGED)}


def run(*command: str | Path) -> None:
    """Run one of the tools."""
    assert shutil.which(str(command[0])), "install the Debian package argyll"
    subprocess.run(command, check=True, capture_output=True, timeout=60)


def paints() -> Floats:
    """Spectra of the invented bank's panels, shape (n, 31): the first reading of every ninth."""
    return np.array([panel.repeats[0] for panel in read_bank(ROOT / "swatches/bank").panels[::9]])


def wider(spectra: Floats, first: int, last: int) -> Floats:
    """Spectra that go on evenly beyond the house grid."""
    return np.pad(spectra, ((0, 0), ((400 - first) // 10, (last - 700) // 10)), mode="edge")


@pytest.fixture
def measured(tmp_path: Path) -> Callable[[int, int], tuple[Path, Floats]]:
    """Make a file of the tools' own, and return it with its spectra in percent."""

    def make(first: int, last: int) -> tuple[Path, Floats]:
        values = 100 * wider(paints(), first, last)
        rows = [(f"panel {i}", row.tolist()) for i, row in enumerate(values)]
        text = cgats(rows, steps(first, last, 10), decimals=4)
        # the tool wants the values of a printer beside the spectra
        inks = "CMYK_C CMYK_M CMYK_Y CMYK_K "
        text = text.replace("SAMPLE_NAME ", f"SAMPLE_NAME {inks}").replace("NUMBER_OF_FIELDS ", "# ")
        text = re.sub(r'^(\d+ "[^"]*" )', r"\g<1>0 0 0 0 ", text, flags=re.MULTILINE)
        (tmp_path / "export.txt").write_text(text, "utf-8")
        run("txt2ti3", tmp_path / "export.txt", tmp_path / "measured")
        return tmp_path / "measured.ti3", values

    return make


def xyz_there(path: Path) -> Floats:
    """The XYZ that the tool wrote into a file, shape (n, 3)."""
    (table,) = read_tables(path)
    at = [table.fields.index(f"XYZ_{axis}") for axis in "XYZ"]
    return np.array([[float(row[i]) for i in at] for _, row in table.rows])


@pytest.mark.parametrize("grid", GRIDS)
def test_its_spectra_are_read_and_their_xyz_agrees_in_two_lights_for_both_observers(
    measured: Callable[[int, int], tuple[Path, Floats]], tmp_path: Path, grid: str
) -> None:
    first_nm, last_nm, within = GRIDS[grid]
    path, values = measured(first_nm, last_nm)
    readings = list(read_readings(path).values())
    first = (400 - first_nm) // 10
    np.testing.assert_allclose([one.reflectance for one in readings], values[:, first : first + 31] / 100, atol=1e-6)
    for light in ("D65", "A"):
        for observer, there in OBSERVER_THERE.items():
            computed = tmp_path / f"{light}{observer}.ti3"
            run("spec2cie", "-i", light, "-o", there, path, computed)
            for name in (path, computed):  # the spectrum counts where there is XYZ and CIELAB beside it
                spectra = np.array([one.reflectance for one in read_readings(name).values()])
                ours = reflectance_to_xyz(spectra, light, observer)
                np.testing.assert_allclose(ours, xyz_there(computed), atol=within)


@pytest.mark.parametrize("light", ["D65", "A"])
@pytest.mark.parametrize("observer", [2, 10])
def test_its_xyz_alone_is_read_in_the_light_whose_white_it_names(
    measured: Callable[[int, int], tuple[Path, Floats]], tmp_path: Path, light: str, observer: int
) -> None:
    path, _ = measured(380, 730)
    alone = tmp_path / "alone.ti3"
    run("spec2cie", "-n", "-i", light, "-o", OBSERVER_THERE[observer], path, alone)
    readings = list(read_readings(alone).values())
    assert {(one.light, one.observer, one.is_spectral) for one in readings} == {(light, observer, False)}
    assert "known in one light only" in readings[0].warnings[0]
    ours = lab_to_xyz(np.array([one.lab for one in readings]), white_point(light, observer))
    np.testing.assert_allclose(ours, xyz_there(alone), atol=WITHIN)
