"""A whole job is killed at a call that writes, syncs, names or removes a file: nothing acknowledged is lost.

What stands after each call, and so what a kill there would leave, is seen of all; a call of each kind, the first and
the last are killed at indeed. `FINISHMATCH_KILLED_CALLS=all` kills at every call, which takes a quarter of an hour.
"""

from __future__ import annotations

import json
import os
import shutil
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from tests.conftest import ROOT
from tests.helpers.job_killed import IDLE, strace

CASES = os.environ.get("FINISHMATCH_KILLED_CALLS", "0")


@pytest.fixture
def scratch() -> Iterator[Path]:
    """A folder that somebody without rights can write in: pytest's own are its user's alone."""
    folder = Path(tempfile.mkdtemp(prefix="killed-"))
    try:
        yield folder
    finally:
        shutil.rmtree(folder, ignore_errors=True)


def _run(words: list[str]) -> dict[str, Any]:
    ran = subprocess.run(
        words,
        cwd=ROOT,
        env={**os.environ, "PYTHONDONTWRITEBYTECODE": "1"},
        capture_output=True,
        text=True,
        check=False,
    )
    assert ran.returncode == 0, ran.stderr[-5000:]
    found: dict[str, Any] = json.loads(ran.stdout)
    assert found
    return found


@pytest.fixture(autouse=True)
def _tracer() -> None:
    assert shutil.which("strace"), "strace is missing: install Debian's package strace"


@pytest.mark.slow
def test_what_a_whole_job_leaves_after_each_of_its_calls_holds_all_that_was_acknowledged(scratch: Path) -> None:
    held = _run(strace(scratch, "hold"))
    seen = _run([sys.executable, "-m", "tests.helpers.job_killed", str(scratch), "see"])
    assert {"write", "pwrite64", "fsync", "fdatasync", "unlink", "ftruncate", "rename"} <= held["calls"].keys()
    assert held["held"] >= sum(count for kind, count in held["calls"].items() if kind in IDLE)
    assert seen["states"] >= held["calls"]["pwrite64"] / 2, "many calls write what stood there"


@pytest.mark.slow
def test_a_whole_job_killed_at_single_calls_loses_nothing_that_was_acknowledged(scratch: Path) -> None:
    found = _run([*strace(scratch, "kill"), CASES])
    assert found["tried"].keys() == found["calls"].keys(), "each kind of call is tried"
    assert sum(found["tried"].values()) == found["killed"] > len(found["calls"])
