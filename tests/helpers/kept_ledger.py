"""A ledger that many tests begin from, written once: each test is given a copy."""

from __future__ import annotations

import atexit
import io
import os
import shlex
import shutil
import tempfile
from collections.abc import Collection, Iterable
from contextlib import redirect_stdout
from pathlib import Path

import pytest

from finishmatch.cli import run

_KEPT: dict[tuple[str, ...], Path] = {}


def write_ledger(home: Path, lines: Iterable[str], ends: Collection[int] = (0,)) -> Path:
    """Run command lines whose record goes into a home, and return the home. How they may end can be given."""
    with pytest.MonkeyPatch.context() as patch, redirect_stdout(io.StringIO()):
        patch.setenv("FINISHMATCH_HOME", str(home))
        for line in lines:
            assert run(shlex.split(line)) in ends, line
    return home


def put_ledger(home: Path, lines: Iterable[str], ends: Collection[int] = (0,)) -> Path:
    """Put into an empty home what command lines leave there, and return it; they are run once, by whoever is first.

    They must do the same wherever this is asked with them: their folder has one name for all tests, and holds the same.
    """
    key = (os.getcwd(), *lines)
    if key not in _KEPT:
        kept = Path(tempfile.mkdtemp(prefix="kept-ledger-"))
        atexit.register(shutil.rmtree, kept, ignore_errors=True)
        _KEPT[key] = write_ledger(kept, lines, ends)
    shutil.copytree(_KEPT[key], home, dirs_exist_ok=True)
    return home
