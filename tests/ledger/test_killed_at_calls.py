"""A whole job is killed at a single call that writes, syncs, names or removes a file: nothing acknowledged is lost.

`FINISHMATCH_KILLED_CALLS=all` tries every call of the job in place of some, which takes a quarter of an hour.
"""

from __future__ import annotations

import json
import os
import shutil
import subprocess
import tempfile
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.conftest import ROOT
from tests.helpers.job_killed import strace

CASES = os.environ.get("FINISHMATCH_KILLED_CALLS", "16")


@pytest.fixture
def scratch() -> Iterator[Path]:
    """A folder that somebody without rights can write in: pytest's own are its user's alone."""
    folder = Path(tempfile.mkdtemp(prefix="killed-"))
    try:
        yield folder
    finally:
        shutil.rmtree(folder, ignore_errors=True)


@pytest.mark.slow
def test_a_whole_job_killed_at_single_calls_loses_nothing_that_was_acknowledged(scratch: Path) -> None:
    assert shutil.which("strace"), "strace is missing: install Debian's package strace"
    ran = subprocess.run(
        [*strace(scratch), CASES],
        cwd=ROOT,
        env={**os.environ, "PYTHONDONTWRITEBYTECODE": "1"},
        capture_output=True,
        text=True,
        check=False,
    )
    assert ran.returncode == 0, ran.stderr
    found = json.loads(ran.stdout)
    assert {"write", "pwrite64", "fsync", "fdatasync", "unlink", "ftruncate", "rename"} <= found["calls"].keys()
    assert found["tried"].keys() == found["calls"].keys(), "each kind of call is tried"
    assert sum(found["tried"].values()) == found["killed"] >= 15
