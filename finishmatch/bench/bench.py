"""What all requests share: how the page is served, who may see it, and what was read of the ledger."""

from __future__ import annotations

import shutil
import tempfile
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path
from threading import RLock
from typing import Any

from finishmatch.bench.pairing import Pairing
from finishmatch.bench.panels import Panels
from finishmatch.bench.photographs import Photographs
from finishmatch.bench.scale.feed import ScaleFeed
from finishmatch.bench.sent import Sent
from finishmatch.bench.sessions import Devices
from finishmatch.steps.job.watch import LedgerWatch
from finishmatch.steps.judge import Judged
from finishmatch.steps.mix import Mixed

MOST_REMEMBERED = 200


@dataclass(frozen=True)
class Served:
    """How the page is served.

    Parameters
    ----------
    home : Path
        Of the ledger.
    hosts : frozenset of str
        The names and addresses, without port, under which it may be asked for.
    lan : bool
        Whether other devices may come: then each has to be paired.
    address : str
        Where a device of the shop's network finds it, as "http://192.0.2.7:8420".
    scale : str or None
        The serial line of a bench scale.
    banks : tuple of Path
        Folders of banks that can be mixed from, besides those of the jobs there are.
    dossier : callable or None
        Is given the ref of a job and draws its dossier, as the bytes of a PDF.
    sheet : callable or None
        Is given a size of paper and a number of windows, and draws the sheet for the panels of a bank, as a PDF; of
        0 windows the shop's card.
    """

    home: Path
    hosts: frozenset[str]
    lan: bool = False
    address: str = ""
    scale: str | None = None
    banks: tuple[Path, ...] = ()
    dossier: Callable[[str], bytes] | None = None
    sheet: Callable[[str, int], bytes] | None = None


def nobody_listens(_line: str) -> None:
    """Let a line go by."""


@dataclass
class Bench:
    """The bench while it is served.

    Parameters
    ----------
    served : Served
    tell : callable
        Is given a line for who watches the server, such as a new pairing code.
    """

    served: Served
    tell: Callable[[str], None] = nobody_listens
    recording: RLock = field(default_factory=RLock)
    """Held while something is held against the record and then recorded, so that two devices take turns."""

    def __post_init__(self) -> None:
        self.devices = Devices(self.served.home)
        self.pairing = Pairing()
        self.sent = Sent(self.served.home)
        self.panels = Panels(self.served.home)
        self.mixed: dict[str, Mixed] = {}  # of a job: the recipes of its last list, and what they were worked out for
        self.scale = None if self.served.scale is None else ScaleFeed(self.served.scale)
        self.watch = LedgerWatch(self.served.home)
        self.uploads = Path(tempfile.mkdtemp(prefix="finishmatch-bench-"))
        self.photographs = Photographs()
        self.closing = False
        self.judged: dict[str, Judged] = {}  # what was found last for a job besides what is recorded of it
        self._weighed: set[object] = set()  # what was weighed out on any device since the bench was started
        self._state: object = None
        self._remembered: dict[object, Any] = {}
        self._lock = RLock()

    def close(self) -> None:
        """Let go of the scale, the ledger and what was uploaded or photographed."""
        self.closing = True
        self.watch.close()
        if self.scale is not None:
            self.scale.close()
        shutil.rmtree(self.uploads, ignore_errors=True)
        self.photographs.close()

    def is_first(self, what: object) -> bool:
        """Return whether nobody was shown a weigh-out before: once, to the first who asks."""
        with self._lock:
            known = what in self._weighed
            self._weighed.add(what)
            return not known

    def remembered(self, key: object, make: Callable[[], Any]) -> Any:
        """Return what a step found, which is found anew only when something was recorded since.

        Parameters
        ----------
        key : hashable
            What it is.
        make : callable
            Finds it.
        """
        state = self.watch.state()
        with self._lock:
            if state != self._state or len(self._remembered) > MOST_REMEMBERED:
                self._remembered.clear()
                self._state = state
            if key in self._remembered:
                return self._remembered[key]
        found = make()
        with self._lock:
            if state == self._state and state == self.watch.state():
                self._remembered[key] = found
        return found
