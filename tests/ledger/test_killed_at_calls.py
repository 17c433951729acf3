"""A whole job is killed at a call that writes, syncs, names or removes a file: nothing acknowledged is lost.

What stands after a call, and so what a kill there would leave, is seen of all but the writes of the database, of which
each third is seen; a call of each kind, the first and the last are killed at indeed. `FINISHMATCH_KILLED_CALLS=all`
sees and kills at every call, which takes a quarter of an hour.
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
from tests.helpers.job_killed import DATABASE, IDLE, strace

CASES = os.environ.get("FINISHMATCH_KILLED_CALLS", "0")
EACH = 1 if CASES == "all" else 3  # of the writes of the database


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
def test_what_a_whole_job_leaves_after_its_calls_holds_all_that_was_acknowledged(scratch: Path) -> None:
    held = _run(strace(scratch, "hold", EACH))
    seen = _run([sys.executable, "-m", "tests.helpers.job_killed", str(scratch), "see"])
    assert {"write", DATABASE, "fsync", "fdatasync", "unlink", "ftruncate", "rename"} <= held["calls"].keys()
    at = {kind: count // EACH if kind == DATABASE else count for kind, count in held["calls"].items() if kind in IDLE}
    assert held["held"] >= sum(at.values())
    assert seen["states"] >= at[DATABASE] / 2, "many calls write what stood there"


@pytest.mark.slow
def test_a_whole_job_killed_at_single_calls_loses_nothing_that_was_acknowledged(scratch: Path) -> None:
    found = _run([*strace(scratch, "kill"), CASES])
    assert found["tried"].keys() == found["calls"].keys(), "each kind of call is tried"
    assert sum(found["tried"].values()) == found["killed"] > len(found["calls"])
