"""A ledger that can't be used, a folder that can't be written: one line, and nothing is half done."""

from __future__ import annotations

import ctypes
import os
import shutil
import sqlite3
from collections.abc import Callable, Iterator
from pathlib import Path
from types import SimpleNamespace

import pytest

from finishmatch.errors import InputError
from finishmatch.ledger.plain_errors import plain_errors
from tests.conftest import Ran
from tests.helpers.door_files import CORRECT, MIX, snapshot, write
from tests.helpers.forked import forked

Cli = Callable[..., Ran]
pytest_plugins = ["tests.helpers.door_fixtures"]

# --- the ledger ------------------------------------------------------------------------------------------------------

RECORDING = (("compare", "target.csv", "card1.csv"), MIX, CORRECT)


@pytest.mark.parametrize("arguments", RECORDING, ids=lambda arguments: arguments[0])
def test_a_ledger_that_cant_be_used_is_told_before_anything_is_computed(
    refused: Callable[..., str], cli: Cli, home: Path, arguments: tuple[str, ...], monkeypatch: pytest.MonkeyPatch
) -> None:
    ledger = home / "ledger.db"
    cli("job", "new", "Roof")
    assert "job 'Rof': there is no such job; did you mean J1 'Roof'?" in refused(*arguments, "--job", "Rof")
    with sqlite3.connect(ledger) as connection:
        connection.execute("UPDATE alembic_version SET version_num = '9999'")
    connection.close()
    assert "was written by a newer finishmatch" in refused(*arguments, "--job", "J1")
    for extra in home.glob("ledger.db*"):
        extra.unlink()
    with sqlite3.connect(ledger) as connection:
        connection.execute("CREATE TABLE songs (title)")
    connection.close()
    assert "is a SQLite database of another program, not a ledger" in refused(*arguments, "--job", "J1")
    write(ledger, "tint,grams\n")
    assert "is not a ledger: it isn't a SQLite database" in refused(*arguments, "--job", "J1")
    monkeypatch.setenv("FINISHMATCH_HOME", str(ledger))
    assert "is a file, not a folder; set FINISHMATCH_HOME to a folder" in refused(*arguments, "--job", "J1")


# --- folders that can't be written -----------------------------------------------------------------------------------

_OVERRIDING = 1 << 1 | 1 << 2  # Linux's rights CAP_DAC_OVERRIDE and CAP_DAC_READ_SEARCH
_VERSION = 0x20080522


def _give_up_overriding() -> None:
    """Give up the administrator's right to pass over what a file permits, where this process has it."""
    libc = ctypes.CDLL(None, use_errno=True)
    whose, rights = (ctypes.c_uint32 * 2)(_VERSION, 0), (ctypes.c_uint32 * 6)()
    assert libc.capget(whose, rights) == 0, os.strerror(ctypes.get_errno())
    for at in range(3):  # those in use, those that may be used, and those handed on
        rights[at] &= ~_OVERRIDING
    assert libc.capset(whose, rights) == 0, os.strerror(ctypes.get_errno())


def as_a_painter(folder: Path, *arguments: str) -> Ran:
    """Run a command line in a process that the permissions of files hold for."""
    return forked(arguments, folder, before=_give_up_overriding)


@pytest.fixture
def bench(bench: Path) -> Path:
    """The bench before its bank was fitted."""
    (bench / "bank/fit.json").unlink()
    return bench


@pytest.fixture
def locked(bench: Path, home: Path) -> Iterator[None]:
    """The bench and the ledger's home, not to be written in."""
    folders = [bench, bench / "bank", home]
    for folder in folders:
        folder.chmod(0o555)
    yield
    for folder in folders:
        folder.chmod(0o755)


def test_a_read_only_folder_is_one_line_and_nothing_is_written(bench: Path, home: Path, locked: None) -> None:
    before = snapshot(bench, home)
    fit = as_a_painter(bench, "bank", "fit", "bank").error
    assert "bank: can't be written: Permission denied; copy the bank to a folder of your own" in fit
    demo = as_a_painter(bench, "demo", "--out", "demo-out").error
    assert "demo-out: can't be written: Permission denied; name another folder with --out" in demo
    here = as_a_painter(bench, "demo", "--out", ".").error
    assert ".: can't be written: Permission denied; name another folder with --out" in here
    job = as_a_painter(bench, "job", "new", "Roof").error
    assert "the ledger or its folder can't be written in; set FINISHMATCH_HOME" in job
    assert snapshot(bench, home) == before


def test_a_recipe_from_a_read_only_bank_is_given_and_says_that_the_fit_was_not_kept(
    bench: Path, home: Path, locked: None
) -> None:
    before = snapshot(bench, home)
    for arguments in (MIX, CORRECT, ("bank", "show", "bank")):
        ran = as_a_painter(bench, *arguments, "--json")
        assert (ran.status, ran.err) == (0, "")
        assert "the fit was not kept: bank can't be written: Permission denied" in ran.json["warnings"]
    assert snapshot(bench, home) == before


def test_a_ledger_that_is_read_only_is_told_and_the_fit_isnt_kept_either(bench: Path, home: Path, cli: Cli) -> None:
    cli("job", "new", "Roof")
    for path in (home / "ledger.db", home):
        path.chmod(0o444 if path.is_file() else 0o555)
    before = snapshot(bench, home)
    try:
        for arguments in RECORDING:
            error = as_a_painter(bench, *arguments, "--job", "J1").error
            assert "the ledger or its folder can't be written in; set FINISHMATCH_HOME" in error
        assert snapshot(bench, home) == before
    finally:
        home.chmod(0o755)
        (home / "ledger.db").chmod(0o644)


def test_a_record_that_may_not_be_read_is_named_and_nobody_is_sent_to_begin_another(
    bench: Path, home: Path, cli: Cli
) -> None:
    cli("job", "new", "Roof")
    mend = "have its owner give you the right to read it, or set FINISHMATCH_HOME to the record that is meant"
    for closed, said in ((home / "ledger.db", "the ledger can't be read"), (home, "the ledger's folder can't be read")):
        kept = closed.stat().st_mode
        closed.chmod(0)
        try:
            for arguments in (("job", "show", "J1"), ("job", "note", "J1", "dry"), ("next",), ("find", "45,-4,-17")):
                assert (
                    as_a_painter(bench, *arguments).error
                    == f"finishmatch: {closed}: {said} (Permission denied); {mend}"
                )
        finally:
            closed.chmod(kept)
    assert "dry" not in cli("job", "show", "J1").out


def test_a_file_that_may_not_be_read_is_told(bench: Path) -> None:
    (bench / "target.csv").chmod(0)
    (bench / "bank").chmod(0)
    try:
        compared = as_a_painter(bench, "compare", "target.csv", "50,0,0").error
        assert "target.csv: can't be read: Permission denied; check the name and its permissions" in compared
        assert "bank/bank.toml: can't be read: Permission denied" in as_a_painter(bench, "bank", "show", "bank").error
    finally:
        (bench / "target.csv").chmod(0o644)
        (bench / "bank").chmod(0o755)


def test_a_full_disk_leaves_no_part_of_a_fit(
    cli: Cli, bench: Path, home: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def full(*_: object) -> None:
        raise OSError(28, os.strerror(28))

    monkeypatch.setattr(os, "replace", full)
    before = snapshot(bench, home)
    assert "bank: can't be written: No space left on device" in cli("bank", "fit", "bank").error
    assert snapshot(bench, home) == before


@pytest.mark.parametrize(("free", "said"), [(0, "the disk is full; make room"), (10**9, "the disk gave an error")])
def test_a_full_disk_is_called_full_where_the_database_calls_it_an_error(
    free: int, said: str, home: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    error = sqlite3.OperationalError("disk I/O error")
    error.sqlite_errorcode = sqlite3.SQLITE_IOERR_SHMSIZE
    monkeypatch.setattr(shutil, "disk_usage", lambda _: SimpleNamespace(free=free))
    with pytest.raises(InputError, match=f"ledger.db: {said}"), plain_errors(home / "ledger.db"):
        raise error


def test_no_place_is_named_as_a_mend_for_a_full_disk(
    cli: Cli, bench: Path, home: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def full(*_: object) -> None:
        raise OSError(28, os.strerror(28))

    monkeypatch.setattr(os, "replace", full)
    said = "card.pdf: can't be written: No space left on device; make room and do it again"
    assert cli("photo", "card", "--out", "card.pdf").error == f"finishmatch: {said}"
    assert not (bench / "card.pdf").exists()


def test_a_dossier_that_isnt_written_leaves_no_folder(cli: Cli, bench: Path, home: Path) -> None:
    cli("job", "new", "Roof")
    (bench / "there").mkdir()
    for out in ("deep/er", "there"):
        assert "there is no such job" in cli("dossier", "J9", "--out", out).error
    assert [one.name for one in bench.iterdir() if one.is_dir()] in (["bank", "there"], ["there", "bank"])
