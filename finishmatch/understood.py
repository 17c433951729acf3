"""What was written otherwise than asked, and understood all the same: it is gathered, and a face says it in one line.

A reader deep in the house says it where it knows it; nothing is handed through all that lies between. Nobody need
listen: then nothing is gathered.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from contextvars import ContextVar


class _Heard:
    """What was understood, by where it stands; of each kind the first at a place is kept."""

    def __init__(self) -> None:
        self._by_place: dict[str, dict[str, str]] = {}

    def take(self, where: str, what: str, kind: str) -> None:
        """Keep what was understood, unless its kind is there already."""
        self._by_place.setdefault(where, {}).setdefault(kind, what)

    def told(self) -> tuple[str, ...]:
        """Return one line for each place, and keep none of them."""
        lines = tuple(f"{where}: {'; '.join(kinds.values())}" for where, kinds in self._by_place.items())
        self._by_place.clear()
        return lines


_listener: ContextVar[_Heard | None] = ContextVar("listener", default=None)


class _Overheard(_Heard):
    """What was understood is told on to who listens beyond, and counted."""

    def __init__(self, beyond: _Heard | None) -> None:
        super().__init__()
        self.count = 0
        self._beyond = beyond

    def take(self, where: str, what: str, kind: str) -> None:
        """Count it, and tell it on."""
        self.count += 1
        if self._beyond is not None:
            self._beyond.take(where, what, kind)


@contextmanager
def overhearing() -> Iterator[Callable[[], int]]:
    """Yield how often something was understood so far while something runs; who listens hears of it all the same."""
    heard = _Overheard(_listener.get())
    before = _listener.set(heard)
    try:
        yield lambda: heard.count
    finally:
        _listener.reset(before)


@contextmanager
def listening() -> Iterator[None]:
    """Gather what is understood while something runs; what runs beside it gathers its own."""
    before = _listener.set(_Heard())
    try:
        yield
    finally:
        _listener.reset(before)


def what_was_understood() -> tuple[str, ...]:
    """Return what was understood so far, one line for each place; nothing when nobody listens."""
    listener = _listener.get()
    return () if listener is None else listener.told()


def understood(where: str, what: str, kind: str = "") -> None:
    """Say how something was understood that was written otherwise than asked.

    Parameters
    ----------
    where : str
        The file, or the parameter in backticks.
    what : str
        How it was read, such as "'0,8' is read as 0.8".
    kind : str
        Of one kind only the first is said at a place; "" is a kind of its own.
    """
    listener = _listener.get()
    if listener is not None:
        listener.take(where, what, kind or what)
