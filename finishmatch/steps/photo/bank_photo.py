"""Drawdowns in photographs become panels of a bank: their colours, by themselves and together, into seen.csv."""

from __future__ import annotations

import csv
import io
import os
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np

from finishmatch.errors import InputError
from finishmatch.ledger.home import ledger_home
from finishmatch.optics.seen_panels import OF_ITS_OWN
from finishmatch.outputs import check_output, write_output
from finishmatch.photo.card.layout import window_number
from finishmatch.photo.find.chart import Chart, chart_named
from finishmatch.photo.find.regions import Region
from finishmatch.photo.open.picture import open_picture
from finishmatch.photo.read import PhotoReading, read_photograph
from finishmatch.readings.bank_seen import COLUMNS, FILE, KNOWN, seen_rows
from finishmatch.readings.guarded_cells import guarded
from finishmatch.readings.table_file import read_table
from finishmatch.steps.photo.looks_kept import keep_looks, looks_seen, without_looks
from finishmatch.steps.photo.panel_told_otherwise import told_otherwise
from finishmatch.steps.photo.panel_windows import check_weighed, in_windows, typed_windows
from finishmatch.steps.photo.photographs_named import lamps_beside, regions_of_each
from finishmatch.steps.photo.picture_names import called, pictures_kept, with_remarks
from finishmatch.steps.photo.read_with_lamps import read_with_lamps
from finishmatch.steps.progress import Progress, quiet

LIGHT, OBSERVER = "D65", 10  # for which a bank's colours are given
_ORDER = (*COLUMNS, *KNOWN)
_NAMES = ("panel", "ground", "picture")


@dataclass(frozen=True)
class PanelsRequest:
    """Where the panels lie in the photographs, and by what these are read.

    Parameters
    ----------
    region : sequence of str or Region
        "PANEL=x,y,w,h" in pixels of the upright picture, the same in all of the photographs; "PHOTO:PANEL=x,y,w,h" of
        one.
    panel : sequence of str
        "N=PANEL": what lies in a numbered window of the sheet that is in them.
    chart : str, Path or None
        The chart, as `chart_named` takes it; None is the one that is registered, or else the usual one as published.
    replace : bool
        Whether a seen.csv may be written over that the program didn't write.
    under : sequence of str
        LIGHT=PHOTO: photographs of the same panels under lamps, by which their colours in daylight are known nearer.
    """

    region: Sequence[str | Region] = ()
    panel: Sequence[str] = ()
    chart: str | Path | None = None
    replace: bool = False
    under: Sequence[str] = ()


@dataclass(frozen=True)
class SeenPanel:
    """A panel as one photograph has it: CIELAB, and the ΔE00 that hold what it alone is off by, and what it is off by
    together with others, 95 in 100.

    Its window is that of the sheet it lies in, by number; None where a region says where it lies.
    """

    panel: str
    picture: str
    lab: tuple[float, float, float]
    u95: float
    u95_shared: float
    window: int | None = None


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
    request: PanelsRequest,
    *,
    progress: Progress = quiet,
) -> BankPhoto:
    """Read the colours of panels from photographs with a chart, or the shop's card, into a bank's seen.csv.

    Parameters
    ----------
    folder : str or Path
        Of the bank; panels.csv says what was weighed into its panels.
    photographs : sequence of str or Path
    request : PanelsRequest
    progress : Progress

    Raises
    ------
    InputError
        A panel that was not weighed, a photograph that can't be read, that shows no such window or that is a copy of
        another, a file that isn't to be replaced.

    Notes
    -----
    What a camera does wrong to a tint it does to every panel of it, and in the next picture again: most of a colour's
    doubt is shared (`by_camera`), and no second photograph takes it away.
    """
    bank = Path(folder)
    weighed = _weighed(bank)
    paths, lamps = [Path(photograph) for photograph in photographs], lamps_beside(request.under, LIGHT)
    every = [*((LIGHT, path) for path in paths), *lamps]
    regions, windows = _regions(request, weighed, [path for _, path in every]), typed_windows(request.panel, weighed)
    file = bank / FILE
    check_output(file, request.replace)
    known = None if request.chart is None else chart_named(request.chart)
    lit = read_with_lamps(every, len(lamps), known, lambda light, path, its: _read(light, path, regions, its), progress)
    readings = [in_windows(reading, windows) if windows else reading for reading in lit.readings]
    before, kept = _rows_before(file), pictures_kept(file)
    rows_of = {row.get("picture", "") for row in before}
    names = called(paths, lit.digests, kept, rows_of)
    panels = _called(readings, names, {panel: window_number(name) for name, panel in windows.items()})
    doubted = (*without_looks(lit.alone, names), *_names_doubted(paths, names, rows_of - set(kept)))
    _refuse_copies(before, panels)
    standing, notes = _named_anew(before, panels)
    if panels:
        stay = {row.get("picture", "") for row in standing} | {panel.picture for panel in panels}
        seen = looks_seen(lit, windows, [not one.why_not and name for one, name in zip(readings, names, strict=True)])
        keep_looks(bank, seen, {(panel.picture, panel.panel): panel.lab for panel in panels}, stay)
        pictures = kept | dict(zip(names, lit.digests, strict=True))
        write_output(file, with_remarks(_table(standing, panels), pictures, stay), request.replace)
        notes += told_otherwise(file, {(panel.panel, panel.picture): panel.window for panel in panels})
    told = {row["panel"] for row in standing} | {panel.panel for panel in panels} | _read_by_spectrum(bank)
    return BankPhoto(
        file,
        panels,
        tuple(name for name in weighed if name not in told),
        (*_warnings(readings, names), *lit.notes, *doubted, *notes),
        "" if any(not reading.why_not for reading in readings) else readings[0].why_not,
    )


def _called(
    readings: Sequence[PhotoReading], names: Sequence[str], numbers: Mapping[str, int]
) -> tuple[SeenPanel, ...]:
    """Return the panels of all photographs that serve, each with what its picture is called."""
    return tuple(
        replace(panel, picture=name)
        for reading, name in zip(readings, names, strict=True)
        if not reading.why_not
        for panel in _panels(reading, numbers)
    )


def _named_anew(
    before: Sequence[dict[str, str]], panels: Sequence[SeenPanel]
) -> tuple[list[dict[str, str]], tuple[str, ...]]:
    """Return the rows without those of a place that is another panel now, and what is said of them.

    Two panels of one picture never read alike to three places: a row that does is of the same window or place, and the
    panel that was named for it first was a slip.
    """
    now = {(panel.picture, *(f"{value:.3f}" for value in panel.lab)): panel.panel for panel in panels}
    standing, said = list[dict[str, str]](), list[str]()
    for row in before:
        panel = now.get((row.get("picture", ""), *(row[axis] for axis in "Lab")), row["panel"])
        if panel == row["panel"]:
            standing.append(row)
        else:
            said.append(f"{row['picture']}: what stood there as {row['panel']} is {panel} now, and its row is gone")
    return standing, tuple(said)


def _names_doubted(paths: Sequence[Path], names: Sequence[str], untold: Collection[str]) -> tuple[str, ...]:
    """Return a note for each photograph whose name another one bears, or bore before it was kept which is meant."""
    said = []
    for path, name in zip(paths, names, strict=True):
        if name != path.name:
            said.append(f"{path}: {FILE} has another picture called {path.name}; this one is {name} there")
        elif name in untold:
            said.append(f"{name}: it wasn't kept which picture its rows of {FILE} are of: this one is taken for it")
    return tuple(said)


def _refuse_copies(before: Sequence[Mapping[str, str]], panels: Sequence[SeenPanel]) -> None:
    """Refuse a photograph that another one of seen.csv is a copy of: no second picture reads alike to three places."""
    own = {panel.picture for panel in panels}
    told = {(row["panel"], *(row[axis] for axis in "Lab")): row.get("picture", "") for row in before}
    for panel in panels:
        first = told.get((panel.panel, *(f"{value:.3f}" for value in panel.lab)), "")
        if first and first not in own:
            what = f"is {first} under another name: {panel.panel} reads the same to the last digit"
            raise InputError(panel.picture, what, f"photograph the panels anew, or read it as {first}")


def _read(light: str, path: Path, regions: Mapping[Path, Sequence[Region]], chart: Chart | None) -> PhotoReading:
    picture = open_picture(path)
    return read_photograph(picture, regions[path], chart=chart, light=light, observer=OBSERVER, home=ledger_home())


def _weighed(bank: Path) -> tuple[str, ...]:
    """Return the names of the panels that were weighed."""
    if not bank.is_dir():
        raise InputError(str(bank), "there is no such bank folder", "name the folder that holds bank.toml")
    table = read_table(bank / "panels.csv", required=("panel", "tint", "grams"), optional=())
    return tuple(dict.fromkeys(row.text("panel") for row in table.rows))


def _regions(request: PanelsRequest, weighed: Sequence[str], photographs: Sequence[Path]) -> dict[Path, list[Region]]:
    if request.region and request.panel:
        raise InputError("`region`", "is given with `panel`", "name windows of the sheet, or places in the picture")
    if not request.region and not request.panel:
        mend = "say where each panel lies: `region` PANEL=x,y,w,h, or `panel` N=PANEL in a window of the sheet"
        raise InputError("`region`", "is missing", mend)
    found = regions_of_each(request.region, photographs)
    for name in dict.fromkeys(region.name for its in found.values() for region in its):
        check_weighed(f"`region` {name[:40]}", name, weighed)
    return found


def _panels(reading: PhotoReading, numbers: Mapping[str, int]) -> list[SeenPanel]:
    """Return the panels of a photograph, each with what of its doubt is its own, and its window where it has one."""
    found = []
    for region in reading.regions:
        own, shared = (float(region.u95 * np.sqrt(part)) for part in (OF_ITS_OWN, 1 - OF_ITS_OWN))
        lab = (float(region.lab[0]), float(region.lab[1]), float(region.lab[2]))
        source = reading.picture.source.name
        found.append(SeenPanel(region.name, source, lab, own, shared, numbers.get(region.name)))
    return found


def _rows_before(file: Path) -> list[dict[str, str]]:
    """Return the rows that stand in seen.csv."""
    return [dict(row.cells) for row in seen_rows(file)] if os.path.lexists(file) else []


def _read_by_spectrum(bank: Path) -> set[str]:
    path = bank / "readings.csv"
    if not os.path.lexists(path):
        return set()
    return {row.cells["panel"] for row in read_table(path, required=("panel",)).rows}


def _table(before: Sequence[dict[str, str]], panels: Sequence[SeenPanel]) -> str:
    """Return seen.csv with the panels read now, each in the place of what its photograph told before.

    What it lies on is no photograph's to tell: where that was typed it stays.
    """
    again = {(panel.panel, panel.picture) for panel in panels}
    typed = {(row["panel"], row.get("picture", "")): row for row in before}
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
            **{
                column: typed.get((panel.panel, panel.picture), {}).get(column, "") for column in ("ground", "build_um")
            },
            **dict(zip(("L", "a", "b"), (f"{value:.3f}" for value in panel.lab), strict=True)),
            "u95": f"{max(panel.u95, 0.01):.2f}",
            "picture": guarded(panel.picture),
            "u95_shared": f"{panel.u95_shared:.2f}",
        }
        writer.writerow([values.get(column, "") for column in _ORDER])
    return out.getvalue()


def _warnings(readings: Sequence[PhotoReading], names: Sequence[str]) -> list[str]:
    found = []
    for reading, name in zip(readings, names, strict=True):
        if reading.why_not and any(not one.why_not for one in readings):
            found.append(f"{name}: not used: {reading.why_not}")
        found += [f"{name}: {warning}" for warning in reading.warnings]
    return list(dict.fromkeys(found))
