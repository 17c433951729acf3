"""A bank folder: bank.toml, tints.csv, panels.csv, readings.csv and grounds.csv."""

from __future__ import annotations

import hashlib
import os
from collections.abc import Hashable, Sequence
from dataclasses import replace
from pathlib import Path

import numpy as np

from finishmatch.colour import Floats
from finishmatch.colour.grid import GEOMETRIES
from finishmatch.errors import InputError
from finishmatch.near_names import near_names
from finishmatch.optics.bank import Bank, Panel
from finishmatch.optics.read_and_seen import gloss_note
from finishmatch.optics.surface import Surface, usual_surface
from finishmatch.readings.bank_seen import FILE as SEEN_FILE
from finishmatch.readings.bank_seen import check_told_alike, seen_panel, seen_rows
from finishmatch.readings.bank_spectra import COLUMN, TableSpectra, check_within, table_spectra
from finishmatch.readings.bank_tints import read_tints
from finishmatch.readings.batch_file import LEAST_GRAMS, MAX_GRAMS
from finishmatch.readings.known import Known
from finishmatch.readings.looks_file import FILE as LOOKS_FILE
from finishmatch.readings.looks_file import looks_of, read_looks
from finishmatch.readings.spectra import UNIT
from finishmatch.readings.spikes import without_spikes
from finishmatch.readings.strangers import check_alike
from finishmatch.readings.table_file import NoRowsError, Row, read_bytes, read_table, read_text
from finishmatch.toml_reader import parse_toml
from finishmatch.understood import overhearing

# what is fitted in seconds: panels by ground and build, readings of one, parts beside the largest
MAX_PANELS, MAX_REPEATS, MAX_PARTS = 1500, 100, 1200
_NAMED = 3  # of panels that nobody read, in a note
# what a new bank's head wants
_HEAD_LINES = {
    "name": 'name = "…"',
    "geometry": 'geometry = "45/0" where only a phone sees the panels, or as the instrument reads: "di8", "de8"',
    "binder_index": "binder_index = 1.5 (most are)",
}
_DRAW = "draw the panels that finishmatch bank plan {} names, and write there what was weighed"
FILES = ("bank.toml", "tints.csv", "panels.csv", "readings.csv", "grounds.csv", SEEN_FILE, LOOKS_FILE)
_READ: Known[Bank] = Known()


def read_bank(folder: Path, begun: bool = False) -> Bank:
    """Read a bank folder.

    Parameters
    ----------
    folder : Path
        With bank.toml, tints.csv, panels.csv and readings.csv; grounds.csv too when a panel lies on a ground, seen.csv
        when the colour alone is known of some panels, or of all: then there may be no readings.csv.
    begun : bool
        Whether it may be only begun: without panels, or with some that weren't read yet, which are left out.

    Returns
    -------
    Bank
        Its digest is the SHA-256 of the files' names and bytes.

    Raises
    ------
    InputError
        Names file, line and column of what is wrong.
    """
    folder = Path(folder)
    if not os.path.isdir(folder):
        raise InputError(str(folder), "there is no such bank folder", "name the folder that holds bank.toml")
    for file in FILES:
        check_within(folder, file)
    made_of = _made_of(folder, begun)
    known = None if made_of is None else _READ.get(made_of)
    if known is not None:
        return known
    with overhearing() as understood_times:
        bank, further = _read(folder, begun)
        # what names the folder is said anew each time
        plain = not (understood_times() or bank.warnings or further)
    if made_of is not None and plain and made_of == _made_of(folder, begun):
        _locked(bank)
        _READ.keep(made_of, bank)
    return bank


def _made_of(folder: Path, begun: bool) -> Hashable:
    """Return what tells whether a bank was read before, its files and their bytes; None where that can't be told."""
    try:
        return begun, tuple(os.path.lexists(folder / file) for file in FILES), bank_digest(folder)
    except (InputError, OSError):  # what is wrong is said when it is read
        return None


def _locked(bank: Bank) -> None:
    """Let nobody change the readings of a bank that others are given too."""
    for values in (*(panel.repeats for panel in bank.panels), *(ground for _, ground in bank.grounds)):
        values.setflags(write=False)


def _read(folder: Path, begun: bool) -> tuple[Bank, tuple[str, ...]]:
    """Return a bank, and the further files that its tables name."""
    name, geometry, index = read_head(folder / "bank.toml")
    tints, of_tints = read_tints(folder / "tints.csv")
    if not begun:
        _check_drawn(folder)
    mixed = _weighed(folder, [tint.name for tint in tints], begun)
    if not begun:
        _check_read(folder)
    grounds, read = _read_grounds(folder / "grounds.csv", geometry)
    panels, also_read = tuple[Panel, ...](), TableSpectra((), ())
    if not begun or os.path.lexists(folder / "readings.csv"):
        panels, also_read = _read_readings(folder / "readings.csv", mixed, grounds, geometry)
    seen, of_looks = _read_seen(folder / SEEN_FILE, mixed, grounds, usual_surface(index, geometry))
    unread = () if begun else _unread(mixed, (*panels, *seen))
    further = (*read.files, *also_read.files)
    digest = bank_digest(folder, further)
    gloss = gloss_note((*panels, *seen), geometry, index)
    warnings = (*read.warnings, *also_read.warnings, *([gloss] if gloss else []), *unread, *of_tints, *of_looks)
    return Bank(name, geometry, index, tints, (*panels, *seen), tuple(grounds.items()), digest, warnings), further


def bank_digest(folder: Path, further: tuple[str, ...] = ()) -> str:
    """Return the SHA-256, in hex, of a bank folder's files, by which a stored fit is known to be current.

    `further` are the instrument's files that its tables name.
    """
    digest = hashlib.sha256()
    for name in dict.fromkeys((*FILES, *further)):
        path = folder / name
        if path.exists():
            content = read_bytes(path)
            digest.update(f"{name}\0{len(content)}\0".encode())
            digest.update(content)
    return digest.hexdigest()


def _check_drawn(folder: Path) -> None:
    """See that something was drawn; what comes next is said where a bank is only begun."""
    if not any(os.path.lexists(folder / file) for file in ("panels.csv", "readings.csv", SEEN_FILE)):
        raise InputError(str(folder / "panels.csv"), "there is no such file", _DRAW.format(folder))


def _check_read(folder: Path) -> None:
    """See that something tells the colours of what was drawn."""
    if not any(os.path.lexists(folder / file) for file in ("readings.csv", SEEN_FILE)):
        mend = f"read the panels into it, or photograph them: finishmatch bank photo {folder} PHOTO"
        raise InputError(str(folder / "readings.csv"), "there is no such file", mend)


def _weighed(folder: Path, tints: Sequence[str], begun: bool) -> dict[str, dict[str, float]]:
    """Return what was weighed into the panels of a bank; nothing where it is only begun and none is drawn."""
    path = folder / "panels.csv"
    if begun and not os.path.lexists(path):
        return {}
    try:
        return read_weighed(path, tints)
    except NoRowsError as error:
        if begun:
            return {}
        raise InputError(error.where, error.what, _DRAW.format(folder)) from None


def _is_missing(path: Path) -> bool:
    """Return whether there is no such file; one that nobody is let at is there."""
    try:
        os.lstat(path)
    except (FileNotFoundError, NotADirectoryError):
        return True
    except OSError:
        return False
    return False


def read_head(path: Path) -> tuple[str, str, float]:
    """Return the name of a bank, its geometry and the refractive index of its binder, as its bank.toml has them.

    Raises
    ------
    InputError
        What is missing or wrong in it.
    """
    if _is_missing(path):
        lines = "; ".join(_HEAD_LINES.values())
        mend = f"name the folder that holds it; of a new bank write it, a line each: {lines}"
        raise InputError(str(path), "there is no such file", mend)
    head = parse_toml(read_text(path), str(path))
    for key, line in _HEAD_LINES.items():
        if key not in head:
            raise InputError(str(path), f"there is no {key!r}", f"add {line}")
    name, geometry, index = head["name"], head["geometry"], head["binder_index"]
    if not isinstance(name, str) or not name.strip():
        raise InputError(str(path), "name is not a text", 'write name = "…"')
    if geometry not in GEOMETRIES:
        known = ", ".join(GEOMETRIES)
        raise InputError(str(path), f"geometry {str(geometry)[:40]!r} is not known", f"use one of {known}")
    if isinstance(index, bool) or not isinstance(index, int | float) or not 1.3 <= index <= 1.8:
        problem = f"binder_index {str(index)[:20]} is not the index of a binder"
        raise InputError(str(path), problem, "1.3 to 1.8; most are 1.5")
    return name, geometry, float(index)


def read_weighed(path: Path, tints: Sequence[str]) -> dict[str, dict[str, float]]:
    """Return the grams of each tint that were weighed into each panel of a panels.csv, in the order of the file.

    Parameters
    ----------
    path : Path
    tints : sequence of str
        The tints of the bank.

    Raises
    ------
    InputError
        Names file, line and column of what is wrong.
    """
    table = read_table(path, required=("panel", "tint", "grams"), optional=())
    panels: dict[str, dict[str, float]] = {}
    for row in table.rows:
        panel, tint, grams = row.text("panel"), row.text("tint"), row.number("grams", 0, MAX_GRAMS)
        if tint not in tints:
            near = near_names(tint, tints)
            mend = f"did you mean {near[0]!r}?" if near else "add it to tints.csv"
            raise InputError(row.where("tint"), f"there is no tint {tint[:40]!r} in the bank", mend)
        weighed = panels.setdefault(panel, {})
        if tint in weighed:
            raise InputError(row.where("tint"), f"{tint!r} stands twice in panel {panel!r}", "add the two weights up")
        weighed[tint] = grams
    _check_count(path, sum(len(weighed) - 1 for weighed in panels.values()), MAX_PARTS, "parts beside the largest ones")
    for panel, weighed in panels.items():
        if sum(weighed.values()) < LEAST_GRAMS:
            raise InputError(f"{path}, panel {panel!r}", "nothing was weighed into it", "write the grams")
    return panels


def _read_grounds(path: Path, geometry: str) -> tuple[dict[str, Floats], TableSpectra]:
    if not os.path.lexists(path):
        return {}, TableSpectra((), ())
    table = read_table(path, required=("ground",), known=(COLUMN, UNIT))
    spectra = table_spectra(table, ("ground",), geometry)
    grounds: dict[str, list[Floats]] = {}
    for row, values in zip(table.rows, spectra.repeats, strict=True):
        grounds.setdefault(row.text("ground"), []).extend(values)
    return {name: np.mean(repeats, axis=0) for name, repeats in grounds.items()}, spectra


def _read_readings(
    path: Path, mixed: dict[str, dict[str, float]], grounds: dict[str, Floats], geometry: str
) -> tuple[tuple[Panel, ...], TableSpectra]:
    columns = ("panel", "ground", "build_um")
    if not os.path.lexists(path) and os.path.lexists(path.with_name(SEEN_FILE)):
        return (), TableSpectra((), ())
    table = read_table(path, required=columns, known=(COLUMN, UNIT))
    spectra = table_spectra(table, columns, geometry)
    repeats: dict[tuple[str, str | None, float | None], list[tuple[Floats, str]]] = {}
    for row, values in zip(table.rows, spectra.repeats, strict=True):
        panel, ground = row.text("panel"), row.cells["ground"] or None
        if panel not in mixed:
            raise InputError(row.where("panel"), f"there is no panel {panel[:40]!r} in panels.csv", "add its weights")
        build = _build_over(row, ground, grounds)
        repeats.setdefault((panel, ground, build), []).extend((each, row.where()) for each in values)
    _check_count(path, len(repeats), MAX_PANELS, "panels, by ground and build")
    panels: list[Panel] = []
    spikes: list[str] = []
    for (panel, ground, build), rows in repeats.items():
        _check_count(path, len(rows), MAX_REPEATS, f"readings of panel {panel[:40]!r}")
        mended, found = without_spikes(np.stack([values for values, _ in rows]), [where for _, where in rows])
        check_alike(f"{path}, panel {panel!r}" + (f" over {ground}" if ground else ""), mended)
        panels.append(Panel(panel, tuple(mixed[panel].items()), ground, build, mended))
        spikes += found
    return tuple(panels), replace(spectra, warnings=(*spectra.warnings, *spikes))


def _build_over(row: Row, ground: str | None, grounds: dict[str, Floats]) -> float | None:
    """Return the build of a row's film, µm, or None where it hides; its ground is known."""
    if ground is not None and ground not in grounds:
        known = ", ".join(grounds) or "there is no grounds.csv, or it is empty"
        raise InputError(row.where("ground"), f"no file names the ground {ground[:40]!r}", f"known: {known}")
    build = row.number("build_um", above=0, high=5000) if row.cells.get("build_um") else None
    if (ground is None) != (build is None):
        missing = "build_um" if build is None else "ground"
        raise InputError(row.where(missing), f"has a reading with no {missing}", "give both, or neither if it hides")
    return build


def _read_seen(
    path: Path, mixed: dict[str, dict[str, float]], grounds: dict[str, Floats], surface: Surface
) -> tuple[list[Panel], tuple[str, ...]]:
    """Return the panels of which only a colour is known, none where no file tells any, and what is to be noted."""
    if not os.path.lexists(path):
        return [], ()
    looks, notes = read_looks(path.with_name(LOOKS_FILE))
    panels: list[Panel] = []
    rows = seen_rows(path)
    for row in rows:
        panel, ground = row.text("panel"), row.cells.get("ground") or None
        if panel not in mixed:
            raise InputError(row.where("panel"), f"there is no panel {panel[:40]!r} in panels.csv", "add its weights")
        found = seen_panel(row, mixed[panel], ground, _build_over(row, ground, grounds), surface)
        assert found.seen is not None
        of_it = looks_of(looks, found.seen.picture, panel, found.seen.lab)
        panels.append(replace(found, seen=replace(found.seen, looks=of_it)))
    _check_count(path, len(panels), MAX_PANELS, "panels")
    check_told_alike(path, rows)
    return panels, notes


def _unread(mixed: dict[str, dict[str, float]], panels: Sequence[Panel]) -> tuple[str, ...]:
    """Return a note of the panels that were weighed and that nothing tells the colour of: they are left out."""
    read = {panel.name for panel in panels}
    unread = [name for name in mixed if name not in read]
    if not unread:
        return ()
    some = ", ".join(unread[:_NAMED]) + (f" and {len(unread) - _NAMED} more" if len(unread) > _NAMED else "")
    be = "is" if len(unread) == 1 else "are"
    return (f"{some} of panels.csv {be} read nowhere, and left out: read what was drawn, or take it out there",)


def _check_count(path: Path, count: int, most: int, what: str) -> None:
    if count > most:
        raise InputError(str(path), f"there are {count} {what}, and at most {most} are read", "leave some out")
