"""Whatever standard output is, no traceback is shown: code pages, closed pipes, full devices, and bare groups."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest

LINES = (
    (),
    ("bank",),
    ("--help",),
    ("compare", "50,0,0", "51,0,0"),
    ("compare", "50,0,0", "51,0,0", "--json"),
    ("job", "list"),
)


def run(arguments: tuple[str, ...], **how: Any) -> subprocess.CompletedProcess[bytes]:
    """A command line in a process of its own; `encoded` is the encoding of its standard streams."""
    environment = os.environ | {"PYTHONIOENCODING": how.pop("encoded", "utf-8")}
    environment.pop("PYTHONUNBUFFERED", None)  # what a machine may be set to hides what waits to be written
    environment |= how.pop("set_to", {})
    how = {"stdout": subprocess.PIPE, "stderr": subprocess.PIPE, **how}
    return subprocess.run(
        [sys.executable, "-m", "finishmatch", *arguments], env=environment, check=False, timeout=60, **how
    )


@pytest.mark.parametrize("arguments", [(), ("bank",), ("job",), ("defect",)])
def test_a_bare_group_shows_its_help(cli: Any, arguments: tuple[str, ...]) -> None:
    bare, asked = cli(*arguments), cli(*arguments, "--help")
    assert (bare.status, bare.err) == (0, "")
    assert bare.out == asked.out
    assert len(bare.out.splitlines()) > 5


@pytest.mark.parametrize("encoding", ["latin-1", "cp1252", "cp437"])
def test_an_encoding_without_greek_gets_plain_signs(encoding: str) -> None:
    ran = run(("compare", "50,0,0", "51,0,0"), encoded=encoding)
    assert (ran.returncode, ran.stderr) == (0, b"")
    assert "E00 1.00" in ran.stdout.decode(encoding)
    assert "?" not in ran.stdout.decode(encoding)


def test_json_is_whole_in_any_encoding() -> None:
    arguments = ("compare", "50,0,0", "51,0,0", "--json")
    assert json.loads(run(arguments, encoded="latin-1").stdout.decode("latin-1")) == json.loads(run(arguments).stdout)


def test_wrong_input_is_told_in_any_encoding() -> None:
    ran = run(("compare", "50,0,0", "→…ΔЖ"), encoded="latin-1")
    assert (ran.returncode, ran.stdout) == (2, b"")
    assert len(ran.stderr.splitlines()) == 1
    assert b"->...d?" in ran.stderr


@pytest.mark.parametrize("arguments", LINES, ids=" ".join)
def test_a_full_device_is_told_in_one_line(arguments: tuple[str, ...]) -> None:
    with Path("/dev/full").open("wb") as full:
        ran = run(arguments, stdout=full)
    assert ran.returncode == 3
    assert ran.stderr.startswith(b"finishmatch: what was found can't be written: ")
    assert len(ran.stderr.splitlines()) == 1


@pytest.mark.parametrize("set_to", [{}, {"PYTHONUNBUFFERED": "1"}], ids=["as usual", "unbuffered"])
def test_two_full_devices_end_quietly(set_to: dict[str, str]) -> None:
    with Path("/dev/full").open("wb") as full:
        assert run(("compare", "50,0,0", "51,0,0"), stdout=full, stderr=full, set_to=set_to).returncode == 3


@pytest.mark.parametrize("arguments", LINES, ids=" ".join)
def test_a_closed_pipe_ends_quietly(arguments: tuple[str, ...]) -> None:
    reader, writer = os.pipe()
    os.close(reader)
    try:
        ran = run(arguments, stdout=writer)
    finally:
        os.close(writer)
    assert (ran.returncode, ran.stderr) == (141, b"")
