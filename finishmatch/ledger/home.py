"""Where the ledger lives on this machine."""

from __future__ import annotations

import os
import sys
from collections.abc import Mapping
from pathlib import Path

from finishmatch.errors import InputError
from finishmatch.ledger.put_back import READY, RESTORING

FOLDER = "finishmatch"
FILE = "ledger.db"
# of what this user isn't let at: the record is there, so a folder elsewhere is no mend
NOT_LET_IN = "have its owner give you the right to read it, or set FINISHMATCH_HOME to the record that is meant"
LEDGER_URL = "FINISHMATCH_LEDGER"  # names a ledger on a server that several bays share


def ledger_home(environ: Mapping[str, str] | None = None, platform: str = sys.platform) -> Path:
    """Return the folder of the ledger: FINISHMATCH_HOME, or the platform's folder for a user's data.

    Parameters
    ----------
    environ : mapping of str to str, optional
        The environment; os.environ when left out.
    platform : str
        As in sys.platform.

    Returns
    -------
    Path
        Absolute; it need not exist. A backup that was being put back in it when that was cut off is in its place.

    Raises
    ------
    InputError
        It is there, and this user may not look into it.

    References
    ----------
    XDG Base Directory Specification (a relative XDG_DATA_HOME is to be ignored); the usual folders of macOS and
    Windows («common practice»).
    """
    home = _folder(os.environ if environ is None else environ, platform)
    try:
        cut_off = (home / RESTORING / READY).exists()
    except PermissionError as error:
        raise InputError(str(home), f"the ledger's folder can't be read ({error.strerror})", NOT_LET_IN) from error
    if cut_off:
        # only where a backup was being put back and that was cut off: every command comes by here
        from finishmatch.ledger.restoring import finish_restore

        finish_restore(home)
    return home


def _folder(environ: Mapping[str, str], platform: str) -> Path:
    if chosen := environ.get("FINISHMATCH_HOME"):
        return Path(chosen).expanduser().absolute()
    if platform == "darwin":
        return Path.home() / "Library" / "Application Support" / FOLDER
    if platform == "win32":
        local = environ.get("LOCALAPPDATA")
        return (Path(local) if local else Path.home() / "AppData" / "Local") / FOLDER
    shared = environ.get("XDG_DATA_HOME", "")
    return (Path(shared) if shared.startswith("/") else Path.home() / ".local" / "share") / FOLDER


def ledger_path(home: Path | None = None) -> Path:
    """Return the file of the ledger in a home (default: `ledger_home()`); it need not exist."""
    return (ledger_home() if home is None else Path(home).absolute()) / FILE


def ledger_url() -> str:
    """Return the address of the ledger that several bays share, FINISHMATCH_LEDGER; "" where there is none."""
    return os.environ.get(LEDGER_URL, "").strip()


def ledger_exists(home: Path | None = None) -> bool:
    """Return whether a ledger has been begun in a home, without making one; one that several bays share has."""
    if home is None and ledger_url():
        return True
    return os.path.lexists(ledger_path(home))
