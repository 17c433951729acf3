"""What a database server says, as one line a painter can act on."""

from __future__ import annotations

from finishmatch.errors import InputError

# SQLSTATE, or the class of it (PostgreSQL's documentation, appendix A): what is said, and the mend
_SAID = {
    "53100": ("the disk of the server is full", "make room on it and do it again; nothing was recorded"),
    "25006": ("the ledger can't be written in", "let its user write in it"),
    "42501": ("the user of the ledger may not do that", "let it read and write all tables of the ledger"),
    "42P01": ("the ledger is damaged: a table is lost", "put back a backup of the database"),
    "42703": ("the ledger is damaged: a column is lost", "put back a backup of the database"),
    "XX001": ("the ledger is damaged", "put back a backup of the database"),
    "XX002": ("an index of the ledger is damaged", "have it made anew (REINDEX)"),
    "40": ("the ledger is busy: another program is writing in it", "try again in a moment"),
    "55": ("the ledger is busy: another program is writing in it", "try again in a moment"),
    "53": ("the server has no room for another bay", "try again in a moment"),
}
_AWAY = "see that it runs and can be reached; then look what was recorded last: finishmatch job show"


def of_server(where: str, error: BaseException, secret: str = "") -> InputError | None:
    """Return what is said of an error of a server, or None where it isn't one that a painter can mend.

    Parameters
    ----------
    where : str
        The address of the ledger, without its password.
    error : exception
        Of the driver.
    secret : str
        The password, which is told in no message.
    """
    state = str(getattr(error, "sqlstate", None) or "")
    for known in (state, state[:2]):
        if known in _SAID:
            return InputError(where, *_SAID[known])
    away = not state and type(error).__name__ == "OperationalError"
    if away or state[:2] in ("08", "57", "28", "3D"):
        said = " ".join(str(error).split())[:160]
        return InputError(where, f"the server can't be used ({said.replace(secret, '…') if secret else said})", _AWAY)
    return None
