"""What a command needs several times is opened once for all of it, and closed at its end.

The steps of a command each open what they work with, and know nothing of each other; nothing is handed through them.
Whoever runs a command says where it begins and ends; where nobody does, all is opened and closed each time.
"""

from __future__ import annotations

from collections.abc import Callable, Hashable, Iterator
from contextlib import AbstractContextManager, ExitStack, contextmanager
from contextvars import ContextVar
from typing import Any, TypeVar, cast

T = TypeVar("T")


class _Opened:
    """What is open at present, and how it is closed."""

    def __init__(self) -> None:
        self._closing = ExitStack()
        self._found: dict[Hashable, tuple[Hashable, Any]] = {}

    def get(self, key: Hashable, state: Hashable, opening: Callable[[], AbstractContextManager[T]]) -> T:
        """Return what is open under a key, opened if it is the first time, or if it isn't the very same any more."""
        if key in self._found and self._found[key][0] != state:
            self.close()
        if key not in self._found:
            self._found[key] = state, self._closing.enter_context(opening())
        return cast(T, self._found[key][1])

    def close(self) -> None:
        """Close all; what is asked for afterwards is opened anew."""
        self._found.clear()
        self._closing.close()


_opened: ContextVar[_Opened | None] = ContextVar("opened", default=None)


@contextmanager
def opening_once() -> Iterator[None]:
    """Open once what is needed while something runs, and close it at the end, however that ends."""
    opened = _Opened()
    before = _opened.set(opened)
    try:
        yield
    finally:
        _opened.reset(before)
        opened.close()


@contextmanager
def opening_each_time() -> Iterator[None]:
    """Close what is open, and open and close all each time while something runs that doesn't end soon."""
    close_opened()
    before = _opened.set(None)
    try:
        yield
    finally:
        _opened.reset(before)


def close_opened() -> None:
    """Close what is open: before it is put in another's place."""
    opened = _opened.get()
    if opened is not None:
        opened.close()


@contextmanager
def opened_once(key: Hashable, opening: Callable[[], AbstractContextManager[T]], state: Hashable = None) -> Iterator[T]:
    """Yield what is open under a key since it was asked for first, or what is opened for this once.

    Parameters
    ----------
    key, state : hashable
        What is meant, as a path; and what is equal as long as it is the very same: when it isn't, all is closed.
    opening : callable
        Opens it, in a context that closes it.
    """
    opened = _opened.get()
    if opened is None:
        with opening() as found:
            yield found
    else:
        yield opened.get(key, state, opening)
