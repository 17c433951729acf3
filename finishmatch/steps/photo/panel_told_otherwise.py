"""A panel that a photograph tells as another colour than a picture before: one of the two has the wrong name."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

from finishmatch.readings.bank_seen import seen_rows, told_apart


def told_otherwise(file: Path, now: Mapping[tuple[str, str], int | None]) -> tuple[str, ...]:
    """Return a note for each panel read now that another picture tells as another colour.

    Parameters
    ----------
    file : Path
        The bank's seen.csv, with what was read now.
    now : mapping of (panel, picture) to int or None
        What was read now: the window each lies in, None where a region said where.
    """
    said = []
    for one, other, apart, _ in told_apart(seen_rows(file)):
        panel, pictures = one.cells["panel"], [row.cells.get("picture", "") for row in (one, other)]
        read = next((picture for picture in pictures if (panel, picture) in now), None)
        if read is not None:
            window = now[panel, read]
            there = "there" if window is None else f"in window {window}"
            another = next((picture for picture in pictures if picture != read), "") or "what was typed"
            said.append(
                f"{read}: {panel} reads ΔE00 {apart:.0f} from {another}: is it the panel that lies {there}? Read the "
                "picture in which it isn't again, with the right one, or take its row out of seen.csv"
            )
    return tuple(said)
