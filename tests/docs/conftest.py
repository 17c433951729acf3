"""The bundled scenario as a folder to work in, as fixtures for the tests of the pages."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

from finishmatch.readings import read_bank, store_fit
from tests.conftest import ROOT
from tests.helpers.computed_once import computed_once, fit_once  # noqa: F401 -- the first for all tests of this room


@pytest.fixture(scope="session")
def kept_fit(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The fit of the bundled bank."""
    bank = read_bank(ROOT / "swatches/bank")
    return store_fit(tmp_path_factory.mktemp("fit"), bank, fit_once(tmp_path_factory, bank))


@pytest.fixture
def scenario(swatches: Path, kept_fit: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A folder to work in that holds the bundled scenario, as a checkout does, with its fit kept."""
    shutil.copy(kept_fit, swatches / "bank")
    monkeypatch.chdir(swatches.parent)
    return swatches.parent
