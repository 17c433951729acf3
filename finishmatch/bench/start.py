"""The bench page is served: on this machine alone, or to the devices of the shop's network that were paired."""

from __future__ import annotations

import ipaddress
import socket
from collections.abc import Callable, Sequence
from contextlib import suppress
from pathlib import Path
from types import FrameType

import uvicorn

from finishmatch.bench.app import bench_app
from finishmatch.bench.bench import Bench, Served
from finishmatch.errors import InputError
from finishmatch.opened_once import opening_each_time
from finishmatch.steps.job.home import home_used

HERE = "127.0.0.1"
THIS_MACHINE = ("127.0.0.1", "localhost", "[::1]")


def prepared(
    port: int,
    *,
    lan: bool = False,
    scale: str | None = None,
    banks: Sequence[Path] = (),
    tell: Callable[[str], None],
    dossier: Callable[[str], bytes] | None = None,
    sheet: Callable[[str, int], bytes] | None = None,
) -> tuple[Bench, socket.socket]:
    """Return a bench and the socket it is served on, which listens from now on.

    Parameters
    ----------
    port : int
        0 for one that is free.
    lan : bool
        Serve the shop's network, not this machine alone.
    scale : str or None
        The serial line of a bench scale.
    banks : sequence of Path
        Folders of banks that can be mixed from.
    tell : callable
        Is given a line for who watches the server.
    dossier : callable or None
        Draws the dossier of a job, given its ref.
    sheet : callable or None
        Draws the sheet of numbered windows, given the size of the paper and how many; of 0 the shop's card.

    Raises
    ------
    InputError
        A port that is taken.
    """
    listening = _listening("0.0.0.0" if lan else HERE, port)
    found = listening.getsockname()[1]
    names = (*THIS_MACHINE, *(_names_of_this_machine() if lan else ()))
    own = _address() if lan else HERE
    served = Served(home_used(), frozenset(names), lan, f"http://{own}:{found}", scale, tuple(banks), dossier, sheet)
    try:
        return Bench(served, tell), listening
    except InputError:
        listening.close()
        raise


def serve(bench: Bench, listening: socket.socket) -> None:
    """Serve a bench until it is stopped by Ctrl-C or a signal."""
    with suppress(KeyboardInterrupt), opening_each_time():
        server_of(bench).run(sockets=[listening])


def server_of(bench: Bench) -> uvicorn.Server:
    """Return the server of a bench, which is still to be run."""
    config = uvicorn.Config(
        bench_app(bench),
        log_level="warning",
        access_log=False,
        server_header=False,
        proxy_headers=False,
        timeout_graceful_shutdown=2,
        timeout_keep_alive=15,
        limit_concurrency=200,
        ws="none",
    )
    return _Server(config, bench)


class _Server(uvicorn.Server):
    """A server that ends what it is telling its devices before it stops."""

    def __init__(self, config: uvicorn.Config, bench: Bench) -> None:
        super().__init__(config)
        self._bench = bench

    def handle_exit(self, sig: int, frame: FrameType | None) -> None:
        """Stop at a signal."""
        self._bench.closing = True
        super().handle_exit(sig, frame)


def _listening(host: str, port: int) -> socket.socket:
    opened = socket.socket(socket.AF_INET, socket.SOCK_STREAM)
    opened.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    try:
        opened.bind((host, port))
        opened.listen(100)
    except (OSError, OverflowError) as error:
        opened.close()
        what = f"can't be served on: {getattr(error, 'strerror', None) or error}"
        raise InputError(f"`port` {port}", what, "name another, or 0 for one that is free") from None
    return opened


def _address() -> str:
    """Return the address of this machine on the shop's network; nothing is sent to find it."""
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as opened, suppress(OSError):
        opened.connect(("192.0.2.1", 9))  # RFC 5737: an address for examples, which needn't answer
        return str(opened.getsockname()[0])
    return HERE


def _names_of_this_machine() -> set[str]:
    """Return its addresses and names on the network."""
    name = socket.gethostname().lower()
    found = {_address(), name, f"{name.partition('.')[0]}.local"}
    with suppress(OSError):
        found |= {str(info[4][0]) for info in socket.getaddrinfo(name, None, socket.AF_INET)}
    return {one for one in found if one and not _anywhere(one)}


def _anywhere(text: str) -> bool:
    with suppress(ValueError):
        return ipaddress.ip_address(text).is_unspecified
    return False


def home_of_demo(folder: Path) -> Path | None:
    """Return the folder of a demo's ledger, where there is one."""
    return folder if (folder / "ledger.db").is_file() else None
