"""One place where a file is written: beside, synced, renamed; a failed write never spoils what was there."""

from __future__ import annotations

import errno
import os
import secrets
import stat
from contextlib import suppress
from pathlib import Path

from finishmatch.errors import InputError

ELSEWHERE = "name a file in a folder you may write in"


def write_file(
    path: str | Path, content: bytes | str, *, where: str = "", mend: str = ELSEWHERE, make_folder: bool = False
) -> None:
    """Write a file whole or not at all: what stood there stays until the new one is safe on the disk.

    Parameters
    ----------
    path : str or Path
        A link is followed: the file it leads to is replaced, not the link. A device or a pipe is written into.
    content : bytes or str
        Text is written as UTF-8.
    where : str
        What the message names in place of the path.
    mend : str
        What is said to be done when it can't be written.
    make_folder : bool
        Make its folder where there is none.

    Raises
    ------
    InputError
        The path is a folder, its folder is missing or closed to writing, the disk is full; the file is then as it was
        and nothing is left beside it.
    """
    data = content.encode("utf-8") if isinstance(content, str) else content
    target, where = Path(os.path.realpath(path)), where or str(path)
    try:
        if make_folder:
            target.parent.mkdir(parents=True, exist_ok=True)
        old = _stat(target)
        if old is not None and stat.S_ISDIR(old.st_mode):
            raise InputError(where, "is a folder", "name a file")
        if old is not None and not stat.S_ISREG(old.st_mode):
            target.write_bytes(data)  # a device or a pipe has no folder entry that could be replaced
            return
        if old is not None and not os.access(target, os.W_OK):
            raise PermissionError(errno.EACCES, os.strerror(errno.EACCES))
        new = _write_beside(target, data)
        try:
            if old is not None:
                _take_owner_and_mode(new, old)
            new.replace(target)
        except BaseException:
            new.unlink(missing_ok=True)
            raise
    except OSError as error:
        raise InputError(where, f"can't be written: {error.strerror or error}", mend) from None
    _sync_folder(target.parent)


def write_new_file(path: str | Path, content: bytes | str, *, where: str = "", mend: str = ELSEWHERE) -> bool:
    """Write a file as `write_file` does, but only where there is none; return whether it was written.

    Two programs that write the same new file at once don't overwrite each other: one of them gets False.

    Raises
    ------
    InputError
        As `write_file`.
    """
    data = content.encode("utf-8") if isinstance(content, str) else content
    target = Path(path)
    try:
        new = _write_beside(target, data)
        try:
            os.link(new, target)  # unlike a rename it fails where something stands
        except FileExistsError:
            return False
        finally:
            new.unlink(missing_ok=True)
    except OSError as error:
        raise InputError(where or str(path), f"can't be written: {error.strerror or error}", mend) from None
    _sync_folder(target.parent)
    return True


def _write_beside(target: Path, data: bytes) -> Path:
    """Return a new file of the target's folder that holds the data, safe on the disk."""
    new = target.with_name(f".{target.name[:40]}.{secrets.token_hex(4)}.new")
    # made with the mode that the user's umask leaves, as any new file
    handle = os.open(new, os.O_WRONLY | os.O_CREAT | os.O_EXCL | getattr(os, "O_BINARY", 0), 0o666)
    try:
        with os.fdopen(handle, "wb") as file:
            file.write(data)
            file.flush()
            os.fsync(file.fileno())
    except BaseException:
        new.unlink(missing_ok=True)
        raise
    return new


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


def _sync_folder(folder: Path) -> None:
    """See that the new name is on the disk too; not every system lets a folder be synced, and the file is whole."""
    with suppress(OSError):
        handle = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)
