"""A fit that is kept beside a bank isn't believed blindly: what it says of the panels is computed again."""

from __future__ import annotations

import base64
import json
import os
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from finishmatch.optics import Bank, fit_bank
from finishmatch.readings import load_fit, read_bank, store_fit
from finishmatch.readings.fit_file import FIT_FILE, own_digest
from tests.conftest import ROOT
from tests.helpers.door_files import small_bank


@pytest.fixture(scope="module")
def kept(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, Bank]:
    """A small bank with its fit beside it."""

    folder = small_bank(
        ROOT / "swatches" / "bank", tmp_path_factory.mktemp("kept") / "bank", ("white", "black", "blue")
    )
    bank = read_bank(folder)
    store_fit(folder, bank, fit_bank(bank))
    return folder, bank


def _doubled(document: dict[str, Any]) -> None:
    tint = document["tints"]["blue"]
    tint["K"] = [2 * value for value in tint["K"]]


def _draws_doubled(document: dict[str, Any]) -> None:
    draws = 2 * np.frombuffer(base64.b64decode(document["draws"]), dtype="<f4")
    document["draws"] = base64.b64encode(draws.astype("<f4").tobytes()).decode()


def _put(*path: str, value: Any) -> Callable[[dict[str, Any]], None]:
    def change(document: dict[str, Any]) -> None:
        inner = document
        for key in path[:-1]:
            inner = inner[key]
        inner[path[-1]] = value

    return change


CHANGES: dict[str, Callable[[dict[str, Any]], None]] = {
    "K doubled": _doubled,
    "draws doubled": _draws_doubled,
    "K too short": _put("tints", "blue", "K", value=[1.0]),
    "K a number": _put("tints", "blue", "K", value=1.0),
    "K not a number": _put("tints", "blue", "K", value=["x"] * 31),
    "K negative": _put("tints", "blue", "K", value=[-1.0] * 31),
    "K huge": _put("tints", "blue", "K", value=[1e308] * 31),
    "sd missing": _put("tints", "blue", "K_sd", value=None),
    "dry volume": _put("tints", "blue", "dry_ml_per_g", value=0.001),
    "no tints": _put("tints", value={}),
    "tints a list": _put("tints", value=[]),
    "no panels": _put("panels", value=[]),
    "panels of other fields": _put("panels", value=[{"x": 1}]),
    "surface": _put("surface", value={"k1": "x"}),
    "draws no base64": _put("draws", value="%%%"),
    "draws of a wrong length": _put("draws", value="AAAA"),
    "per_um": _put("per_um", value=False),
    "warnings": _put("warnings", value=[1]),
    "model_sd": _put("model_sd", value=1e9),
}


def test_a_fit_that_is_sound_is_believed(kept: tuple[Path, Bank]) -> None:
    folder, bank = kept
    assert load_fit(folder, bank) is not None


@pytest.mark.parametrize("change", CHANGES.values(), ids=CHANGES)
def test_a_fit_that_is_not_what_the_panels_say_is_made_anew(
    kept: tuple[Path, Bank], tmp_path: Path, change: Callable[[dict[str, Any]], None]
) -> None:
    folder, bank = kept
    document = json.loads((folder / FIT_FILE).read_text())
    was = json.dumps(document)
    change(document)
    if json.dumps(document) == was:
        pytest.fail("nothing was changed")
    del document["sha256"]
    document["sha256"] = own_digest(document)
    (tmp_path / FIT_FILE).write_text(json.dumps(document))
    assert load_fit(tmp_path, bank) is None


def test_a_link_a_pipe_and_what_is_no_object_are_passed_over(kept: tuple[Path, Bank], tmp_path: Path) -> None:
    folder, bank = kept
    path = tmp_path / FIT_FILE
    for target in (Path("/dev/zero"), folder / FIT_FILE):
        path.symlink_to(target)
        assert load_fit(tmp_path, bank) is None
        path.unlink()
    os.mkfifo(path)
    assert load_fit(tmp_path, bank) is None
    path.unlink()
    for text in ("[]", "1", "null", "[" * 100_000):
        path.write_text(text)
        assert load_fit(tmp_path, bank) is None
