"""TOML as the bench writes it: tables whose keys are read one by one, what is wrong named by file and key."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

from finishmatch.errors import InputError
from finishmatch.near_names import did_you_mean
from finishmatch.readings.quantities import Dimension, quantity, share
from finishmatch.readings.table_file import read_text
from finishmatch.toml_reader import parse_toml


def read_toml(path: Path) -> Node:
    """Return a TOML file as a `Node`, or raise `InputError`."""
    return Node(parse_toml(read_text(Path(path)), str(path)), str(path))


class Node:
    """A table of a TOML file that knows where it stands.

    Parameters
    ----------
    data : mapping
    file : str
        For messages.
    place : str
        The table within the file, "" for the file itself.
    """

    def __init__(self, data: Mapping[str, Any], file: str, place: str = "") -> None:
        self.data = data
        self.file = file
        self.place = place

    def where(self, key: str = "") -> str:
        """Return "file, [place] key" for a message."""
        inside = " ".join(part for part in (f"[{self.place}]" if self.place else "", key) if part)
        return f"{self.file}, {inside}" if inside else self.file

    def __contains__(self, key: str) -> bool:
        return key in self.data

    def only(self, *known: str) -> None:
        """See that no key but the known ones stands in it."""
        for key in self.data:
            if key not in known:
                mend = did_you_mean(key, known, "known are " + ", ".join(known))
                raise InputError(self.where(key[:40]), "is not known here", mend)

    def value(self, key: str) -> Any:
        """Return what must be there."""
        if key not in self.data:
            raise InputError(self.where(), f"there is no {key!r}", f"add {key} = …")
        return self.data[key]

    def text(self, key: str, default: str | None = None) -> str:
        """Return a text that isn't blank; without a default it must be there."""
        if default is not None and key not in self.data:
            return default
        value = self.value(key)
        if not isinstance(value, str) or (not value.strip() and default is None):
            raise InputError(self.where(key), "is not a text", f'write {key} = "…"')
        return value.strip()

    def one_of(self, key: str, known: Sequence[str], default: str | None = None) -> str:
        """Return one of the words known."""
        value = self.text(key, default)
        if value not in known:
            mend = did_you_mean(value, known, "use one of " + ", ".join(known))
            raise InputError(self.where(key), f"{value[:40]!r} is not known", mend)
        return value

    def flag(self, key: str, default: bool) -> bool:
        """Return true or false."""
        value = self.data.get(key, default)
        if not isinstance(value, bool):
            raise InputError(self.where(key), f"{str(value)[:40]!r} is neither true nor false", "write true or false")
        return value

    def number(self, key: str, above: float = -math.inf, default: float | None = None) -> float:
        """Return a bare number above a bound."""
        if default is not None and key not in self.data:
            return default
        value = self.value(key)
        if isinstance(value, bool) or not isinstance(value, int | float) or not math.isfinite(value):
            raise InputError(self.where(key), f"{str(value)[:40]!r} is not a number", "write a number alone")
        if value <= above:
            raise InputError(self.where(key), f"{value:g} is too small", f"it must be above {above:g}")
        return float(value)

    def whole(self, key: str, default: int | None = None) -> int:
        """Return a whole number of 1 or more."""
        value = default if key not in self.data and default is not None else self.value(key)
        if isinstance(value, bool) or not isinstance(value, int) or not 1 <= value <= 1000:
            raise InputError(self.where(key), f"{str(value)[:40]!r} is not a count", "write 1, 2, …")
        return value

    def quantity(self, key: str, kind: Dimension, above: float = -math.inf, least: float = -math.inf) -> float | None:
        """Return a quantity in its house unit, or None when it isn't given."""
        return None if key not in self.data else quantity(self.where(key), self.data[key], kind, above, least)

    def share(self, key: str, *, whole: bool = True, none: bool = False) -> float | None:
        """Return a share of 0 to 1, or None when it isn't given."""
        return None if key not in self.data else share(self.where(key), self.data[key], whole=whole, none=none)

    def texts(self, key: str) -> tuple[str, ...]:
        """Return a list of texts; one text is a list of one, and none is empty."""
        value = self.data.get(key, [])
        value = [value] if isinstance(value, str) else value
        if not isinstance(value, list) or not all(isinstance(item, str) for item in value):
            raise InputError(self.where(key), "is not a list of texts", f'write {key} = ["…", "…"]')
        return tuple(item.strip() for item in value)

    def table(self, key: str) -> Node:
        """Return a table, empty when it isn't there."""
        value = self.data.get(key, {})
        if not isinstance(value, dict):
            raise InputError(self.where(key), "is not a table", f"write [{key}] on a line of its own")
        return Node(value, self.file, f"{self.place}.{key}".lstrip("."))

    def tables(self, key: str) -> list[Node]:
        """Return the tables of a list, empty when it isn't there."""
        value = self.data.get(key, [])
        if not isinstance(value, list) or not all(isinstance(item, dict) for item in value):
            raise InputError(self.where(key), "is not a list of tables", f"write [[{key}]] before each")
        return [Node(item, self.file, f"{key} {i}") for i, item in enumerate(value, start=1)]
