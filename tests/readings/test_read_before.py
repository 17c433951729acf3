"""A bank and its fit that were read before are used again as long as every byte is the same, and only then."""

from __future__ import annotations

import json
import shutil
from pathlib import Path

import numpy as np
import pytest

from finishmatch.errors import InputError
from finishmatch.optics import Bank
from finishmatch.readings import bank_folder as bank_room
from finishmatch.readings import load_fit, read_bank, store_fit
from finishmatch.readings.known import Known
from finishmatch.understood import listening, what_was_understood
from tests.conftest import ROOT
from tests.helpers.computed_once import fit_once


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """The bundled bank, to be changed."""
    shutil.copytree(ROOT / "swatches/bank", tmp_path / "bank")
    return tmp_path / "bank"


@pytest.fixture
def readings(monkeypatch: pytest.MonkeyPatch) -> list[Path]:
    """The folders that were read in full, one for each time; nothing was read before."""
    seen: list[Path] = []
    read = bank_room._read

    def counted(folder: Path, begun: bool) -> tuple[Bank, tuple[str, ...]]:
        seen.append(folder)
        return read(folder, begun)

    monkeypatch.setattr(bank_room, "_read", counted)
    monkeypatch.setattr(bank_room, "_READ", Known())
    return seen


def test_a_bank_is_read_once_until_a_byte_of_it_changes(folder: Path, readings: list[Path]) -> None:
    first = read_bank(folder)
    assert read_bank(folder) is first
    assert read_bank(folder, begun=True) is not first  # which may be of less
    assert len(readings) == 2
    table = folder / "tints.csv"
    table.write_text(table.read_text("utf-8") + "\n", "utf-8")
    assert read_bank(folder).digest != first.digest
    (folder / "seen.csv").write_text("panel,ground,build_um,L,a,b\n", "utf-8")
    with pytest.raises(InputError, match=r"seen\.csv"):
        read_bank(folder)


@pytest.mark.parametrize("file", ["panels.csv", "readings.csv", "bank.toml"])
def test_a_file_that_is_gone_or_leads_nowhere_is_missed_though_the_bank_was_read(folder: Path, file: str) -> None:
    read_bank(folder)
    (folder / file).unlink()
    with pytest.raises(InputError, match=file.replace(".", r"\.")):
        read_bank(folder)
    (folder / file).symlink_to(folder / "nowhere.csv")
    with pytest.raises(InputError, match=file.replace(".", r"\.")):
        read_bank(folder)


def test_what_is_understood_of_a_bank_is_said_each_time(folder: Path, readings: list[Path]) -> None:
    table = folder / "panels.csv"
    table.write_text(table.read_text("utf-8").replace(",", ";"), "utf-8")
    said = []
    for _ in range(2):
        with listening():
            read_bank(folder)
            said.append(what_was_understood())
    assert said[0] == said[1] != ()
    assert len(readings) == 2


def test_what_names_the_folder_is_said_of_the_folder_that_is_read(
    folder: Path, tmp_path: Path, readings: list[Path]
) -> None:
    table = folder / "readings.csv"
    said, head, *rows = table.read_text("utf-8").splitlines()
    percent = [",".join([*row.split(",")[:3], *(str(99 * float(v) + 1.6) for v in row.split(",")[3:])]) for row in rows]
    table.write_text("\n".join([said, head, *percent]) + "\n", "utf-8")
    shutil.copytree(folder, tmp_path / "other")
    assert any(str(folder) in line for line in read_bank(folder).warnings)
    assert any(str(tmp_path / "other") in line for line in read_bank(tmp_path / "other").warnings)
    assert len(readings) == 2


def test_nobody_changes_what_others_are_given_too(folder: Path, readings: list[Path]) -> None:
    bank = read_bank(folder)
    with pytest.raises(ValueError, match="read-only"):
        bank.panels[0].repeats[0, 0] = 0.5


def test_a_fit_is_loaded_once_for_a_bank_until_a_byte_of_it_changes(
    folder: Path, tmp_path_factory: pytest.TempPathFactory
) -> None:
    bank = read_bank(folder)
    stored = store_fit(folder, bank, fit_once(tmp_path_factory, bank))
    fit = load_fit(folder, bank)
    assert fit is not None
    assert load_fit(folder, bank) is fit
    document = json.loads(stored.read_bytes())
    document["tints"][next(iter(document["tints"]))]["K"][0] *= 1.01
    stored.write_text(json.dumps(document), "utf-8")
    assert load_fit(folder, bank) is None
    with pytest.raises(ValueError, match="read-only"):
        fit.optics.K[0, 0] = np.nan


def test_only_the_last_few_are_known() -> None:
    known: Known[int] = Known()
    for number in range(5):
        known.keep(number, number)
        known.get(1)
    assert [known.get(number) for number in range(5)] == [None, 1, 2, 3, 4]
