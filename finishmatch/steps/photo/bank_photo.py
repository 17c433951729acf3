"""Drawdowns in photographs become panels of a bank: their colours, by themselves and together, into seen.csv."""

from __future__ import annotations

import csv
import io
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from finishmatch.errors import InputError
from finishmatch.ledger.home import ledger_home
from finishmatch.near_names import near_names
from finishmatch.outputs import check_output, write_output
from finishmatch.photo.find.chart import Chart, read_chart
from finishmatch.photo.find.regions import Region, typed_region
from finishmatch.photo.open.picture import open_picture
from finishmatch.photo.read import PhotoReading, PhotoRegion, read_photograph
from finishmatch.readings.bank_seen import COLUMNS, FILE, KNOWN, seen_rows
from finishmatch.readings.guarded_cells import guarded
from finishmatch.readings.table_file import read_table
from finishmatch.steps.progress import Progress, quiet

LIGHT, OBSERVER = "D65", 10  # for which a bank's colours are given
_ORDER = (*COLUMNS, *KNOWN)
_NAMES = ("panel", "ground", "picture")


@dataclass(frozen=True)
class SeenPanel:
    """A panel as one photograph has it: CIELAB, and the ΔE00 that hold its own error and its picture's, 95 in 100."""

    panel: str
    picture: str
    lab: tuple[float, float, float]
    u95: float
    u95_shared: float


@dataclass(frozen=True)
class BankPhoto:
    """What was read into a bank.

    Parameters
    ----------
    file : Path
        The seen.csv that was written.
    panels : tuple of SeenPanel
        Those read now.
    unread : tuple of str
        Panels that were weighed and that nothing tells the colour of yet.
    warnings : tuple of str
    why : str
        What to change when no photograph can serve; nothing was written then. "" when one did.
    """

    file: Path
    panels: tuple[SeenPanel, ...]
    unread: tuple[str, ...]
    warnings: tuple[str, ...]
    why: str = ""

    def as_dict(self) -> dict[str, Any]:
        """Return the JSON object."""
        return {
            "file": str(self.file),
            "panels": [{**vars(panel), "lab": list(panel.lab)} for panel in self.panels],
            "unread": list(self.unread),
            "warnings": list(self.warnings),
            "why": self.why,
        }


def photograph_bank(
    folder: str | Path,
    photographs: Sequence[str | Path],
    region: Sequence[str | Region],
    *,
    chart: str | Path | None = None,
    replace: bool = False,
    progress: Progress = quiet,
) -> BankPhoto:
    """Read the colours of panels from photographs with a chart, or the shop's card, into a bank's seen.csv.

    Parameters
    ----------
    folder : str or Path
        Of the bank; panels.csv says what was weighed into its panels.
    photographs : sequence of str or Path
    region : sequence of str or Region
        "PANEL=x,y,w,h" in pixels of the upright picture, the same in all of the photographs.
    chart : str, Path or None
        What the chart's patches are; None is the usual chart as published.
    replace : bool
        Whether a seen.csv may be written over that the program didn't write.
    progress : Progress

    Raises
    ------
    InputError
        A panel that was not weighed, a photograph that can't be read, a file that isn't to be replaced.

    Notes
    -----
    What of a colour's doubt is its own is told by the doubt of differences in the picture; the rest is off alike for
    all that is in it.
    """
    bank = Path(folder)
    weighed = _weighed(bank)
    regions = _regions(region, weighed)
    file = bank / FILE
    check_output(file, replace)
    known = None if chart is None else read_chart(Path(chart))
    readings = []
    for path in map(Path, photographs):
        with progress(f"reading {path.name}"):
            readings.append(_read(path, regions, known))
    served = [reading for reading in readings if not reading.why_not]
    panels = tuple(panel for reading in served for panel in _panels(reading))
    before = _rows_before(file)
    if panels:
        write_output(file, _table(before, panels), replace)
    told = {row["panel"] for row in before} | {panel.panel for panel in panels} | _read_by_spectrum(bank)
    return BankPhoto(
        file,
        panels,
        tuple(name for name in weighed if name not in told),
        tuple(_warnings(readings)),
        "" if served else readings[0].why_not,
    )


def _read(path: Path, regions: Sequence[Region], chart: Chart | None) -> PhotoReading:
    picture = open_picture(path)
    return read_photograph(picture, regions, chart=chart, light=LIGHT, observer=OBSERVER, home=ledger_home())


def _weighed(bank: Path) -> tuple[str, ...]:
    """Return the names of the panels that were weighed."""
    if not bank.is_dir():
        raise InputError(str(bank), "there is no such bank folder", "name the folder that holds bank.toml")
    table = read_table(bank / "panels.csv", required=("panel", "tint", "grams"), optional=())
    return tuple(dict.fromkeys(row.text("panel") for row in table.rows))


def _regions(given: Sequence[str | Region], weighed: Sequence[str]) -> list[Region]:
    regions = [one if isinstance(one, Region) else typed_region(one) for one in given]
    if not regions:
        raise InputError("`region`", "is missing", "say where each panel lies: `region` PANEL=x,y,w,h")
    names = [region.name for region in regions]
    for name in names:
        if names.count(name) > 1:
            raise InputError(f"`region` {name[:40]}", "is named twice", "give each panel once")
        if name not in weighed:
            near = near_names(name, list(weighed))
            mend = f"did you mean {near[0]!r}?" if near else "write its weights into panels.csv first"
            raise InputError(f"`region` {name[:40]}", "is no panel of panels.csv", mend)
    return regions


def _panels(reading: PhotoReading) -> list[SeenPanel]:
    """Return the panels of a photograph, each with what of its doubt is its own."""
    found = []
    for region in reading.regions:
        own = _own_u95(region, reading)
        shared = float(np.sqrt(max(region.u95**2 - own**2, 0.0)))
        lab = (float(region.lab[0]), float(region.lab[1]), float(region.lab[2]))
        found.append(SeenPanel(region.name, reading.picture.source.name, lab, own, shared))
    return found


def _own_u95(region: PhotoRegion, reading: PhotoReading) -> float:
    """Return the ΔE00 by which a colour is off apart from the others of its picture, 95 times in 100.

    Two such errors make that of a difference.
    """
    apart = [one.u95 for one in reading.differences if region.name in (one.standard, one.trial)]
    return min(float(np.median(apart)) / 2**0.5, region.u95) if apart else region.u95


def _rows_before(file: Path) -> list[dict[str, str]]:
    """Return the rows that stand in seen.csv."""
    return [dict(row.cells) for row in seen_rows(file)] if file.exists() else []


def _read_by_spectrum(bank: Path) -> set[str]:
    path = bank / "readings.csv"
    if not path.exists():
        return set()
    return {row.cells["panel"] for row in read_table(path, required=("panel",)).rows}


def _table(before: Sequence[dict[str, str]], panels: Sequence[SeenPanel]) -> str:
    """Return seen.csv with the panels read now, each in the place of what its photograph told before."""
    again = {(panel.panel, panel.picture) for panel in panels}
    out = io.StringIO()
    out.write("# colours of panels, D65, 10 degrees, without gloss; u95 and u95_shared in DE00, 95 in 100\n")
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(_ORDER)
    for row in before:
        if (row["panel"], row.get("picture", "")) not in again:
            cells = {column: row.get(column, "") for column in _ORDER}
            writer.writerow([guarded(text) if column in _NAMES else text for column, text in cells.items()])
    for panel in panels:
        values = {
            "panel": guarded(panel.panel),
            **dict(zip(("L", "a", "b"), (f"{value:.3f}" for value in panel.lab), strict=True)),
            "u95": f"{max(panel.u95, 0.01):.2f}",
            "picture": guarded(panel.picture),
            "u95_shared": f"{panel.u95_shared:.2f}",
        }
        writer.writerow([values.get(column, "") for column in _ORDER])
    return out.getvalue()


def _warnings(readings: Sequence[PhotoReading]) -> list[str]:
    found = []
    for reading in readings:
        name = reading.picture.source.name
        if reading.why_not and any(not one.why_not for one in readings):
            found.append(f"{name}: not used: {reading.why_not}")
        found += [f"{name}: {lost.name} can't be read: {lost.why}" for lost in reading.lost]
        found += [f"{name}: {warning}" for warning in reading.warnings]
    return list(dict.fromkeys(found))
