"""A write that fails, or is killed, leaves the old file as it was, and what is left beside it goes at the next."""

from __future__ import annotations

import os
import resource
import signal
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import pytest

from finishmatch.errors import InputError
from finishmatch.files import clear_leftovers, write_file, write_new_file
from finishmatch.ledger import open_ledger
from tests.conftest import ROOT, Ran
from tests.helpers.forked import forked

OLD, NEW = "old " * 300, "new " * 4000
# every call by which a file reaches the disk, and the number of that at which the process is killed
KILLED = """
import os, signal, sys
from pathlib import Path
from finishmatch.files import write_file
left = int(sys.argv[2])
def deadly(call):
    def ask(*given, **named):
        global left
        left -= 1
        if left == 0:
            os.kill(os.getpid(), signal.SIGKILL)
        return call(*given, **named)
    return ask
for name in ("open", "write", "fsync", "replace", "rename", "close", "chmod", "unlink"):
    setattr(os, name, deadly(getattr(os, name)))
write_file(Path(sys.argv[1]), "new " * 4000)
print("done")
"""


def test_a_kill_at_any_call_leaves_the_old_file_or_the_new_one_whole(tmp_path: Path) -> None:
    path = tmp_path / "a.csv"
    found = []
    for call in range(1, 40):
        path.write_text(OLD)
        ran = subprocess.run(
            [sys.executable, "-c", KILLED, str(path), str(call)], capture_output=True, text=True, cwd=ROOT, check=False
        )
        found.append(path.read_text())
        if ran.stdout == "done\n":
            break
        assert ran.returncode == -signal.SIGKILL, ran.stderr
    else:
        pytest.fail("it never ended")
    assert len(found) >= 6
    assert set(found) == {OLD, NEW}
    write_file(path, "last")
    assert [item.name for item in tmp_path.iterdir()] == ["a.csv"]


OUTPUTS = {
    "page": ("plan", "page", "plan/plan.toml", "--out"),
    "target": ("evidence", "weigh", "survivors.csv", "--save"),
    "plot": ("evidence", "weigh", "survivors.csv", "--plot"),
    "readings": ("photo", "read", "photo.jpg", "--save"),
}


@pytest.mark.slow
@pytest.mark.parametrize("line", OUTPUTS.values(), ids=OUTPUTS)
def test_a_disk_with_no_room_leaves_the_old_file(
    swatches: Path, line: tuple[str, ...], cli: Callable[..., Ran], monkeypatch: pytest.MonkeyPatch
) -> None:
    def limited() -> None:
        resource.setrlimit(resource.RLIMIT_FSIZE, (200, 200))

    path = swatches / ("a.png" if "--plot" in line else "a.csv")
    monkeypatch.chdir(swatches)
    made = cli(*line, path)
    assert made.status in (0, 1), made.err
    before, names = path.read_bytes(), sorted(item.name for item in swatches.iterdir())
    ran = forked([*line, str(path)], swatches, before=limited)
    assert ran.status == 2
    assert "can't be written: File too large" in ran.err
    assert path.read_bytes() == before
    assert sorted(item.name for item in swatches.iterdir()) == names


@pytest.mark.parametrize("write", [write_file, write_new_file])
def test_what_a_killed_writer_left_goes_at_the_next_write(tmp_path: Path, write: Callable[..., object]) -> None:
    (tmp_path / ".a.csv.0123abcd.new").write_text("half")
    (tmp_path / ".b.csv.0123abcd.new").write_text("half of another")
    (tmp_path / ".a.csv.new").write_text("not ours")
    write(tmp_path / "a.csv", "whole")
    assert sorted(item.name for item in tmp_path.iterdir()) == [".a.csv.new", ".b.csv.0123abcd.new", "a.csv"]


def test_a_writer_at_work_is_left_alone(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    sync = os.fsync

    def meanwhile(handle: int) -> None:
        clear_leftovers(tmp_path)
        sync(handle)

    monkeypatch.setattr(os, "fsync", meanwhile)
    write_file(tmp_path / "a.csv", "whole")
    assert (tmp_path / "a.csv").read_text() == "whole"


def test_a_writer_whose_file_is_cleared_before_it_is_locked_begins_again(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    opened, cleared = os.open, []

    def cleared_at_once(path: str | Path, *given: int) -> int:
        handle = opened(path, *given)
        if str(path).endswith(".new") and not cleared:
            cleared.append(path)
            os.unlink(path)
        return handle

    monkeypatch.setattr(os, "open", cleared_at_once)
    write_file(tmp_path / "a.csv", "whole")
    assert cleared
    assert [item.name for item in tmp_path.iterdir()] == ["a.csv"]


def test_a_disk_that_knows_no_links_still_replaces_nothing(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def no_links(*_given: object) -> None:
        raise PermissionError(1, os.strerror(1))

    monkeypatch.setattr(os, "link", no_links)
    assert write_new_file(tmp_path / "a.csv", "first")
    assert not write_new_file(tmp_path / "a.csv", "second")
    assert (tmp_path / "a.csv").read_text() == "first"
    monkeypatch.setattr(os, "fsync", no_links)
    with pytest.raises(InputError, match="can't be written"):
        write_new_file(tmp_path / "b.csv", "first")
    assert [item.name for item in tmp_path.iterdir()] == ["a.csv"]


def test_the_next_start_clears_the_home(home: Path) -> None:
    with open_ledger() as ledger:
        ledger.new_job("Roof")
    (home / "cards").mkdir()
    leftovers = [home / ".in-use.txt.0123abcd.new", home / "cards" / ".card-0001.json.0123abcd.new"]
    for path in leftovers:
        path.write_text("half")
    with open_ledger():
        pass
    assert (home / "cards").exists()  # another bay may be about to put its card there
    os.utime(home / "cards", (0, 0))
    with open_ledger():
        pass
    assert not any(path.exists() for path in leftovers)
    assert not (home / "cards").exists()
