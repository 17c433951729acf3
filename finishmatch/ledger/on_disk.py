"""The ledger's files: made whole, cleared of what was left half written, copied where they can't be written in."""

from __future__ import annotations

import errno
import os
import shutil
import tempfile
import time
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager, suppress
from functools import lru_cache
from pathlib import Path
from typing import Any

from sqlalchemy import Engine

from finishmatch.errors import InputError
from finishmatch.files import clear_leftovers, write_new_file
from finishmatch.ledger.home import NOT_LET_IN
from finishmatch.ledger.opening import bring_up_to_date, check_file, connect, connect_in_memory
from finishmatch.ledger.plain_errors import ELSEWHERE, not_writable, plain_errors
from finishmatch.ledger.restoring import clear_restore, finish_restore

READS = 5  # of a ledger that is being written in while it is copied
WHILE_MADE_S = 60  # a folder may be empty for so long while another bay puts the first card in it


@contextmanager
def opened_engine(path: Path) -> Iterator[tuple[Engine, bool]]:
    """Yield an engine on a ledger of the present form, made where there is none, and whether it can be written in."""
    if not path.exists():
        make_ledger(path)
    with ExitStack() as opened:
        open_to_writing = writable(path)
        if open_to_writing:
            clear_home(path.parent)
        engine = connect(path if open_to_writing else opened.enter_context(readable_copy(path)))
        opened.callback(engine.dispose)
        with plain_errors(path):
            bring_up_to_date(engine, path)
        yield engine, open_to_writing


def see_ledger(path: Path, create: bool) -> None:
    """See that a file is a ledger or can become one, and finish what was begun in its folder; make the folder.

    Raises
    ------
    InputError
        It can't be one; there is none, where none is to be made.
    """
    finish_restore(path.parent)
    check_file(path)
    if create:
        make_home(path.parent)
    elif not path.exists():
        raise InputError(str(path), "there is no ledger yet", "open the first job: finishmatch job new TITLE")


def make_home(home: Path) -> None:
    """Make the folder of the ledger where there is none yet."""
    try:
        home.parent.mkdir(parents=True, exist_ok=True)
        with suppress(FileExistsError):
            home.mkdir(mode=0o700)  # the record is nobody else's; a folder that is there keeps its mode
            home.chmod(0o700)  # whatever the umask takes away
        if not home.is_dir():
            raise FileExistsError(errno.EEXIST, os.strerror(errno.EEXIST))
    except (FileExistsError, NotADirectoryError) as error:
        raise InputError(str(home), "there is a file where the ledger's folder should be", ELSEWHERE) from error
    except OSError as error:
        raise InputError(str(home), f"the ledger's folder can't be made ({error.strerror})", ELSEWHERE) from error


def clear_home(home: Path) -> None:
    """Take away what a program that was killed left half written in the ledger's folder."""
    cards = home / "cards"
    clear_leftovers(cards)
    with suppress(OSError):  # there is none, or it holds cards
        if time.time() - cards.stat().st_mtime > WHILE_MADE_S:
            cards.rmdir()
    clear_leftovers(home)
    clear_restore(home)


def make_ledger(path: Path) -> None:
    """Make a new ledger, which has its name only when it is whole; another bay may have been quicker.

    Raises
    ------
    InputError
        Its folder can't be written in.
    """
    try:
        write_new_file(path, _empty_ledger(), private=True)
    except InputError as error:
        if "No space" in error.what:
            raise
        raise not_writable(path) from error


@lru_cache(maxsize=1)
def _empty_ledger() -> bytes:
    """Return the content of a ledger that holds nothing yet."""
    engine = connect_in_memory()
    try:
        bring_up_to_date(engine, Path("a new ledger"))
        with engine.connect() as connection:
            raw: Any = connection.connection.driver_connection
            content: bytes = raw.serialize()
    finally:
        engine.dispose()
    return content


def writable(path: Path) -> bool:
    """Return whether a ledger and its folder can be written in."""
    effective = os.access in os.supports_effective_ids
    return all(os.access(place, os.W_OK, effective_ids=effective) for place in (path, path.parent))


@contextmanager
def readable_copy(path: Path) -> Iterator[Path]:
    """Yield a copy of a ledger that can't be written in, since the database can't read it without writing beside it."""
    with ExitStack() as opened:
        try:
            folder = Path(opened.enter_context(tempfile.TemporaryDirectory(prefix="finishmatch-")))
            _copy(path, folder)
        except OSError as error:
            raise InputError(str(path), f"the ledger can't be read ({error.strerror})", NOT_LET_IN) from error
        yield folder / path.name


def _copy(path: Path, folder: Path) -> None:
    """Copy a ledger with its log, again where somebody wrote in it meanwhile."""
    files = (path, path.with_name(path.name + "-wal"))
    for _ in range(READS):
        before = [_state(file) for file in files]
        for file in files:
            (folder / file.name).unlink(missing_ok=True)
            if file.exists():
                shutil.copyfile(file, folder / file.name)
        if before == [_state(file) for file in files]:
            return
    raise InputError(str(path), "the ledger is busy: another program is writing in it", "try again in a moment")


def _state(file: Path) -> tuple[int, int] | None:
    """Return what changes when somebody writes in a file."""
    try:
        found = file.stat()
    except FileNotFoundError:
        return None
    return found.st_size, found.st_mtime_ns
