"""What was made of the very same bytes before is used again: a program that works on reads a bank and its fit often."""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Hashable
from threading import Lock
from typing import Generic, TypeVar

T = TypeVar("T")

_MOST = 4  # a shop has one bank, or two


class Known(Generic[T]):
    """The last few things that were made, by what they were made of. Whoever is given one may not change it."""

    def __init__(self) -> None:
        self._made: OrderedDict[Hashable, T] = OrderedDict()
        self._lock = Lock()

    def get(self, key: Hashable) -> T | None:
        """Return what was made of a key, or None where it isn't known any more."""
        with self._lock:
            if key in self._made:
                self._made.move_to_end(key)
            return self._made.get(key)

    def keep(self, key: Hashable, made: T) -> None:
        """Keep what was made of a key, in the place of what wasn't asked for longest."""
        with self._lock:
            self._made[key] = made
            self._made.move_to_end(key)
            while len(self._made) > _MOST:
                self._made.popitem(last=False)
