"""What a camera saw stands beside a colour in its file, and goes when the colour is changed."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from finishmatch.errors import InputError
from finishmatch.optics.camera_look import CameraLook, CameraSaw, PairLook
from finishmatch.readings.look_form import pair_document, pairs_again, saw_again, saw_cell, saw_document
from finishmatch.readings.readings_file import read

LAB = np.array([60.123, -5.4, 15.25])


def look(light: str = "D65") -> CameraLook:
    r = np.random.default_rng(4)
    return CameraLook(light, r.uniform(0, 0.1, (31, 3)), r.uniform(0.1, 0.9, 3), r.normal(0, 90, (3, 3)), LAB, 0.012)


def table(folder: Path, *rows: tuple[str, np.ndarray, str]) -> Path:
    lines = [
        f'{name},{lab[0]:.3f},{lab[1]:.3f},{lab[2]:.3f},2,"{cell.replace(chr(34), chr(34) * 2)}"'
        for name, lab, cell in rows
    ]
    path = folder / "piece.csv"
    path.write_text("\n".join(["name,L,a,b,u95,camera_saw", *lines]) + "\n", "utf-8")
    return path


def test_it_comes_back_as_it_was_written(tmp_path: Path) -> None:
    cell = saw_cell(LAB, [CameraSaw(LAB, (look(), look("A")))])
    (saw,) = read(table(tmp_path, ("piece", LAB, cell)))["piece"].camera_saw
    assert [one.light for one in saw.looks] == ["D65", "A"]
    assert saw.share == 1
    for name in ("response", "values", "to_lab", "lab"):
        assert np.allclose(getattr(saw.looks[0], name), getattr(look(), name), atol=1e-6)


def test_several_photographs_of_a_sample_are_one(tmp_path: Path) -> None:
    other = LAB + 0.4
    cells = [saw_cell(lab, [CameraSaw(lab, (look(),))]) for lab in (LAB, other)]
    (saw,) = read(table(tmp_path, ("piece", LAB, cells[0]), ("piece", other, cells[1])))["piece"].camera_saw
    assert len(saw.looks) == 2
    assert np.allclose(saw.lab, LAB + 0.2, atol=1e-3)


def test_a_weighed_target_keeps_the_shares_of_its_samples(tmp_path: Path) -> None:
    saw = [CameraSaw(LAB - 1, (look(),), 0.7), CameraSaw(LAB + 2, (look(),), 0.3)]
    found = read(table(tmp_path, ("piece", LAB, saw_cell(LAB, saw))))["piece"].camera_saw
    assert [one.share for one in found] == [0.7, 0.3]
    assert np.allclose(found[1].lab, LAB + 2)


def test_of_a_colour_that_was_changed_since_it_is_left_out_and_that_is_said(tmp_path: Path) -> None:
    cell = saw_cell(LAB, [CameraSaw(LAB, (look(),))])
    found = read(table(tmp_path, ("piece", LAB + np.array([0.5, 0, 0]), cell)))["piece"]
    assert found.camera_saw == ()
    assert any("changed since it was read" in said for said in found.warnings)


@pytest.mark.parametrize(
    "spoilt",
    [
        "{",
        "[]",
        '{"lab":[60.123,-5.4,15.25],"of":[]}',
        '{"lab":[60.123,-5.4,15.25],"of":[{"lab":[1,2,3],"share":2,"looks":[]}]}',
        '{"lab":[60.123,-5.4],"of":{}}',
    ],
)
def test_what_isnt_as_it_was_written_is_refused_where_it_stands(tmp_path: Path, spoilt: str) -> None:
    with pytest.raises(InputError, match=r"camera_saw.*isn't as photo read wrote it"):
        read(table(tmp_path, ("piece", LAB, spoilt)))


def test_a_number_that_cant_be_is_refused(tmp_path: Path) -> None:
    document = json.loads(saw_cell(LAB, [CameraSaw(LAB, (look(),))]))
    document["of"][0]["looks"][0]["values"][0] = 1e9
    with pytest.raises(InputError):
        read(table(tmp_path, ("piece", LAB, json.dumps(document))))


def test_a_number_written_as_text_is_that_number(tmp_path: Path) -> None:
    document = json.loads(saw_cell(LAB, [CameraSaw(LAB, (look(),))]))
    document["of"][0]["looks"][0]["misfit"] = "0.012"
    (saw,) = read(table(tmp_path, ("piece", LAB, json.dumps(document))))["piece"].camera_saw
    assert saw.looks[0].covariance(0.4).shape == (3, 3)


def test_what_was_seen_of_two_comes_back_with_what_is_the_cameras_kept_once() -> None:
    one = replace(look("A"), values=np.array([0.2, 0.3, 0.4]))
    document = pair_document(PairLook(look("A"), one, 0.04 * np.eye(3)))
    assert "response" not in document["trial"]
    (found,) = pairs_again([json.loads(json.dumps(document))])
    for name in ("response", "values", "to_lab", "lab"):
        assert np.allclose(getattr(found.trial, name), getattr(one, name), atol=1e-6)
        assert np.allclose(getattr(found.standard, name), getattr(look("A"), name), atol=1e-6)
    assert found.trial.light == "A"
    assert np.allclose(found.noise, 0.04 * np.eye(3))
    for spoilt in (
        {"response": [[1]]},
        {"trial": None},
        {"standard": {}},
        {"misfit": "x"},
        {"noise": [[-1, 0, 0], [0, 1, 0], [0, 0, 1]]},
    ):
        assert pairs_again([document | spoilt]) == ()


def test_the_record_leaves_out_what_isnt_as_it_was_written() -> None:
    good = saw_document(CameraSaw(LAB, (look(),)))
    assert len(saw_again([good])) == 1
    assert saw_again([good | {"lab": [1, 2]}]) == ()
    assert saw_again([{}]) == ()
