"""Density and volume solids that a tin doesn't tell: taken as usual, which is said, and hardly a colour hangs on it."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest

from finishmatch.colour import de00, reflectance_to_lab
from finishmatch.errors import InputError
from finishmatch.optics import predicted_reflectance
from finishmatch.readings.bank_tints import read_tints, usual_volumes
from finishmatch.steps.bank import open_bank
from tests.conftest import Ran

HEAD = "tint,role,colour_index,density_kg_l,volume_solids,price_per_kg,stock_g\n"


def _tints(tmp_path: Path, *rows: str) -> Path:
    path = tmp_path / "tints.csv"
    path.write_text(HEAD + "".join(f"{row}\n" for row in rows))
    return path


def test_what_is_not_written_is_taken_as_such_paints_have_it(tmp_path: Path) -> None:
    rows = ("white,white,PW6,,,0,100", "red oxide,tint,PR101,,0.4,0,100", "blue,tint,,1.1,,0,100")
    tints, notes = read_tints(_tints(tmp_path, *rows))
    assert [(tint.density_kg_l, tint.volume_solids) for tint in tints] == [
        usual_volumes("white", ""),
        (usual_volumes("tint", "PR101")[0], 0.4),
        (1.1, usual_volumes("tint", "")[1]),
    ]
    assert len(notes) == 1
    assert "tints.csv: density or volume solids of white, red oxide, blue aren't written" in notes[0]
    assert "common practice" in notes[0]
    assert read_tints(_tints(tmp_path, "white,white,PW6,1.5,0.4,0,100"))[1] == ()


@pytest.mark.parametrize("row", ["white,white,PW6,1520,,0,1", "white,white,PW6,0,,0,1", "white,white,PW6,,42,0,1"])
def test_what_is_written_must_be_a_paint(tmp_path: Path, row: str) -> None:
    with pytest.raises(InputError, match=r"tints\.csv, line 2, column '(density_kg_l|volume_solids)'"):
        read_tints(_tints(tmp_path, row))


def test_colours_that_hide_hardly_hang_on_it_and_the_note_is_shown(cli: Callable[..., Ran], swatches: Path) -> None:
    bank = swatches / "bank"
    written = open_bank(bank).fit.optics
    lines = (bank / "tints.csv").read_text().splitlines()
    kept = [line.split(",") if not line.startswith("#") else [line] for line in lines]
    blanked = [cells if len(cells) == 1 or cells[0] == "tint" else [*cells[:3], "", "", *cells[5:]] for cells in kept]
    (bank / "tints.csv").write_text("\n".join(",".join(cells) for cells in blanked) + "\n")
    usual = open_bank(bank).fit.optics
    grams = np.zeros(len(written.names))
    for name, weight in (("white", 60.0), ("blue", 10.0), ("ochre", 25.0), ("black", 5.0)):
        grams[written.index(name)] = weight
    labs = [reflectance_to_lab(predicted_reflectance(optics, grams)) for optics in (written, usual)]
    assert float(de00(*labs)) < 0.1
    assert "aren't written, and are taken as such paints usually have" in cli("bank", "show", bank).out
