"""A program that holds a ledger open, as the bench page does, beside commands that open and close it."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

from finishmatch.ledger import open_ledger
from finishmatch.ledger.head_of_file import _HANDLES, _MOST, head_of
from finishmatch.ledger.watch import LedgerWatch
from tests.conftest import ROOT


def command(home: Path, *line: str) -> str:
    """Run a command in a process of its own, which opens the ledger and closes it."""
    environment = os.environ | {"FINISHMATCH_HOME": str(home), "PYTHONPATH": str(ROOT)}
    ran = subprocess.run(
        [sys.executable, "-m", "finishmatch", *line], env=environment, capture_output=True, text=True, check=True
    )
    return ran.stdout


@pytest.mark.slow
def test_what_others_record_is_seen_and_the_log_stays_where_it_is(home: Path) -> None:
    """Opening the ledger once more must not let go of the lock that says it is in use (POSIX fcntl(2))."""
    command(home, "job", "new", "from outside")
    watch = LedgerWatch(home)
    states = [watch.state()]
    for number in range(3):
        with open_ledger(home) as ledger:  # as each request of a page does
            assert len(ledger.jobs()) == 1 + 2 * number
        states.append(watch.state())
        command(home, "job", "new", f"outside {number}")
        states.append(watch.state())
        assert states[-1] != states[-2]
        with open_ledger(home) as ledger:
            ledger.new_job(f"inside {number}")
    open_files = [os.readlink(each) for each in Path("/proc/self/fd").iterdir() if each.is_symlink()]
    mine = [name for name in open_files if name.startswith(str(home))]
    assert mine
    assert not any(name.endswith("(deleted)") for name in mine)
    watch.close()
    told = command(home, "job", "list")
    for title in ("from outside", *(f"{where} {number}" for where in ("outside", "inside") for number in range(3))):
        assert title in told
    assert "everything is as it was written" in command(home, "job", "check")


def test_a_head_is_that_of_the_file_that_is_there_now_and_few_handles_are_kept(tmp_path: Path) -> None:
    path = tmp_path / "one"
    path.write_bytes(b"first, and more")
    assert head_of(path, 5) == b"first"
    path.write_bytes(b"other")
    assert head_of(path, 5) == b"other"
    new = tmp_path / "two"
    new.write_bytes(b"third")
    new.replace(path)
    assert head_of(path, 9) == b"third"
    for number in range(2 * _MOST):
        file = tmp_path / f"file {number}"
        file.write_bytes(b"%d" % number)
        assert head_of(file, 3) == b"%d" % number
    assert len(_HANDLES) <= _MOST
    with pytest.raises(FileNotFoundError):
        head_of(tmp_path / "none", 3)
