"""A cell of a table that is written for others: a spreadsheet must not take a name for a formula."""

from __future__ import annotations

_BEGINS = ("=", "+", "-", "@", "\t", "\r")


def guarded(text: str) -> str:
    """Return a name as a cell: behind an apostrophe where a spreadsheet would compute it («common practice»)."""
    return f"'{text}" if text.lstrip(" \n").startswith(_BEGINS) else text
