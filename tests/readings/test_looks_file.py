"""looks.json of a bank: what was written is read again; what is damaged or of another colour is left out, and said."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from finishmatch.optics.camera_look import CameraLook
from finishmatch.readings import read_bank
from finishmatch.readings.looks_file import FILE, looks_of, picture_of_looks, read_looks, write_looks

LAB = (61.9, -12.8, -27.0)


def _look(light: str = "D65", shift: float = 0.0) -> CameraLook:
    response = np.linspace(0.01, 0.06, 93).reshape(31, 3) + shift
    return CameraLook(light, response, np.array([0.2, 0.3, 0.5]), 40 * np.eye(3), np.array(LAB), 0.012)


@pytest.fixture
def kept(tmp_path: Path) -> Path:
    """Two panels of a picture, one of them seen under a lamp too."""
    panels = {"blue 10/90": (LAB, [_look(), _look("A", 0.01)]), "white": ((95.1, -0.4, 2.2), [_look()])}
    write_looks(tmp_path / FILE, {"day.jpg": picture_of_looks(panels)})
    return tmp_path / FILE


def test_what_was_written_is_read_again(kept: Path) -> None:
    found, notes = read_looks(kept)
    assert notes == ()
    day, lamp = looks_of(found, "day.jpg", "blue 10/90", np.array(LAB))
    assert (day.light, lamp.light) == ("D65", "A")
    np.testing.assert_allclose(lamp.response, _look("A", 0.01).response, atol=1e-6)
    np.testing.assert_allclose(day.to_lab, _look().to_lab)
    assert day.misfit == pytest.approx(0.012)
    assert len(found["day.jpg"]["lights"]) == 2  # what all panels of a picture are seen by stands once


@pytest.mark.parametrize(
    ("picture", "panel", "lab"),
    [("day.jpg", "blue 10/90", (61.9, -12.8, -26.0)), ("day.jpg", "green", LAB), ("tue.jpg", "blue 10/90", LAB)],
)
def test_a_colour_that_was_changed_or_is_of_another_has_no_look(
    kept: Path, picture: str, panel: str, lab: tuple[float, float, float]
) -> None:
    assert looks_of(read_looks(kept)[0], picture, panel, np.array(lab)) == ()


def _broken(document: dict[str, Any], what: str) -> str:
    picture = document["pictures"]["day.jpg"]
    first = next(iter(picture["lights"].values()))
    if what == "short":
        first["response"] = first["response"][:30]
    elif what == "huge":
        first["response"][0][0] = 1e9
    elif what == "nan":
        picture["panels"]["white"]["looks"][0]["values"][1] = float("nan")
    elif what == "no light":
        picture["lights"].clear()
    elif what == "text":
        picture["panels"]["white"]["looks"][0]["to_lab"] = "40"
    elif what == "form":
        document["form"] = 99
    elif what == "many":
        picture["panels"]["white"]["looks"] *= 40
    else:
        document["pictures"] = [1]
    return json.dumps(document)


@pytest.mark.parametrize("what", ["short", "huge", "nan", "no light", "text", "form", "many", "list"])
def test_what_is_not_as_it_was_written_is_left_out_whole_and_said(kept: Path, what: str) -> None:
    kept.write_text(_broken(json.loads(kept.read_text()), what))
    found, notes = read_looks(kept)
    assert found == {}
    assert notes == ("looks.json isn't as it was written, and is left out: read the photographs into the bank again",)


@pytest.mark.parametrize("data", [b"", b"{", b"\xff\xfe", b"[" * 100_000, b'{"form": 1}'])
def test_bytes_that_are_no_such_file_are_left_out(kept: Path, data: bytes) -> None:
    kept.write_bytes(data)
    assert read_looks(kept)[0] == {}
    assert len(read_looks(kept)[1]) == 1


def test_a_link_isn_t_followed_and_nothing_is_no_fault(kept: Path, tmp_path: Path) -> None:
    kept.rename(tmp_path / "elsewhere.json")
    assert read_looks(kept) == ({}, ())
    kept.symlink_to(tmp_path / "elsewhere.json")
    assert read_looks(kept)[1]


def test_a_bank_of_which_it_is_damaged_goes_on_by_its_colours_with_a_note(tmp_path: Path) -> None:
    for name, text in {
        "bank.toml": 'name = "b"\ngeometry = "45/0"\nbinder_index = 1.5\n',
        "tints.csv": "tint,role,colour_index,density_kg_l,volume_solids,price_per_kg,stock_g\nwhite,white,,1,1,0,1\n",
        "panels.csv": "panel,tint,grams\nwhite,white,100\n",
        "seen.csv": "panel,L,a,b,u95,picture,u95_shared\nwhite,95.1,-0.4,2.2,2,day.jpg,1\n",
    }.items():
        (tmp_path / name).write_text(text)
    write_looks(tmp_path / FILE, {"day.jpg": picture_of_looks({"white": ((95.1, -0.4, 2.2), [_look()])})})
    seen = read_bank(tmp_path).panels[0].seen
    assert seen is not None
    assert len(seen.looks) == 1
    digest = read_bank(tmp_path).digest
    (tmp_path / FILE).write_text("{}")
    bank = read_bank(tmp_path)
    assert bank.panels[0].seen is not None
    assert bank.panels[0].seen.looks == ()
    assert bank.digest != digest
    assert "looks.json isn't as it was written" in bank.warnings[-1]
