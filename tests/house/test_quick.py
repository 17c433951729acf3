"""`make quick` leaves no room out."""

from __future__ import annotations

import os
import subprocess
import sys

import pytest

from tests.conftest import ROOT


@pytest.mark.slow
def test_every_room_of_tests_has_some_that_are_quick() -> None:
    command = [sys.executable, "-m", "pytest", "tests", "--quick", "--collect-only", "--quiet"]
    ran = subprocess.run(command, cwd=ROOT, env=os.environ, capture_output=True, text=True, check=True)
    chosen = {line.split("/")[1] for line in ran.stdout.splitlines() if line.startswith("tests/")}
    rooms = {path.parent.relative_to(ROOT / "tests").parts[0] for path in (ROOT / "tests").glob("*/**/test_*.py")}
    assert chosen >= rooms
