"""The bench that the door tests work at, as fixtures."""

from __future__ import annotations

import shutil
from collections.abc import Callable
from pathlib import Path

import pytest

from finishmatch.readings import read_bank, store_fit
from tests.conftest import ROOT, Ran
from tests.helpers.computed_once import fit_once
from tests.helpers.door_files import emptied, small_bank, snapshot

TINTS = ("white", "black", "soft black", "blue", "violet")


@pytest.fixture(scope="session")
def kept_bank(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A small bank with its fit kept beside it."""
    folder = small_bank(ROOT / "swatches/bank", tmp_path_factory.mktemp("kept") / "bank", TINTS)
    bank = read_bank(folder)
    store_fit(folder, bank, fit_once(tmp_path_factory, bank))
    return folder


@pytest.fixture
def bench(kept_bank: Path, tmp_path_factory: pytest.TempPathFactory, monkeypatch: pytest.MonkeyPatch) -> Path:
    """The folder worked in: a small bank that was fitted, a target, a batch and its card; called so by all tests."""
    folder = emptied(tmp_path_factory.getbasetemp() / "bench")
    shutil.copytree(kept_bank, folder / "bank")
    for name in ("target.csv", "batch1.csv", "card1.csv"):
        shutil.copy(ROOT / "swatches" / name, folder)
    monkeypatch.chdir(folder)
    return folder


@pytest.fixture
def refused(cli: Callable[..., Ran], bench: Path, home: Path) -> Callable[..., str]:
    """Run a command line that is wrong and return the line it is told in, after seeing that nothing was written."""

    def call(*arguments: object) -> str:
        before = snapshot(bench, home)
        error = cli(*arguments).error
        assert snapshot(bench, home) == before
        assert error.startswith("finishmatch: ")
        return error

    return call
