"""The first bytes of a ledger's file, read without letting go of the locks that SQLite holds on it."""

from __future__ import annotations

import errno
import os
import sys
from collections import OrderedDict
from pathlib import Path
from threading import Lock

_MOST = 32  # files whose handles are kept: a program has one ledger, or two while one is moved
_LOCK = Lock()
_HANDLES: OrderedDict[tuple[int, int], int] = OrderedDict()


def head_of(path: Path, count: int) -> bytes:
    """Return the first bytes of a regular file.

    Parameters
    ----------
    path : Path
    count : int

    Raises
    ------
    OSError
        It can't be read.

    Notes
    -----
    Under POSIX a process that closes any handle of a file loses all locks that it holds on it (fcntl(2)), those of its
    connections to the database too. Another program that then closes the ledger takes itself for the last, and removes
    the log that is still in use: what is written afterwards is not seen here, and two may write at once. So the handle
    is kept.
    """
    if sys.platform == "win32":  # no such locks
        with path.open("rb") as file:
            return file.read(count)
    if not os.access(path, os.R_OK, effective_ids=os.access in os.supports_effective_ids) and path.exists():
        raise PermissionError(errno.EACCES, os.strerror(errno.EACCES), str(path))
    with _LOCK:
        found = path.stat()
        key = found.st_dev, found.st_ino
        if key not in _HANDLES:
            handle = os.open(path, os.O_RDONLY | os.O_NONBLOCK)
            opened = os.fstat(handle)
            key = opened.st_dev, opened.st_ino
            if key in _HANDLES:  # it was put in another's place meanwhile, by one that is known
                os.close(handle)
            else:
                _HANDLES[key] = handle
        _HANDLES.move_to_end(key)
        while len(_HANDLES) > _MOST:
            os.close(_HANDLES.popitem(last=False)[1])
        return os.pread(_HANDLES[key], count, 0)
