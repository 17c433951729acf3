"""One place where a file is written, so that a failed write spoils nothing, and where bytes are read, within bounds."""

from __future__ import annotations

import errno
import os
import re
import secrets
import stat
import sys
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import IO

if sys.platform != "win32":
    import fcntl

from finishmatch.errors import InputError

PRIVATE = 0o600  # the mode of what is its owner's alone
ELSEWHERE = "name a file in a folder you may write in"
WAIT_S = 2.0  # for somebody to read a pipe that is written into
_POLL_S = 0.02
_LEFTOVER = re.compile(r"\.(.{1,40})\.[0-9a-f]{8}\.new", re.DOTALL)
Content = bytes | str | Callable[[IO[bytes]], None]  # what a file is to hold; the last writes it piece by piece
_FULL, _ROOM = (errno.ENOSPC, errno.EDQUOT), "make room and do it again"
_NO_LINKS = (errno.EPERM, errno.EOPNOTSUPP, errno.ENOSYS, errno.EMLINK)


def write_file(
    path: str | Path,
    content: Content,
    *,
    where: str = "",
    mend: str = ELSEWHERE,
    make_folder: bool = False,
    private: bool = False,
) -> None:
    """Write a file whole or not at all: what stood there stays until the new one is safe on the disk.

    Parameters
    ----------
    path : str or Path
        A link is followed, and the file it leads to replaced. A device, or a pipe that is read, is written into.
    content : bytes, str or callable
        Text is written as UTF-8; a callable is given the open file, and writes into it what is too much for memory.
    where : str
        What the message names in place of the path.
    mend : str
        What is said to be done when it can't be written.
    make_folder : bool
        Make its folder where there is none.
    private : bool
        A new file, and a new folder, can be read by its owner alone.

    Raises
    ------
    InputError
        The path is a folder or a pipe that nobody reads, its folder is missing or closed to writing, the disk is full;
        the file is then as it was and nothing is left beside it.
    """
    data = content.encode("utf-8") if isinstance(content, str) else content
    target, where = Path(os.path.realpath(path)), where or str(path)
    try:
        if make_folder:
            target.parent.mkdir(mode=0o700 if private else 0o777, parents=True, exist_ok=True)
        old = _stat(target)
        if old is not None and stat.S_ISDIR(old.st_mode):
            raise InputError(where, "is a folder", "name a file")
        if old is not None and not stat.S_ISREG(old.st_mode):
            with _opened_special(target, str(path)) as file:  # it has no folder entry that could be replaced
                _fill(file, data)
            return
        if old is not None and not os.access(target, os.W_OK):
            raise PermissionError(errno.EACCES, os.strerror(errno.EACCES))
        clear_leftovers(target.parent, target.name)
        new, lock = _write_beside(target, data, private)
        try:
            if old is not None:
                _take_owner_and_mode(new, old)
            new.replace(target)
        except BaseException:
            new.unlink(missing_ok=True)
            raise
        finally:
            os.close(lock)
    except OSError as error:
        raise _unwritten(where, error, mend) from None
    sync(target.parent)


def write_new_file(
    path: str | Path, content: bytes | str, *, where: str = "", mend: str = ELSEWHERE, private: bool = False
) -> bool:
    """Write a file as `write_file` does, but only where there is none; return whether it was written.

    Two programs that write the same new file at once don't overwrite each other: one of them gets False. What is
    `private` can be read by its owner alone.

    Raises
    ------
    InputError
        As `write_file`.
    """
    data = content.encode("utf-8") if isinstance(content, str) else content
    target = Path(path)
    try:
        clear_leftovers(target.parent, target.name)
        new, lock = _write_beside(target, data, private)
        try:
            os.link(new, target)  # unlike a rename it fails where something stands
        except FileExistsError:
            return False
        except OSError as error:
            if error.errno not in _NO_LINKS:
                raise
            if not _write_in_place(target, data, private):
                return False
        finally:
            new.unlink(missing_ok=True)
            os.close(lock)
    except OSError as error:
        raise _unwritten(where or str(path), error, mend) from None
    sync(target.parent)
    return True


def _unwritten(where: str, error: OSError, mend: str) -> InputError:
    """Return what is said of a file that can't be written; on a full disk another place of it is no mend."""
    return InputError(where, f"can't be written: {error.strerror or error}", _ROOM if error.errno in _FULL else mend)


def read_file(path: str | Path, most: int, mend: str = "name a file") -> bytes:
    """Return the bytes of a regular file; what may never end, or never begin, is neither waited for nor read.

    Parameters
    ----------
    path : str or Path
        A link is followed.
    most : int
        Bytes; a larger file is refused.
    mend : str
        What is said to be done when it is no such file.

    Raises
    ------
    InputError
        A folder, a pipe, a device, no file at all, one that can't be read or is too large.
    """
    with open_regular(path, mend) as file:
        data = file.read(most + 1)  # never more, whatever its size is said to be
    if len(data) > most:
        raise InputError(str(path), f"is larger than {most // 1_000_000} MB", mend)
    return data


@contextmanager
def open_regular(path: str | Path, mend: str = "name a file") -> Iterator[IO[bytes]]:
    """Open a regular file to read, under the terms of `read_file`; for what is too much for memory.

    Raises
    ------
    InputError
        As `read_file`, but for its size.
    """
    where = str(path)
    try:
        handle = os.open(path, os.O_RDONLY | getattr(os, "O_NONBLOCK", 0) | getattr(os, "O_BINARY", 0))
        with os.fdopen(handle, "rb") as file:
            found = os.fstat(handle)
            if not stat.S_ISREG(found.st_mode):
                raise InputError(where, _no_file(found.st_mode), mend)
            yield file
    except (FileNotFoundError, NotADirectoryError):
        what = "is a link that leads nowhere" if os.path.islink(path) else "there is no such file"
        raise InputError(where, what, "check the name and the folder") from None
    except (OSError, ValueError) as error:
        if isinstance(error, InputError):
            raise
        if special := _special(path):
            raise InputError(where, special, mend) from None
        reason = getattr(error, "strerror", None) or str(error)
        raise InputError(where, f"can't be read: {reason}", "check the name and its permissions") from None


def _special(path: str | Path) -> str:
    """Return what something is that can't be opened as a file, or ""."""
    try:
        mode = os.stat(path).st_mode
    except (OSError, ValueError):
        return ""
    return "" if stat.S_ISREG(mode) else _no_file(mode)


def _no_file(mode: int) -> str:
    if stat.S_ISDIR(mode):
        return "is a folder"
    if stat.S_ISFIFO(mode) or stat.S_ISSOCK(mode):
        return "is a pipe, which may never end"
    return "is a device, not a file"


def clear_leftovers(folder: Path, name: str = "") -> None:
    """Take away the files that a writer which was killed left beside those it wrote.

    Parameters
    ----------
    folder : Path
        Where they are looked for. One that can't be read or written in is left as it is.
    name : str
        Of the file that was being written; "" for any.
    """
    if sys.platform == "win32":
        return  # it has no locks of this kind: leftovers stay
    with suppress(OSError), os.scandir(folder) as items:
        for item in items:
            found = _LEFTOVER.fullmatch(item.name)
            if found is None or (name and found[1] != name[:40]) or not item.is_file(follow_symlinks=False):
                continue
            with suppress(OSError):
                handle = os.open(item.path, os.O_RDONLY | os.O_NOFOLLOW)
                try:
                    # a writer at work holds the lock until its file has its name
                    fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
                    os.unlink(item.path)
                finally:
                    os.close(handle)


def _opened_special(target: Path, where: str) -> IO[bytes]:
    """Open a device or a pipe to write into; a pipe that nobody reads isn't waited for long."""
    until = time.monotonic() + WAIT_S
    while True:
        try:
            handle = os.open(target, os.O_WRONLY | getattr(os, "O_NONBLOCK", 0) | getattr(os, "O_BINARY", 0))
        except OSError as error:
            if error.errno != errno.ENXIO:
                raise
            if time.monotonic() > until:
                raise InputError(where, "is a pipe that nobody reads", "name a file") from None
            time.sleep(_POLL_S)
        else:
            os.set_blocking(handle, True)
            return os.fdopen(handle, "wb")


def _fill(file: IO[bytes], data: bytes | Callable[[IO[bytes]], None]) -> None:
    if callable(data):
        data(file)
    else:
        file.write(data)


def _write_beside(target: Path, data: bytes | Callable[[IO[bytes]], None], private: bool = False) -> tuple[Path, int]:
    """Return a new file of the target's folder that holds the data, safe on the disk, and the handle that locks it."""
    new, handle = _locked_beside(target, PRIVATE if private else 0o666)
    try:
        with os.fdopen(os.dup(handle), "wb") as file:
            _fill(file, data)
        os.fsync(handle)
    except BaseException:
        new.unlink(missing_ok=True)
        os.close(handle)
        raise
    return new, handle


def _locked_beside(target: Path, mode: int) -> tuple[Path, int]:
    """Return a new, empty file of the target's folder, locked so that nobody takes it for a leftover."""
    flags = os.O_WRONLY | os.O_CREAT | os.O_EXCL | getattr(os, "O_BINARY", 0)
    while True:
        new = target.with_name(f".{target.name[:40]}.{secrets.token_hex(4)}.new")
        # made with the mode that the user's umask leaves, as any new file
        handle = os.open(new, flags, mode)
        if sys.platform == "win32":
            return new, handle
        if mode == PRIVATE:
            os.fchmod(handle, mode)  # its owner can read it, whatever the umask says
        with suppress(OSError):  # not every disk knows locks
            fcntl.flock(handle, fcntl.LOCK_EX)
        if os.path.lexists(new):
            return new, handle
        os.close(handle)  # it was cleared away before it was locked


def _write_in_place(target: Path, data: bytes, private: bool) -> bool:
    """Write a new file under its own name, on a disk that knows no links; return whether there was none."""
    try:
        mode = PRIVATE if private else 0o666
        handle = os.open(target, os.O_WRONLY | os.O_CREAT | os.O_EXCL | getattr(os, "O_BINARY", 0), mode)
    except FileExistsError:
        return False
    try:
        with os.fdopen(handle, "wb") as file:
            if private and sys.platform != "win32":
                os.fchmod(handle, PRIVATE)
            file.write(data)
            file.flush()
            os.fsync(file.fileno())
    except BaseException:
        target.unlink(missing_ok=True)
        raise
    return True


def _stat(path: Path) -> os.stat_result | None:
    try:
        return path.stat()
    except FileNotFoundError:
        return None


def _take_owner_and_mode(new: Path, old: os.stat_result) -> None:
    """Give the new file the owner and the mode of the one it replaces; the owner where that is allowed."""
    if (made := new.stat()).st_uid != old.st_uid or made.st_gid != old.st_gid:
        with suppress(PermissionError):
            os.chown(new, old.st_uid, old.st_gid)
    new.chmod(stat.S_IMODE(old.st_mode))


def sync(path: Path) -> None:
    """See that a file, or what stands in a folder, is on the disk; not every system lets a folder be synced."""
    with suppress(OSError):
        handle = os.open(path, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)
