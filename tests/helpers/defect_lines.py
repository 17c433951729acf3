"""Lines of `finishmatch defect`: what is answered, and what is refused."""

from __future__ import annotations

import shlex

import pytest

from finishmatch.cli import run

FULL = "--layer primer=62,58,60 --layer colour=98,104,101,100"


def tell(capsys: pytest.CaptureFixture[str], line: str) -> tuple[int, str]:
    """Run a command and return its status and standard output; nothing may be on standard error."""
    status = run(["defect", *shlex.split(line)])
    out, err = capsys.readouterr()
    assert err == ""
    return status, out


def refused(capsys: pytest.CaptureFixture[str], line: str) -> str:
    """Run a command that must be refused and return its one line."""
    assert run(["defect", *shlex.split(line)]) == 2
    out, err = capsys.readouterr()
    assert out == ""
    assert err.startswith("finishmatch: ")
    assert len(err.splitlines()) == 1
    return err
