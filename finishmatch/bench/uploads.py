"""What is uploaded is kept under a name of our own, for the step that reads it; it is never run and never served."""

from __future__ import annotations

import re
import secrets
import shutil
import time
from collections.abc import Collection
from contextlib import suppress
from pathlib import Path

from starlette.datastructures import UploadFile

from finishmatch.errors import InputError

KEPT_FOR_S = 3600.0
MOST_KEPT = 60


def kept_upload(sent: UploadFile, suffixes: Collection[str], folder: Path) -> Path:
    """Keep a file that was sent, in a folder of its own.

    Parameters
    ----------
    sent : UploadFile
    suffixes : collection of str
        What its name may end in, as ".csv".
    folder : Path
        Where uploads are kept; what has lain there for an hour is cleared away.

    Returns
    -------
    Path
        Its name is made of letters, digits, hyphens and underlines of the name it was sent under.

    Raises
    ------
    InputError
        A kind of file that isn't read here, an empty one.
    """
    said = (sent.filename or "").replace("\\", "/").rpartition("/")[2]
    stem, dot, end = said.rpartition(".")
    suffix = f".{end.lower()}" if dot else ""
    if suffix not in suffixes:
        what = f"{said[:40]!r} is not a kind of file that is read here"
        raise InputError("the file", what, "it ends in " + ", ".join(sorted(suffixes)))
    clear_old(folder)
    own = folder / secrets.token_hex(16)
    own.mkdir(mode=0o700, parents=True)
    path = own / f"{re.sub(r'[^A-Za-z0-9_-]+', '-', stem).strip('-')[:60] or 'file'}{suffix}"
    with path.open("xb") as file:
        shutil.copyfileobj(sent.file, file)
    if path.stat().st_size == 0:
        raise InputError("the file", f"{said[:40]!r} is empty", "choose another")
    return path


def clear_old(folder: Path) -> None:
    """Take away uploads that have lain for an hour, and the oldest where there are too many."""
    folder.mkdir(mode=0o700, parents=True, exist_ok=True)
    kept = sorted((one for one in folder.iterdir() if one.is_dir()), key=lambda one: one.stat().st_mtime)
    now = time.time()
    for i, one in enumerate(kept):
        if now - one.stat().st_mtime > KEPT_FOR_S or len(kept) - i >= MOST_KEPT:
            with suppress(OSError):
                shutil.rmtree(one)
