"""Tables as they are shown, in a terminal or on a page: cells of text."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass


@dataclass(frozen=True)
class Table:
    """A table with a caption; the first column is text, the others numbers as text."""

    caption: str
    header: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]


def weigh_out_table(caption: str, parts: Sequence[tuple[str, float]]) -> Table:
    """Return what to weigh, and what the scale shows when the parts are poured on top of one another."""
    rows, running = [], 0.0
    for tint, grams in parts:
        running += grams
        rows.append((tint, f"{grams:.1f}", f"{running:.1f}"))
    return Table(caption, ("tint", "grams", "on the scale"), tuple(rows))
