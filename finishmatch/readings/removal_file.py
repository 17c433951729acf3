"""A file of build readings before and after a step of sanding or polishing; the shop's own file of them."""

from __future__ import annotations

import csv
import io
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from finishmatch.errors import InputError
from finishmatch.files import write_file
from finishmatch.readings.guarded_cells import guarded
from finishmatch.readings.table_file import read_table

COLUMNS = ("panel", "step", "place", "before_um", "after_um")
MOST_UM = 20_000.0
GROWTH_UM = 6.0  # four times a gauge's error: more is no error of the gauge
HEAD = "# what steps took off, read by the shop before and after; finishmatch defect calibrate adds to it\n"


@dataclass(frozen=True)
class BeforeAfter:
    """The build at one place of a panel before and after a step, µm; where it stands in its file."""

    panel: str
    step: str
    place: str
    before_um: float
    after_um: float
    where: str = ""

    @property
    def row(self) -> tuple[str, ...]:
        """Its cells."""
        names = (guarded(self.panel), guarded(self.step), guarded(self.place))
        return (*names, f"{self.before_um:.10g}", f"{self.after_um:.10g}")


def read_before_after(path: Path) -> tuple[BeforeAfter, ...]:
    """Read a CSV with the columns ``panel,step,before_um,after_um`` and, if wanted, ``place``.

    Raises
    ------
    InputError
        As `read_table`; a build that can't be, or a film that grew.
    """
    required = tuple(column for column in COLUMNS if column != "place")
    table = read_table(Path(path), required=required, optional=("place",))
    found = []
    for row in table.rows:
        before, after = (row.number(column, 0, MOST_UM) for column in ("before_um", "after_um"))
        if after > before + GROWTH_UM:
            what = f"{after:g} µm after is more than the {before:g} µm before"
            raise InputError(row.where("after_um"), what, "sanding takes film off: are the two swapped?")
        panel, step = (" ".join(row.text(column).split()) for column in ("panel", "step"))
        place = " ".join(row.cells.get("place", "").split())
        found.append(BeforeAfter(panel, step, place, before, after, row.where("step")))
    return tuple(found)


def joined(kept: Sequence[BeforeAfter], new: Sequence[BeforeAfter]) -> tuple[BeforeAfter, ...]:
    """Return the rows kept and those of the new ones that don't stand there: the same file twice adds nothing."""
    standing = Counter(item.row for item in kept)
    added = []
    for item in new:
        if standing[item.row] > 0:
            standing[item.row] -= 1
        else:
            added.append(item)
    return (*kept, *added)


def write_before_after(path: Path, rows: Sequence[BeforeAfter]) -> None:
    """Write the shop's file whole: what stood there stays until the new one is complete.

    Raises
    ------
    InputError
        A folder that can't be written in, or a full disk; the file is then as it was.
    """
    text = io.StringIO()
    text.write(HEAD)
    writer = csv.writer(text, lineterminator="\n")
    writer.writerow(COLUMNS)
    writer.writerows(item.row for item in rows)
    write_file(path, text.getvalue(), mend="make room, or set FINISHMATCH_HOME", make_folder=True, private=True)
