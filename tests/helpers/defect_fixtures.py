"""A job whose roof's film was read, as a fixture."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

from tests.helpers.kept_ledger import write_ledger

ROOF = (
    'job new "Tarnbeck Six, Saltmarsh Blue"',
    "job film J1 --panel roof --layer primer --build 62,58,60",
    "job film J1 --panel roof --layer 'colour coat' --build 98,104",
    "job film J1 --panel Roof --layer 'colour coat' --build 101,100",
)


@pytest.fixture(scope="session")
def roof_ledger(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A home whose ledger holds J1 with the film of its roof."""
    return write_ledger(tmp_path_factory.mktemp("roof"), ROOF)


@pytest.fixture
def job(home: Path, roof_ledger: Path) -> str:
    """A job with the film of its roof read (invented scenario)."""
    shutil.copytree(roof_ledger, home, dirs_exist_ok=True)
    return "J1"
