"""Nothing is sent: the whole job runs where there is no network, and never looks for one."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

from tests.conftest import ROOT

# what Python itself would tell of every name looked up and every connection begun, by this or any library
WATCH = """
import sys

ASKED = {"socket.connect", "socket.getaddrinfo", "socket.gethostbyname", "socket.sendto"}

def watch(event, arguments):
    if event in ASKED:
        with open(PLACE, "a") as told:
            told.write(f"{event} {arguments[1:]}\\n")

sys.addaudithook(watch)
"""


def _without_network(folder: Path, *command: str) -> subprocess.CompletedProcess[str]:
    """Run a command in a namespace of its own that has no network, with what it asked for written to a file."""
    (folder / "sitecustomize.py").write_text(WATCH.replace("PLACE", repr(str(folder / "asked.txt"))))
    apart = ["unshare", "--net"] if os.geteuid() == 0 else ["unshare", "--map-root-user", "--net"]
    paths = os.pathsep.join([str(folder), str(ROOT)])
    return subprocess.run(
        [*apart, sys.executable, *command],
        env={**os.environ, "PYTHONPATH": paths},
        cwd=folder,
        capture_output=True,
        text=True,
        check=False,
    )


@pytest.mark.slow
@pytest.mark.skipif(sys.platform != "linux", reason="namespaces are Linux's")
def test_the_whole_job_asks_for_no_network(tmp_path: Path) -> None:
    ran = _without_network(tmp_path, "-m", "finishmatch", "demo", "--out", "demo")
    assert (ran.returncode, ran.stderr) == (0, "")
    assert not (tmp_path / "asked.txt").exists()


def test_a_program_that_looks_for_a_network_would_be_seen(tmp_path: Path) -> None:
    code = "import urllib.request; urllib.request.urlopen('http://192.0.2.1/', timeout=1)"  # RFC 5737: nobody's
    ran = _without_network(tmp_path, "-c", code)
    assert "Network is unreachable" in ran.stderr
    assert "socket.connect" in (tmp_path / "asked.txt").read_text()
