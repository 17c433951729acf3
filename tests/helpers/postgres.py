"""A real PostgreSQL, started in a scratch folder as a user without rights, that listens on a socket of that folder."""

from __future__ import annotations

import os
import shutil
import signal
import subprocess
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager
from itertools import count
from pathlib import Path

import psycopg

NOBODY = 65534
_NUMBERS = count()


def _program(name: str) -> str:
    """Return where a program of the server is: Debian keeps them out of the path."""
    found = sorted(Path("/usr/lib/postgresql").glob(f"*/bin/{name}")) if Path("/usr/lib/postgresql").is_dir() else []
    program = str(found[-1]) if found else shutil.which(name)
    assert program, f"{name} is missing: install Debian's package postgresql"
    return program


class Server:
    """A running server; each ledger gets a database of its own."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder

    def url(self, database: str, password: str = "") -> str:
        """Return the address of a database."""
        secret = f":{password}" if password else ""
        return f"postgresql://painter{secret}@/{database}?host={self.folder}"

    def ask(self, database: str, query: str) -> list[tuple[object, ...]]:
        """Run a query, and return its rows where it has some."""
        with psycopg.connect(self.url(database), autocommit=True) as connection:
            cursor = connection.execute(query.encode())
            return cursor.fetchall() if cursor.description else []

    def new(self, like: str = "template0") -> str:
        """Make a database, empty or like another, and return its name."""
        name = f"bays{next(_NUMBERS)}"
        self.ask("postgres", f"CREATE DATABASE {name} TEMPLATE {like} STRATEGY file_copy")
        return name


@contextmanager
def running_server() -> Iterator[Server]:
    """Start a server, and stop it at the end."""
    folder = Path(tempfile.mkdtemp(prefix="pg-"))
    as_user: list[str] = []
    if os.geteuid() == 0:
        os.chown(folder, NOBODY, NOBODY)
        as_user = ["setpriv", f"--reuid={NOBODY}", f"--regid={NOBODY}", "--clear-groups"]
    data = str(folder / "data")
    try:
        made = [*as_user, _program("initdb"), "-D", data, "-U", "painter", "-A", "trust", "-E", "UTF8"]
        subprocess.run([*made, "--no-sync", "--locale=C.UTF-8"], check=True, capture_output=True, cwd=folder)
        settings = ["-c", "fsync=off", "-c", "listen_addresses=", "-c", f"unix_socket_directories={folder}"]
        started = [*as_user, _program("postgres"), "-D", data, *settings]
        with (
            (folder / "log").open("wb") as log,
            subprocess.Popen(started, stdout=log, stderr=log, cwd=folder) as server,
        ):
            try:
                yield _ready(Server(folder), server)
            finally:
                server.send_signal(signal.SIGQUIT)  # nothing of it is needed any more
                server.wait(60)
    finally:
        shutil.rmtree(folder, ignore_errors=True)


def _ready(server: Server, process: subprocess.Popen[bytes]) -> Server:
    for _ in range(600):
        assert process.poll() is None, (server.folder / "log").read_text()
        try:
            server.ask("postgres", "SELECT 1")
        except psycopg.OperationalError:
            time.sleep(0.05)
        else:
            return server
    raise AssertionError((server.folder / "log").read_text())
