"""A record that is put in the place of another: whole or not at all, whenever it is cut off; and what belongs to one.

What is put back is gathered and verified in the folder `.restoring` of the home. Nothing is replaced until all of it is
safe on the disk; then `ready.json` says so, and from there on every opening of the home finishes what was begun.
"""

from __future__ import annotations

import json
import os
import re
import shutil
import sqlite3
import sys
import time
from collections.abc import Iterator
from contextlib import closing, contextmanager, suppress
from pathlib import Path, PurePosixPath

if sys.platform != "win32":
    import fcntl

from finishmatch.errors import InputError
from finishmatch.files import open_regular, sync
from finishmatch.ledger.put_back import READY, RESTORING
from finishmatch.opened_once import close_opened

NEW, OLD, CLOSED = "new", "old", "closed"
LEDGER = "ledger.db"
FILES = ("removal.csv", "evidence-kinds.toml", "bench-panels.json", "bench-sent.json")
FOLDERS = ("cards", "shop", "banks")
WAIT_SECONDS = 15
MOST_FILES = 20_000
MOST_BYTES = 2**30  # of all that lies beside the ledger
_IN_USE = re.compile(r"in-use(-[^/]{1,60})?\.txt")
_DEEPEST = 4
_CORRUPT = (sqlite3.SQLITE_CORRUPT, sqlite3.SQLITE_NOTADB, sqlite3.SQLITE_READONLY)
_UNDER_WAY = "a backup is being put back in it just now"


def belongs(name: str) -> bool:
    """Return whether a file of this name, by its path from the home, belongs to the record beside the ledger."""
    parts = PurePosixPath(name).parts
    if len(parts) == 1:
        return name in FILES or bool(_IN_USE.fullmatch(name))
    return parts[0] in FOLDERS and len(parts) <= _DEEPEST and not any(part.startswith(".") for part in parts)


def beside(home: Path) -> dict[str, Path]:
    """Return the files that belong to the record beside the ledger, by their path from the home, in order.

    Raises
    ------
    InputError
        Far more than belongs to a record; what can't be read, or is no file where one belongs.
    """
    found: dict[str, Path] = {}
    whole = 0
    try:
        waiting = [path for path in sorted(home.iterdir()) if path.name in FOLDERS or belongs(path.name)]
        while waiting:
            path = waiting.pop(0)
            name = path.relative_to(home).as_posix()
            if path.is_dir() and path.relative_to(home).parts[0] in FOLDERS and name.count("/") < _DEEPEST - 1:
                waiting = [*sorted(path.iterdir()), *waiting]
            elif name in FOLDERS:
                raise InputError(str(path), "is not a folder", "take it away from there")
            elif belongs(name):
                with open_regular(path, "take it away from there"):  # nothing else can be kept
                    found[name] = path
                whole += path.stat().st_size
            if len(found) > MOST_FILES or whole > MOST_BYTES:
                mend = f"up to {MOST_FILES} files of 1 GB together belong to a record: move others away"
                raise InputError(str(path.parent), "holds far more than belongs to a record", mend)
    except FileNotFoundError:
        return found
    except OSError as error:
        raise InputError(str(error.filename or home), f"can't be read: {error.strerror}", "check it") from None
    return found


@contextmanager
def restoring(home: Path) -> Iterator[Path]:
    """Yield an empty folder of a home in which another record is gathered; at the end it is gone.

    Raises
    ------
    InputError
        Another backup is being put back just now.
    """
    with _locked(home, wait=False):
        staging = home / RESTORING
        _finish(home)
        shutil.rmtree(staging, ignore_errors=True)
        (staging / NEW).mkdir(parents=True, mode=0o700)
        staging.chmod(0o700)
        try:
            yield staging / NEW
        finally:
            if not (staging / READY).exists():
                shutil.rmtree(staging, ignore_errors=True)


def close_to_writing(home: Path) -> None:
    """Let nobody record in a home from now on until the other record is in its place; who is at it is waited for.

    Raises
    ------
    InputError
        Somebody has been recording for a quarter of a minute.
    """
    (home / RESTORING / CLOSED).touch(mode=0o600)
    if not (home / LEDGER).exists():
        return
    with closing(sqlite3.connect(home / LEDGER, timeout=WAIT_SECONDS, isolation_level=None)) as database:
        try:
            database.execute("BEGIN IMMEDIATE")
            database.execute("ROLLBACK")
        except sqlite3.Error as error:
            if error.sqlite_errorcode & 0xFF in (sqlite3.SQLITE_BUSY, sqlite3.SQLITE_LOCKED):
                raise InputError(str(home), "somebody is recording in it", "try again in a moment") from None
            # one that is damaged, or can't be written in, is recorded in by nobody


def see_open_to_writing(home: Path) -> None:
    """See, under the lock of a writer, that no other record is being put in the place of this one.

    Raises
    ------
    InputError
        One is.
    """
    if not (home / RESTORING / CLOSED).exists():
        return
    try:
        with _locked(home, wait=False):
            # who was putting it back was killed
            if not (home / RESTORING / READY).exists():
                return
    except InputError:
        pass
    raise InputError(str(home), _UNDER_WAY, "try again in a moment")


def put_in_place(home: Path) -> None:
    """Put the record that was gathered in the place of what stands in a home; it is safe on the disk before that."""
    staging = home / RESTORING
    new = staging / NEW
    for path in sorted(new.rglob("*"), reverse=True):
        sync(path)
    sync(new)
    ready = staging / f"{READY}.part"
    ready.write_text(json.dumps(sorted(path.name for path in new.iterdir())) + "\n", "utf-8")
    sync(ready)
    ready.replace(staging / READY)
    sync(staging)
    _finish(home)


def finish_restore(home: Path) -> None:
    """Finish what was begun where a backup was put back in a home and that was cut off after all was ready."""
    if (home / RESTORING / READY).exists():
        with _locked(home, wait=True):
            _finish(home)


def clear_restore(home: Path) -> None:
    """Take away what is left of a backup that was being put back and was cut off before all was ready."""
    if (home / RESTORING).exists():
        with suppress(InputError), _locked(home, wait=False):
            if not (home / RESTORING / READY).exists():
                shutil.rmtree(home / RESTORING, ignore_errors=True)


def _finish(home: Path) -> None:
    """Put what is ready in its place, under the lock; done again from any point it leads to the same."""
    staging = home / RESTORING
    if not (staging / READY).exists():
        return
    close_opened()
    names = json.loads((staging / READY).read_text("utf-8"))
    (staging / OLD).mkdir(mode=0o700, exist_ok=True)
    _put_ledger(staging / NEW / LEDGER, home / LEDGER)
    for path in [path for path in home.iterdir() if path.name in FOLDERS or belongs(path.name)]:
        if path.name not in names or (staging / NEW / path.name).exists():
            shutil.rmtree(staging / OLD / path.name, ignore_errors=True)
            path.replace(staging / OLD / path.name)
    for name in names:
        if (staging / NEW / name).exists():
            (staging / NEW / name).replace(home / name)
    sync(home)
    (staging / READY).unlink()
    sync(staging)
    shutil.rmtree(staging, ignore_errors=True)


def _put_ledger(new: Path, target: Path) -> None:
    """Put a ledger in the place of another, through the database where that one is sound enough: others may read it."""
    if not new.exists():
        return
    target = Path(os.path.realpath(target))
    if target.is_file() and target.stat().st_size and _copied_into(new, target):
        new.unlink()
        return
    for end in ("-wal", "-shm", "-journal"):
        target.with_name(target.name + end).unlink(missing_ok=True)
    if target.is_dir():
        shutil.rmtree(target)
    try:
        new.replace(target)
    except OSError:  # a link that leads to another disk
        shutil.copyfile(new, target)
        sync(target)
        new.unlink()


def _copied_into(new: Path, target: Path) -> bool:
    """Return whether a ledger could be copied into another, in one transaction of that one."""
    until = time.monotonic() + WAIT_SECONDS

    def waited(_status: int, remaining: int, _total: int) -> None:
        if remaining and time.monotonic() > until:
            raise InputError(str(target), "somebody is recording in it", "try again in a moment")

    source, into = sqlite3.connect(new), sqlite3.connect(target, timeout=WAIT_SECONDS)
    with closing(source), closing(into):
        try:
            into.execute("PRAGMA synchronous = FULL")
            source.backup(into, progress=waited)
        except sqlite3.Error as error:
            if error.sqlite_errorcode & 0xFF not in _CORRUPT:
                raise
            return False
    return True


@contextmanager
def _locked(home: Path, wait: bool) -> Iterator[None]:
    """Hold the lock of a home, so that two programs don't put a record in it at once."""
    if sys.platform == "win32":
        yield
        return
    handle = os.open(home, os.O_RDONLY)
    try:
        try:
            fcntl.flock(handle, fcntl.LOCK_EX | (0 if wait else fcntl.LOCK_NB))
        except BlockingIOError:
            raise InputError(str(home), _UNDER_WAY, "try again in a moment") from None
        except OSError:  # not every disk knows locks
            pass
        yield
    finally:
        os.close(handle)
