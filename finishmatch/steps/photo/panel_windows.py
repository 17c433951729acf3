"""What lies in the numbered windows of the sheet: as it is typed, and as it is read in a photograph."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import replace

from finishmatch.errors import InputError
from finishmatch.near_names import near_names
from finishmatch.photo.card.layout import window_name, window_number
from finishmatch.photo.read import PhotoReading

_TYPED = re.compile(r"\s*0*([1-9]\d{0,3})\s*=\s*(.*?)\s*", re.DOTALL)
_UNNAMED = re.compile(r"\bsamples? \d")
_TOLD = re.compile(r"(window \d+)\b(.*)", re.DOTALL)


def typed_windows(given: Sequence[str], weighed: Sequence[str]) -> dict[str, str]:
    """Return the panel in each numbered window, by what the window is called.

    Parameters
    ----------
    given : sequence of str
        "N=PANEL" each.
    weighed : sequence of str
        The panels of the bank.

    Raises
    ------
    InputError
        No such form, a panel that was not weighed, a window or a panel named twice.
    """
    found: dict[str, str] = {}
    for text in given:
        where = f"`panel` {text[:40]!r}"
        match = _TYPED.fullmatch(text)
        if not match or not match[2]:
            mend = "write the number of the window and the panel in it, e.g. `panel` 3=PANEL"
            raise InputError(where, "is not N=PANEL", mend)
        name = window_name(int(match[1]))
        if name in found or match[2] in found.values():
            raise InputError(where, "names a window or a panel twice", "give each once")
        check_weighed(f"`panel` {text[:40]}", match[2], weighed)
        found[name] = match[2]
    return found


def check_weighed(where: str, name: str, weighed: Sequence[str]) -> None:
    """See that a panel stands in panels.csv, or raise `InputError` with the name that is nearest."""
    if name not in weighed:
        near = near_names(name, list(weighed))
        mend = f"did you mean {near[0]!r}?" if near else "write its weights into panels.csv first"
        raise InputError(where, "is no panel of panels.csv", mend)


def in_windows(reading: PhotoReading, windows: dict[str, str]) -> PhotoReading:
    """Return what was read in the numbered windows that are named, under the names of the panels.

    Parameters
    ----------
    reading : PhotoReading
    windows : dict of str to str
        As of `typed_windows`.

    Raises
    ------
    InputError
        The photograph shows the shop's card, or a sheet that has no such window.
    """
    source = reading.picture.source.name
    sheet = None if reading.card is None else reading.card.layout
    if sheet is None:
        none = "no sheet with numbered windows was found: it must all be in the picture, its black marks free"
        if reading.chart is not None and reading.chart.mirrored:
            none = "the photograph is mirrored, left to right, and no mark of a sheet can be read so: turn it back"
        why_not = f"{reading.why_not}; {none}" if reading.why_not else none
        # what was found beside the chart in place of windows has numbers that nobody gave
        warnings = tuple(said for said in reading.warnings if not _UNNAMED.search(said))
        return replace(reading, regions=(), lost=(), differences=(), warnings=warnings, why_not=why_not)
    if sheet.numbered is None:
        mend = "photograph the sheet, or say with `region` where each panel lies"
        raise InputError(source, "shows the shop's card, and no sheet with numbered windows", mend)
    for name in windows:
        if sheet.numbered and name not in sheet.windows:
            what = f"is no window of the sheet in {source}"
            raise InputError(f"`panel` {window_number(name)}", what, f"it has {sheet.numbered}")
    regions = tuple(replace(one, name=windows[one.name]) for one in reading.regions if one.name in windows)
    warnings = _told(reading, windows)
    nothing = "; ".join(["nothing is read in the windows that are named", *warnings])
    return replace(
        reading,
        regions=regions,
        lost=tuple(replace(one, name=windows[one.name]) for one in reading.lost if one.name in windows),
        differences=tuple(
            replace(one, standard=windows[one.standard], trial=windows[one.trial])
            for one in reading.differences
            if one.standard in windows and one.trial in windows
        ),
        warnings=warnings,
        why_not=reading.why_not or ("" if regions else nothing),
    )


def _told(reading: PhotoReading, windows: dict[str, str]) -> tuple[str, ...]:
    """Return the warnings: of a window with the panel in it, of what lies in windows that aren't named in one."""
    found = []
    for warning in reading.warnings:
        of = _TOLD.fullmatch(warning)
        if of is None:
            found.append(warning)
        elif of[1] in windows:
            found.append(f"{of[1]} ({windows[of[1]]}){of[2]}")
    others = [str(window_number(one.name)) for one in reading.regions if one.name not in windows]
    if others:
        which = f"window {others[0]} holds" if len(others) == 1 else f"windows {', '.join(others)} hold"
        found.append(f"{which} what no panel is named for: name it with `panel`")
    return tuple(found)
