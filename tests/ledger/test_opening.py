"""Where the ledger lives, and one clear line for every file that can't be one."""

from __future__ import annotations

import os
import random
import shutil
import sqlite3
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, datetime
from pathlib import Path

import pytest

from finishmatch.errors import InputError
from finishmatch.ledger import job_story, ledger_exists, ledger_home, ledger_path, open_ledger, put_in_use
from finishmatch.ledger.opening import APPLICATION_ID, REVISION
from tests.helpers.ledger_samples import NOTE, every_kind

_WHOLE: list[bytes] = []


def test_the_home_is_the_chosen_folder_or_the_platforms_own(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("HOME", str(tmp_path))
    assert ledger_home({"FINISHMATCH_HOME": "/srv/bay"}, "linux") == Path("/srv/bay")
    assert ledger_home({"FINISHMATCH_HOME": "~/bay"}, "linux") == tmp_path / "bay"
    assert ledger_home({"FINISHMATCH_HOME": ""}, "linux") == tmp_path / ".local/share/finishmatch"
    assert ledger_home({"XDG_DATA_HOME": "/data"}, "linux") == Path("/data/finishmatch")
    assert ledger_home({"XDG_DATA_HOME": "data"}, "linux") == tmp_path / ".local/share/finishmatch"  # XDG: ignore
    assert ledger_home({}, "darwin") == tmp_path / "Library/Application Support/finishmatch"
    assert ledger_home({"LOCALAPPDATA": "/users/x/local"}, "win32") == Path("/users/x/local/finishmatch")
    assert ledger_home({}, "win32") == tmp_path / "AppData/Local/finishmatch"


def test_the_chosen_folder_is_where_the_ledger_is_made(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    home = tmp_path / "100% ours & #1" / "bay"
    monkeypatch.setenv("FINISHMATCH_HOME", str(home))
    assert not ledger_exists()
    with open_ledger() as ledger:
        ledger.new_job("Roof")
        assert ledger.path == home / "ledger.db" == ledger_path()
    assert ledger_exists()
    assert [path.name for path in home.iterdir()] == ["ledger.db"]


def test_a_ledger_is_marked_as_ours_writes_ahead_and_is_in_the_newest_form(tmp_path: Path) -> None:
    with open_ledger(tmp_path):
        pass
    database = sqlite3.connect(tmp_path / "ledger.db")
    assert database.execute("PRAGMA application_id").fetchone() == (APPLICATION_ID,)
    assert database.execute("PRAGMA journal_mode").fetchone() == ("wal",)
    assert database.execute("SELECT version_num FROM alembic_version").fetchall() == [(REVISION,)]
    database.close()
    assert int.from_bytes((tmp_path / "ledger.db").read_bytes()[68:72], "big") == APPLICATION_ID


def test_without_leave_to_make_one_no_ledger_is_made(tmp_path: Path) -> None:
    home = tmp_path / "none"
    with pytest.raises(InputError, match="there is no ledger yet; open the first job"), open_ledger(home, create=False):
        pass
    assert not home.exists()


def test_an_empty_file_is_told_and_left_as_it_is_with_its_log(tmp_path: Path) -> None:
    path, log = tmp_path / "ledger.db", tmp_path / "ledger.db-wal"
    path.touch()
    assert "is empty: what was in the ledger is lost, or was never written; put back a backup" in _refused(tmp_path)
    log.write_bytes(b"x" * 2_000_000)
    assert "is empty, and a log of it lies beside it (ledger.db-wal)" in _refused(tmp_path)
    assert (path.stat().st_size, log.stat().st_size) == (0, 2_000_000)


def test_a_link_to_nowhere_and_a_pipe_are_told(tmp_path: Path) -> None:
    path = tmp_path / "ledger.db"
    path.symlink_to(tmp_path / "gone" / "ledger.db")
    assert ledger_exists(tmp_path)
    assert "is a link to a file that isn't there" in _refused(tmp_path)
    path.unlink()
    os.mkfifo(path)
    assert "is a device or a pipe" in _refused(tmp_path)


def test_a_new_ledger_is_its_owners_alone_whatever_the_umask(tmp_path: Path) -> None:
    for umask in (0o000, 0o022, 0o077, 0o777):
        home = tmp_path / oct(umask)
        was = os.umask(umask)
        try:
            with open_ledger(home) as ledger:
                put_in_use(ledger.new_job("Roof"), home)
                modes = {path.name: oct(path.stat().st_mode & 0o777) for path in home.iterdir()}
        finally:
            os.umask(was)
        assert home.stat().st_mode & 0o777 == 0o700
        assert {"ledger.db", "ledger.db-wal", "in-use.txt"} <= set(modes)
        assert set(modes.values()) == {"0o600"}


def test_a_ledger_that_can_only_be_read_is_read() -> None:
    with _someone_without_rights() as folder:
        home = folder / "bay"
        path = _begun(home)
        held = sqlite3.connect(path)
        held.execute("SELECT * FROM job").fetchall()
        with open_ledger(home) as ledger:  # the last entry stays in the log, since another bay has the ledger open
            ledger.record(ledger.jobs()[0], NOTE)
        assert path.with_name("ledger.db-wal").stat().st_size
        for file in home.iterdir():
            file.chmod(0o400)
        home.chmod(0o500)
        before = {file.name: file.read_bytes() for file in home.iterdir()}
        with open_ledger(home, create=False) as ledger:
            (job,) = ledger.jobs()
            assert ledger.entries(job)[-1].entry == NOTE
            with pytest.raises(InputError, match="can't be written in"):
                ledger.record(job, NOTE)
        assert {file.name: file.read_bytes() for file in home.iterdir()} == before
        held.close()


def _use(home: Path) -> None:
    with open_ledger(home) as ledger:
        job = ledger.jobs()[0]
        ledger.entries(job)
        ledger.record(job, NOTE)


def _refused(home: Path) -> str:
    with pytest.raises(InputError) as caught:
        _use(home)
    assert "\n" not in str(caught.value)
    return str(caught.value)


def test_a_file_that_is_no_database_is_left_as_it_is(tmp_path: Path) -> None:
    path = tmp_path / "ledger.db"
    for content in (b"x", b"grams of white: 300\n" * 40, b"SQLite format 3\0 and then nothing"):
        path.write_bytes(content)
        assert "isn't a SQLite database" in _refused(tmp_path)
        assert path.read_bytes() == content


@pytest.mark.parametrize("mark", [0, 7])
def test_another_programs_database_is_left_as_it_is(tmp_path: Path, mark: int) -> None:
    path = tmp_path / "ledger.db"
    database = sqlite3.connect(path)
    database.execute(f"PRAGMA application_id = {mark}")
    database.execute("CREATE TABLE other (x)")
    database.close()
    before = path.read_bytes()
    assert "is a SQLite database of another program" in _refused(tmp_path)
    assert path.read_bytes() == before
    assert [entry.name for entry in tmp_path.iterdir()] == ["ledger.db"]


def test_an_empty_database_with_another_programs_mark_is_left_alone(tmp_path: Path) -> None:
    database = sqlite3.connect(tmp_path / "ledger.db")
    database.execute("PRAGMA application_id = 7")
    database.close()
    assert "another program" in _refused(tmp_path)


def test_a_home_that_is_a_file_and_a_ledger_that_is_a_folder_are_told(tmp_path: Path) -> None:
    file = tmp_path / "file"
    file.touch()
    assert "is a file, not a folder" in _refused(file)
    assert "a file where the ledger's folder should be" in _refused(file / "deeper" / "still")
    (tmp_path / "ledger.db").mkdir()
    assert "is a folder, and the ledger is a file" in _refused(tmp_path)


def _begun(home: Path) -> Path:
    """A ledger of many pages, written once."""
    path = home / "ledger.db"
    with open_ledger(home) as ledger:
        if not _WHOLE:
            ledger.record_all(ledger.new_job("Roof"), every_kind() * 20)
    if _WHOLE:
        path.write_bytes(_WHOLE[0])
    else:
        _WHOLE.append(path.read_bytes())
    return path


def _set_revision(path: Path, statement: str) -> None:
    database = sqlite3.connect(path)
    database.execute(statement)
    database.commit()
    database.close()


def test_a_ledger_newer_than_the_program_is_left_as_it_is(tmp_path: Path) -> None:
    path = _begun(tmp_path)
    _set_revision(path, "UPDATE alembic_version SET version_num = '9999'")
    before = path.read_bytes()
    assert "was written by a newer finishmatch (form 9999" in _refused(tmp_path)
    assert path.read_bytes() == before


@pytest.mark.parametrize(
    "statement", ["DELETE FROM alembic_version", "DROP TABLE alembic_version", "DROP TABLE entry", "DROP TABLE note"]
)
def test_a_ledger_that_lost_a_table_is_told_as_damaged(tmp_path: Path, statement: str) -> None:
    _set_revision(_begun(tmp_path), statement)
    assert "the ledger is damaged" in _refused(tmp_path)


@pytest.mark.slow
def test_a_damaged_ledger_is_told_wherever_the_damage_is(tmp_path: Path) -> None:
    path = _begun(tmp_path)
    whole = path.read_bytes()
    told = []
    for start in range(0, len(whole), 4096):
        home = tmp_path / f"at{start}"
        home.mkdir()
        (home / "ledger.db").write_bytes(whole[:start] + b"\xa5" * 4096 + whole[start + 4096 :])
        try:
            with open_ledger(home) as ledger:
                for job in ledger.jobs():
                    ledger.entries(job)
        except InputError as error:
            told.append(str(error))
    assert len(told) >= 10
    assert all("damaged" in line or "isn't a SQLite database" in line for line in told)
    (tmp_path / "ledger.db").write_bytes(whole[: len(whole) // 2])
    assert "the ledger is damaged" in _refused(tmp_path)


@pytest.mark.slow
def test_a_ledger_with_flipped_bytes_is_read_or_told_in_one_line(tmp_path: Path) -> None:
    source = tmp_path / "card.csv"
    source.write_text("name,L,a,b\n" + "card,38.2,-4.1,-20.3\n" * 500)
    with open_ledger(tmp_path, now=lambda: datetime(2026, 3, 1, tzinfo=UTC)) as ledger:
        ledger.record_all(ledger.new_job("Roof"), every_kind(), sources=[source])
    path = tmp_path / "ledger.db"
    whole, dice = path.read_bytes(), random.Random(1934)
    told = []
    for _ in range(80):
        flipped = bytearray(whole)
        for _ in range(dice.choice([1, 3, 30])):
            flipped[dice.randrange(len(flipped))] = dice.randrange(256)
        path.write_bytes(flipped)
        try:
            with open_ledger(tmp_path) as ledger:
                for job in ledger.jobs():
                    job_story(job, ledger.entries(job))
        except InputError as error:
            told.append(str(error))
    assert len(told) >= 20
    assert not any("\n" in line or "Error" in line for line in told)


@contextmanager
def _someone_without_rights() -> Iterator[Path]:
    """Yield a folder and act as a user whom file rights bind, also where the tests are run by root."""
    folder = Path(tempfile.mkdtemp())
    is_root = os.geteuid() == 0
    if is_root:
        os.chown(folder, 65534, 65534)
        os.seteuid(65534)
    try:
        yield folder
    finally:
        if is_root:
            os.seteuid(0)
        for path in [folder, *folder.rglob("*")]:
            path.chmod(0o700)
        shutil.rmtree(folder)


def test_a_folder_or_file_that_cant_be_written_is_told() -> None:
    with _someone_without_rights() as folder:
        locked = folder / "locked"
        locked.mkdir(mode=0o500)
        assert "can't be written in" in _refused(locked)
        assert "folder can't be made" in _refused(locked / "deeper")
        assert list(locked.iterdir()) == []

        path = _begun(folder / "bay")
        path.chmod(0o400)
        assert "can't be written in" in _refused(folder / "bay")
        path.chmod(0o600)
        (folder / "bay").chmod(0o500)
        assert "can't be written in" in _refused(folder / "bay")
        (folder / "bay").chmod(0o700)
        path.chmod(0o000)
        assert "can't be read" in _refused(folder / "bay")


def test_a_ledger_that_stays_busy_is_told(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("finishmatch.ledger.opening.BUSY_SECONDS", 0.1)
    monkeypatch.setattr("finishmatch.ledger.opening.WAIT_SECONDS", 0.3)
    path = _begun(tmp_path)
    other = sqlite3.connect(path, isolation_level=None)
    other.execute("BEGIN IMMEDIATE")
    with open_ledger(tmp_path) as ledger:
        job = ledger.jobs()[0]
        assert ledger.entries(job)  # one bay reads while another writes
        with pytest.raises(InputError, match="another program is writing in it; try again"):
            ledger.record(job, NOTE)
        other.execute("ROLLBACK")
        ledger.record(job, NOTE)
    other.close()
