"""seen.csv of a bank folder: panels of which only a colour is known, as a camera or a colorimeter gives it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path

import numpy as np

from finishmatch.colour import Floats, de00
from finishmatch.errors import InputError
from finishmatch.optics.bank import Panel, SeenColour
from finishmatch.optics.seen_panels import by_camera, stand_in
from finishmatch.optics.surface import Surface
from finishmatch.readings.seen import covariance_within
from finishmatch.readings.strangers import CONTRADICTION_DE00
from finishmatch.readings.table_file import Row, read_table

FILE = "seen.csv"
USUAL_U95 = 2.0  # ΔE00: what a phone tells of one panel beside a chart («common practice»)
LARGEST_U95 = 20.0
_DOUBTS = (("u95", USUAL_U95), ("u95_shared", 0.0))
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


def told_apart(rows: Sequence[Row]) -> list[tuple[Row, Row, float, float]]:
    """Return pairs of rows that tell one panel, how far apart they tell it, and how surely they do (ΔE00, 95 in 100).

    Of each panel the two that lie furthest apart, where they lie further than two readings of one panel may, and than
    these are known to.
    """
    of_panel: dict[tuple[str, ...], list[Row]] = {}
    for row in rows:
        key = tuple(row.cells.get(column, "") for column in ("panel", "ground", "build_um"))
        of_panel.setdefault(key, []).append(row)
    found = []
    for alike in of_panel.values():
        pairs = [(one, other, *_apart(one, other)) for i, one in enumerate(alike) for other in alike[i + 1 :]]
        far = [pair for pair in pairs if pair[2] > max(CONTRADICTION_DE00, pair[3])]
        found += [max(far, key=lambda pair: pair[2] - pair[3])] if far else []
    return found


def check_told_alike(file: Path, rows: Sequence[Row]) -> None:
    """See that rows of a panel can be of one panel, or raise `InputError`: beyond what both are known to they can't."""
    for one, other, apart, known in told_apart(rows):
        if apart > CONTRADICTION_DE00 + known:
            told = " and ".join(row.cells.get("picture", "") or f"line {row.line}" for row in (one, other))
            what = f"{told} tell it ΔE00 {apart:.0f} apart: they aren't of one panel"
            mend = "read the picture in which another panel lies there again, with its right name, or take its row out"
            raise InputError(f"{file}, panel {one.cells['panel']!r}", what, mend)


def _apart(one: Row, other: Row) -> tuple[float, float]:
    labs = [[row.number(axis, -200, 200) for axis in "Lab"] for row in (one, other)]
    doubts = [_doubt(row, column, usual) for row in (one, other) for column, usual in _DOUBTS]
    return float(de00(*np.array(labs))), float(np.linalg.norm(doubts))


def _doubt(row: Row, column: str, usual: float) -> float:
    return row.number(column, 0, LARGEST_U95) if row.cells.get(column) else usual
