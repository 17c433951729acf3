"""`make quick` leaves no room out."""

from __future__ import annotations

import os
import subprocess
import sys

import pytest

from tests.conftest import ROOT, quick_of


@pytest.mark.slow
def test_every_room_of_tests_has_some_that_are_quick(request: pytest.FixtureRequest) -> None:
    files = {path.relative_to(ROOT).as_posix() for path in (ROOT / "tests").rglob("test_*.py")}
    gathered = {item.nodeid.partition("::")[0] for item in request.session.items}
    if gathered >= files:
        chosen = {
            item.nodeid.split("/")[1] for item in quick_of(request.session.items) if item.nodeid.startswith("tests/")
        }
    else:  # not all tests are run
        command = [sys.executable, "-m", "pytest", "tests", "--quick", "--collect-only", "--quiet"]
        ran = subprocess.run(command, cwd=ROOT, env=os.environ, capture_output=True, text=True, check=True)
        chosen = {line.split("/")[1] for line in ran.stdout.splitlines() if line.startswith("tests/")}
    assert chosen >= {name.split("/")[1] for name in files if name.count("/") > 1}
