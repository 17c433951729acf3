"""A ledger that many tests begin from, written once: each test is given a copy."""

from __future__ import annotations

import io
import shlex
from collections.abc import Iterable
from contextlib import redirect_stdout
from pathlib import Path

import pytest

from finishmatch.cli import run


def write_ledger(home: Path, lines: Iterable[str]) -> Path:
    """Run command lines whose record goes into a home, and return the home."""
    with pytest.MonkeyPatch.context() as patch, redirect_stdout(io.StringIO()):
        patch.setenv("FINISHMATCH_HOME", str(home))
        for line in lines:
            assert run(shlex.split(line)) == 0, line
    return home
