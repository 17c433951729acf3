"""A cell of a table that is written for others: a spreadsheet must not take a name for a formula."""

from __future__ import annotations

import re

# what a spreadsheet would compute, and what was so guarded before
_COMPUTED = re.compile(r"'*[ \n]*[=+\-@\t\r]")
_GUARDED = re.compile(r"''*[ \n]*[=+\-@\t\r]")


def guarded(text: str) -> str:
    """Return a name as a cell: behind an apostrophe where a spreadsheet would compute it («common practice»)."""
    return f"'{text}" if _COMPUTED.match(text) else text


def unguarded(cell: str) -> str:
    """Return the name of a cell that `guarded` wrote, or that a spreadsheet's user kept from being computed."""
    return cell[1:] if _GUARDED.match(cell) else cell
