"""Tables as they are shown, in a terminal or on a page: cells of text."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass


@dataclass(frozen=True)
class Table:
    """A table with a caption; the first column is text, the others numbers as text."""

    caption: str
    header: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]


def weigh_out_table(caption: str, parts: Sequence[tuple[str, float]], by_letdown: Collection[str] = ()) -> Table:
    """Return what to weigh, and what the scale shows when the parts are poured on top of one another.

    What is poured by a letdown comes last and stands on no scale.
    """
    rows, running = [], 0.0
    for tint, grams in sorted(parts, key=lambda part: part[0] in by_letdown):
        if tint in by_letdown:
            rows.append((tint, f"{grams:.2f}", "letdown"))
            continue
        running += grams
        rows.append((tint, f"{grams:.1f}", f"{running:.1f}"))
    return Table(caption, ("tint", "grams", "on the scale"), tuple(rows))
