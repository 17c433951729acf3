"""The samples that are marked on a photograph, or typed in numbers: rows of its form."""

from __future__ import annotations

from dataclasses import dataclass

from finishmatch.bench.desk import Desk
from finishmatch.errors import InputError

MOST_REGIONS = 12


@dataclass(frozen=True)
class Row:
    """A sample in the form: its name, its first pixel and its size, as typed."""

    name: str = ""
    x: str = ""
    y: str = ""
    w: str = ""
    h: str = ""


def rows_sent(desk: Desk) -> list[Row]:
    """Return the samples that were typed or marked, those left empty left out."""
    rows = [Row(*(desk.text(f"{part}_{i}") for part in ("name", "x", "y", "w", "h"))) for i in range(MOST_REGIONS)]
    return [row for row in rows if any((row.x, row.y, row.w, row.h))]


def typed_mark(row: Row) -> str:
    """Return a sample as the step takes it."""
    if not row.name:
        raise InputError("a sample", "has no name", "call it standard, card 1, tin, or as you like")
    return f"{row.name}={row.x},{row.y},{row.w},{row.h}"
