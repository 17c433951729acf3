"""The one writer of files: whole or not at all, and what stood there is as it was when it fails."""

from __future__ import annotations

import os
import stat
import threading
from pathlib import Path

import pytest

from finishmatch.errors import InputError
from finishmatch.files import write_file, write_new_file


def names(folder: Path) -> list[str]:
    return sorted(path.name for path in folder.iterdir())


@pytest.mark.parametrize("content", ["grün\n", b"\x00\xff", "", "x" * 300_000])
def test_a_file_is_written_as_it_is_given_and_nothing_lies_beside_it(tmp_path: Path, content: str | bytes) -> None:
    for _ in range(2):
        write_file(tmp_path / "a.txt", content)
    assert (tmp_path / "a.txt").read_bytes() == (content.encode() if isinstance(content, str) else content)
    assert names(tmp_path) == ["a.txt"]


@pytest.mark.parametrize("broken", ["os.fsync", "os.replace"])
def test_a_disk_that_refuses_leaves_the_old_file(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, broken: str) -> None:
    def full(*_: object, **__: object) -> None:
        raise OSError(28, "No space left on device")

    path = tmp_path / "a.txt"
    path.write_text("old", "utf-8")
    monkeypatch.setattr(broken, full)
    with pytest.raises(InputError, match=r"a\.txt: can't be written: No space left on device; make room"):
        write_file(path, "new", mend="make room")
    assert path.read_text("utf-8") == "old"
    assert names(tmp_path) == ["a.txt"]


def test_an_interrupted_write_leaves_nothing(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def stop(*_: object) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr("os.fsync", stop)
    for write in (write_file, write_new_file):
        with pytest.raises(KeyboardInterrupt):
            write(tmp_path / "a.txt", "new")
    assert names(tmp_path) == []


def test_what_is_no_file_and_what_has_no_folder_is_refused(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="is a folder; name a file"):
        write_file(tmp_path, "x")
    for write in (write_file, write_new_file):
        with pytest.raises(InputError, match="can't be written: No such file or directory"):
            write(tmp_path / "none" / "a.txt", "x")
    (tmp_path / "loop").symlink_to("loop")
    with pytest.raises(InputError, match="loop: can't be written"):
        write_file(tmp_path / "loop", "x")
    write_file(tmp_path / "none" / "a.txt", "x", make_folder=True)
    assert (tmp_path / "none" / "a.txt").read_text("utf-8") == "x"


def test_a_link_is_followed_and_stays(tmp_path: Path) -> None:
    (tmp_path / "far").mkdir()
    for name in ("there.txt", "not yet.txt"):
        link = tmp_path / f"link to {name}"
        link.symlink_to(Path("far", name))
        if name == "there.txt":
            (tmp_path / "far" / name).write_text("old", "utf-8")
        write_file(link, "new")
        assert link.is_symlink()
        assert (tmp_path / "far" / name).read_text("utf-8") == "new"
    assert names(tmp_path / "far") == ["not yet.txt", "there.txt"]


def test_a_new_file_has_the_mode_of_the_umask_and_an_old_one_keeps_its_own(tmp_path: Path) -> None:
    path = tmp_path / "a.txt"
    was = os.umask(0o027)
    try:
        write_file(path, "one")
        assert stat.S_IMODE(path.stat().st_mode) == 0o640
        path.chmod(0o604)
        write_file(path, "two")
        assert stat.S_IMODE(path.stat().st_mode) == 0o604
    finally:
        os.umask(was)


def test_a_pipe_is_written_into_and_stays(tmp_path: Path) -> None:
    pipe, got = tmp_path / "pipe", []
    os.mkfifo(pipe)
    reader = threading.Thread(target=lambda: got.append(pipe.read_bytes()))
    reader.start()
    write_file(pipe, "through")
    reader.join(10)
    assert got == [b"through"]
    assert stat.S_ISFIFO(pipe.stat().st_mode)


def test_a_pipe_that_nobody_reads_is_not_waited_for_long(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("finishmatch.files.WAIT_S", 0.1)
    os.mkfifo(tmp_path / "pipe")
    with pytest.raises(InputError, match="pipe: is a pipe that nobody reads; name a file"):
        write_file(tmp_path / "pipe", "x")
    assert names(tmp_path) == ["pipe"]


def test_a_new_file_never_takes_the_place_of_another(tmp_path: Path) -> None:
    path = tmp_path / "card.json"
    assert write_new_file(path, "first")
    assert not write_new_file(path, "second")
    assert path.read_text("utf-8") == "first"
    assert names(tmp_path) == ["card.json"]


def test_a_long_name_can_be_written(tmp_path: Path) -> None:
    path = tmp_path / ("ü" * 120 + ".csv")
    write_file(path, "x")
    assert path.read_text("utf-8") == "x"
