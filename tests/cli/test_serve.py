"""`serve` as it is started: where it serves, which record it opens, how it is stopped, and who was let in."""

from __future__ import annotations

import os
import re
import signal
import socket
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import httpx2
import pytest

from finishmatch.bench import start
from finishmatch.bench.sessions import Devices
from finishmatch.bench.start import prepared
from finishmatch.cli import serve
from finishmatch.steps.job.open import open_job
from tests.conftest import ROOT, Ran

Cli = Callable[..., Ran]


@pytest.mark.slow
def test_it_opens_on_the_demos_job_and_ends_at_once_when_it_is_stopped(home: Path, tmp_path: Path) -> None:
    open_job("Roof")
    (tmp_path / "demo-out").symlink_to(home)
    empty = {"FINISHMATCH_HOME", "XDG_DATA_HOME"}
    environ = {name: value for name, value in os.environ.items() if name not in empty}
    environ |= {"HOME": str(tmp_path), "PYTHONPATH": str(ROOT)}
    command = [sys.executable, "-m", "finishmatch", "serve", "--port", "0"]
    with subprocess.Popen(command, cwd=tmp_path, env=environ, stdout=subprocess.PIPE, text=True) as server:
        try:
            _looked_at_and_stopped(server)
        finally:
            server.kill()


def _looked_at_and_stopped(server: subprocess.Popen[str]) -> None:
    assert server.stdout is not None
    found = re.search(r"http://127\.0\.0\.1:\d+", server.stdout.readline())
    assert found
    assert "demo-out" in server.stdout.readline()
    with httpx2.Client(timeout=20, follow_redirects=True, headers={"accept": "text/html"}) as client:
        page = client.get(found[0])
        assert page.url.path == "/job/J1"
        assert "Roof" in page.text
        with client.stream("GET", f"{found[0]}/job/J1/events") as stream:  # a device has it open
            next(stream.iter_lines())
            server.send_signal(signal.SIGINT)
            assert server.wait(timeout=15) == 0


def test_what_cant_be_served_is_said_in_a_line(cli: Cli, tmp_path: Path, home: Path) -> None:
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        port = taken.getsockname()[1]
        assert f"--port {port}: can't be served on" in cli("serve", "--port", port).error
    assert "there is no ledger" in cli("serve", "--home", tmp_path).error
    assert "none" in cli("serve", "--bank", tmp_path / "none").error
    assert "can't be listened to" in cli("serve", "--port", 0, "--scale", tmp_path / "none").error


def test_devices_are_listed_and_forgotten(cli: Cli, home: Path) -> None:
    assert "No device is paired" in cli("serve", "--devices").out
    Devices(home).paired("tablet at the scale")
    listed = cli("serve", "--devices").out
    assert "tablet at the scale" in listed
    assert "Forgotten: tablet at the scale (device 1)" in cli("serve", "--forget", 1).out
    assert "isn't paired" in cli("serve", "--forget", 1).error


def test_only_with_lan_is_it_for_other_devices(home: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    asked: list[str] = []
    listening = start._listening

    def here(host: str, port: int) -> socket.socket:
        asked.append(host)
        return listening("127.0.0.1", port)

    monkeypatch.setattr(start, "_listening", here)
    for lan in (False, True):
        bench, opened = prepared(0, lan=lan, tell=lambda _line: None)
        assert {"127.0.0.1", "localhost"} <= bench.served.hosts
        assert not {"", "0.0.0.0"} & bench.served.hosts
        opened.close()
        bench.close()
    assert asked == ["127.0.0.1", "0.0.0.0"]


def test_the_code_is_shown_with_squares_for_a_camera(
    cli: Cli, home: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    listening = start._listening
    monkeypatch.setattr(start, "_listening", lambda _host, port: listening("127.0.0.1", port))
    monkeypatch.setattr(serve, "serve", lambda bench, opened: (bench.close(), opened.close()))
    out = cli("serve", "--lan", "--port", 0).out
    assert re.search(r"the code to pair it: +\d{4} \d{4}", out)
    assert "▀" in out
