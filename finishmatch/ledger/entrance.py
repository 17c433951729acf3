"""The door to a ledger: the one of this machine, or one that several bays share."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, datetime
from pathlib import Path

from finishmatch.errors import InputError
from finishmatch.ledger.book import Clock, Ledger
from finishmatch.ledger.home import FILE, ledger_home, ledger_path, ledger_url
from finishmatch.ledger.on_disk import opened_engine, see_ledger, writable
from finishmatch.ledger.server import opened_on_server, place_of, server_url
from finishmatch.opened_once import opened_once


def utc_now() -> datetime:
    """Return the time by the machine's clock."""
    return datetime.now(UTC)


@contextmanager
def open_ledger(home: Path | None = None, *, create: bool = True, now: Clock = utc_now) -> Iterator[Ledger]:
    """Open the ledger of a home, making it or bringing it up to date where needed.

    Parameters
    ----------
    home : Path, optional
        Its folder; when left out the ledger that several bays share, or that of `ledger_home()`.
    create : bool
        Make it where there is none; else that is an error.
    now : callable
        The clock, returning an aware datetime.

    Raises
    ------
    InputError
        A home that is a file or can't be written, a file that is not a ledger or is damaged, a ledger newer than the
        program, none where `create` is false.

    Notes
    -----
    A ledger that can't be written in is read all the same; what is to be recorded in it is refused.

    All that one command does in the record is done in one opening of it, see `finishmatch.opened_once`; it is looked
    at from outside each time.
    """
    if home is None and (address := ledger_url()):
        with opened_once((address, now), lambda: open_server(address, now=now)) as served:
            yield served
        return
    own = home is None
    home = ledger_home() if home is None else Path(home).absolute()
    path = ledger_path(home)
    see_ledger(path, create)
    if own and (file := _file_of(path)) is not None:
        with opened_once((path, now), lambda: _opened(path, now), file) as kept:
            yield kept
        return
    with _opened(path, now) as ledger:
        yield ledger


def _file_of(path: Path) -> tuple[int, int] | None:
    """Return which file on the disk a ledger is, or None where it is still to be made or can only be read."""
    if not path.exists() or not writable(path):
        return None
    found = path.stat()
    return found.st_dev, found.st_ino


@contextmanager
def _opened(path: Path, now: Clock) -> Iterator[Ledger]:
    with opened_engine(path) as (engine, open_to_writing):
        yield Ledger(engine, path, now, read_only=not open_to_writing)


@contextmanager
def open_server(address: str, *, now: Clock = utc_now) -> Iterator[Ledger]:
    """Open the ledger at an address, making it in a database that is empty.

    Parameters
    ----------
    address : str
        Of a database of PostgreSQL.
    now : callable
        The clock, returning an aware datetime.

    Raises
    ------
    InputError
        A server that can't be reached, a database of another program, a ledger newer than the program.
    """
    url = server_url(address)
    with opened_on_server(url) as engine:
        yield Ledger(engine, place_of(url), now)


@contextmanager
def open_place(place: str, *, create: bool = True) -> Iterator[Ledger]:
    """Open the ledger at an address, in a folder, or in a file of that name; as `open_ledger` and `open_server`.

    Raises
    ------
    InputError
        As these; a file of another name.
    """
    if "://" in place:
        with open_server(place) as served:
            yield served
        return
    path = Path(place)
    if path.name == FILE and not path.is_dir():
        path = path.parent
    elif path.is_file():
        raise InputError(place, "is a file, and no ledger", f"name the folder of a ledger, its {FILE}, or an address")
    with open_ledger(path, create=create) as kept:
        yield kept


def ledger_place() -> str:
    """Return where the record is: the folder of the ledger, or the address of the one that several bays share."""
    address = ledger_url()
    return place_of(server_url(address)) if address else str(ledger_home())
