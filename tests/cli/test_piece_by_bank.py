"""A photographed target goes by what the camera sees of the bank's tints; what is kept of it is what was told."""

from __future__ import annotations

import csv
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from finishmatch.colour import de00
from tests.conftest import ROOT, Ran
from tests.helpers.door_files import write

pytest_plugins = ["tests.helpers.door_fixtures"]
Cli = Callable[..., Ran]
WINDOW = "windows.csv@window 4"
MIX = ("--bank", "bank", "--grams", 200, "--recipes", 1, "--json")


@pytest.fixture
def read(cli: Cli, bench: Path) -> Path:
    """The bundled sheet of panels, read as pieces."""
    assert cli("photo", "read", ROOT / "swatches/panels.jpg", "--save", "windows.csv").status == 0
    return bench / "windows.csv"


def without_looks(path: Path) -> None:
    """Leave out what the camera saw, as an older file does."""
    lines = path.read_text("utf-8").splitlines()
    heads = [line for line in lines if line.startswith("#")]
    rows = list(csv.DictReader(line for line in lines if not line.startswith("#")))
    kept = [name for name in rows[0] if name != "camera_saw"]
    body = [",".join(kept), *(",".join(row[name] for name in kept) for row in rows)]
    write(path, "\n".join([*heads, *body]) + "\n")


def entries(cli: Cli, job: str, kind: str) -> list[dict[str, Any]]:
    found = cli("job", "show", job, "--json").json["entries"]
    return [one["entry"] for one in found if one["kind"] == kind]


def test_a_recipe_is_for_what_the_bank_makes_of_it_and_that_is_said(cli: Cli, read: Path) -> None:
    found = cli("mix", WINDOW, *MIX).json
    moved = found["target_by_bank"]
    assert 0 < moved["de00_from_read"] < 6
    assert found["recipes"][0]["lights"]["D65"] < 1
    assert sum("its camera sees mixtures of this bank's tints so" in said for said in found["warnings"]) == 1
    shown = cli("mix", WINDOW, *MIX[:-1]).out
    assert f"ΔE00 {moved['de00_from_read']:.1f} from what was read" in shown
    without_looks(read)
    plain = cli("mix", WINDOW, *MIX).json
    assert plain["target_by_bank"] is None
    assert plain["target"]["lab"] != found["target"]["lab"]
    assert (
        plain["recipes"][0]["intervals_itself"]["D65"]["high"] > found["recipes"][0]["intervals_itself"]["D65"]["high"]
    )


def test_the_record_keeps_what_was_told_and_mixes_the_same_by_it(cli: Cli, read: Path) -> None:
    job = cli("job", "new", "Door", "--json").json["job"]["ref"]
    first = cli("mix", WINDOW, *MIX, "--job", job).json
    (target,) = entries(cli, job, "target")
    (row,) = (one for one in csv.DictReader(_body(read)) if one["name"] == "window 4")
    assert target["lab"] == pytest.approx([float(row[axis]) for axis in "Lab"], abs=20)  # the gloss is added
    told = first["target_by_bank"]
    assert float(de00(np.array(target["lab"]), np.array(first["target"]["lab"]))) == pytest.approx(
        told["de00_from_read"], abs=0.5
    )
    assert len(target["camera_saw"][0]["looks"][0]["response"]) == 31
    again = cli("mix", "--job", job, "--json").json
    assert again["target"]["lab"] == pytest.approx(first["target"]["lab"], abs=0.05)
    assert len(entries(cli, job, "target")) == 1


def _body(path: Path) -> list[str]:
    return [line for line in path.read_text("utf-8").splitlines() if not line.startswith("#")]


def test_a_weighed_target_of_a_photographed_sample_goes_by_it_too(cli: Cli, read: Path, bench: Path) -> None:
    write(bench / "e.csv", f"name,kind,reading\ndoor,sheltered paint,{WINDOW}\n")
    job = cli("job", "new", "Door", "--json").json["job"]["ref"]
    assert cli("evidence", "weigh", "e.csv", "--save", "target.csv", "--replace", "--job", job).status == 0
    (target,) = entries(cli, job, "target")
    assert target["camera_saw"][0]["share"] == 1
    by_file, by_job = cli("mix", "target.csv", *MIX).json, cli("mix", "--job", job, *MIX).json
    # what age did to it and what it is evidence of stay in its doubt
    assert by_file["target_by_bank"]["u95"] == pytest.approx(target["u95"], abs=0.01)
    assert by_file["target_by_bank"]["de00_from_read"] > 0
    assert by_job["target_by_bank"]["lab"] == pytest.approx(by_file["target_by_bank"]["lab"], abs=0.1)


def test_a_card_seen_beside_it_is_moved_with_it_and_kept_as_it_was_told(cli: Cli, read: Path) -> None:
    job = cli("job", "new", "Door", "--json").json["job"]["ref"]
    recipe = cli("mix", WINDOW, *MIX, "--job", job).json["recipes"][0]
    poured = [f"{part['tint']}={part['grams']:.1f}" for part in recipe["parts"]]
    assert cli("job", "pour", job, *poured, "--json").status == 0
    ran = cli("correct", "--job", job, "--difference=1.0,0.5,-0.5", "--u95", 0.5, "--json")
    assert ran.status in (0, 1), ran.err
    (card,) = entries(cli, job, "spray-out")
    (seen,) = card["seen"]
    (target,) = entries(cli, job, "target")
    assert seen["standard"] == pytest.approx(target["lab"], abs=1e-3)
    assert float(np.linalg.norm(seen["moved"])) > 0
    assert np.array(card["lab"]) - np.array(seen["standard"]) == pytest.approx([1.0, 0.5, -0.5], abs=0.6)  # with gloss
    again = cli("correct", "--job", job, "--json").json
    assert again["additions"] == ran.json["additions"]
    assert again["before"] == pytest.approx(ran.json["before"], abs=0.02)


def test_a_colour_changed_by_hand_is_taken_as_it_stands(cli: Cli, read: Path) -> None:
    text = read.read_text("utf-8")
    row = next(line for line in text.splitlines() if line.startswith("window 4"))
    name, geometry, L, rest = row.split(",", 3)
    write(read, text.replace(row, f"{name},{geometry},{float(L) + 1:.3f},{rest}"))
    found = cli("mix", WINDOW, *MIX).json
    assert found["target_by_bank"] is None
    assert any("changed since it was read" in said for said in found["warnings"])
    write(read, text.replace('""of""', '""off""'))
    refused = cli("mix", WINDOW, *MIX)
    assert refused.status == 2
    assert "camera_saw': isn't as photo read wrote it" in refused.err


def test_a_target_from_the_record_isnt_asked_whether_its_gloss_was_read(cli: Cli, read: Path) -> None:
    """It was brought to how the bank was read when it was recorded."""
    job = cli("job", "new", "Door", "--json").json["job"]["ref"]
    first = cli("mix", WINDOW, *MIX, "--job", job).json
    assert any("that of a glossy film is added" in said for said in first["warnings"])
    (target,) = entries(cli, job, "target")
    assert target["geometry"] == "di8"
    again = cli("mix", "--job", job, "--json").json
    assert not any("gloss" in said for said in again["warnings"])
    assert again["target"]["lab"] == pytest.approx(first["target"]["lab"], abs=0.05)
