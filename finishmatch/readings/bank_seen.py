"""seen.csv of a bank folder: panels of which only a colour is known, as a camera or a colorimeter gives it."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

import numpy as np

from finishmatch.colour import Floats
from finishmatch.errors import InputError
from finishmatch.optics.bank import Panel, SeenColour
from finishmatch.optics.seen_panels import by_camera, stand_in
from finishmatch.optics.surface import Surface
from finishmatch.readings.seen import covariance_within
from finishmatch.readings.table_file import Row, read_table

FILE = "seen.csv"
USUAL_U95 = 2.0  # ΔE00: what a phone tells of one panel beside a chart («common practice»)
LARGEST_U95 = 20.0
COLUMNS = ("panel", "L", "a", "b")
KNOWN = ("ground", "build_um", "u95", "picture", "u95_shared")


def seen_rows(path: Path) -> list[Row]:
    """Return the rows of a bank's panels that were only seen."""
    table = read_table(path, required=COLUMNS, known=KNOWN)
    for column in table.columns:
        if column not in (*COLUMNS, *KNOWN):
            raise InputError(table.where(), f"the column {column[:40]!r} is not known here", "remove it")
    return list(table.rows)


def seen_panel(
    row: Row, grams: Mapping[str, float], ground: str | None, build: float | None, surface: Surface
) -> Panel:
    """Return the panel of a row.

    Parameters
    ----------
    row : Row
        With L*, a*, b* (D65, 10°, without gloss); u95 and u95_shared in ΔE00, as wide as 95 of 100 are. Of a colour in
        a picture both together are what the camera makes of it; which part of that others share is known better than
        any one picture tells it (`by_camera`).
    grams : mapping of str to float
        What was weighed into it.
    ground, build : str and float, or None
        What it lies on, and how thick it is; None where it hides.
    surface : Surface
        Of the bank's panels.

    Raises
    ------
    InputError
        Numbers that are no colour; what a picture shares without its name.
    """
    lab: Floats = np.array([row.number("L", 0, 110), row.number("a", -200, 200), row.number("b", -200, 200)])
    picture = row.cells.get("picture", "")
    shared = _doubt(row, "u95_shared", 0.0)
    if shared and not picture:
        raise InputError(row.where("u95_shared"), "is given, but no picture is named", "name it, or leave this out")
    own = _doubt(row, "u95", USUAL_U95)
    if not own:
        raise InputError(row.where("u95"), "is 0, and no colour is known so surely", "write how far off it may be")
    if picture:
        seen = by_camera(lab, covariance_within(float(np.hypot(own, shared)), lab), picture)
    else:
        seen = SeenColour(lab, covariance_within(own, lab), "", np.zeros((3, 3)))
    return Panel(row.text("panel"), tuple(grams.items()), ground, build, stand_in(seen, surface)[None], seen)


def _doubt(row: Row, column: str, usual: float) -> float:
    return row.number(column, 0, LARGEST_U95) if row.cells.get(column) else usual
