"""Where everything lies on the shop's card and on its sheet of windows: one drawing for the page and for the reader."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cache
from typing import Any

import numpy as np

from finishmatch.colour import Floats
from finishmatch.errors import InputError
from finishmatch.toml_reader import packaged_toml

RULER_HEIGHT_MM = 4.0
PRINTED_NEUTRALS = ("white", "light grey", "grey", "dark grey", "black")
INKS = {"w": "white", "g": "grey", "b": "black"}
MOST_WINDOWS = 12


@dataclass(frozen=True)
class Box:
    """An upright oblong on the card, in mm from the card's top left corner, y down."""

    x_mm: float
    y_mm: float
    width_mm: float
    height_mm: float

    def corners_mm(self, inset_mm: float = 0.0) -> Floats:
        """Return its corners, shape (4, 2), from the top left clockwise, drawn in by a margin."""
        left, top = self.x_mm + inset_mm, self.y_mm + inset_mm
        right, bottom = self.x_mm + self.width_mm - inset_mm, self.y_mm + self.height_mm - inset_mm
        return np.array([[left, top], [right, top], [right, bottom], [left, bottom]])


@dataclass(frozen=True)
class Printed:
    """A field in one ink: `name` is what it is registered under, `srgb` what it is printed in."""

    name: str
    box: Box
    srgb: tuple[int, int, int]


@dataclass(frozen=True)
class CardLayout:
    """The whole card, or a sheet of numbered windows.

    Parameters
    ----------
    width_mm, height_mm : float
    marks : dict of int to Box
        The fiducial marks, by their number in DICT_4X4_50.
    windows : dict of str to Box
        "standard", "spray-out" and "chart"; of a sheet "chart", "window 1", "window 2" and so on.
    stripes : dict of str to tuple of Printed
        White and black, side by side under the spray-out, or under each numbered window.
    border : tuple of Printed
        Cells of white, grey and black around the card.
    patches : tuple of Printed
        The printed scale of greys and colours, each name once.
    fields : dict of str to Box
        To write on.
    ruler : Box
        100 mm long, to check the print by.
    numbered : int or None
        How many numbered windows a sheet has, 0 where that isn't known; None for the card.
    counts : tuple of Box
        Where the marks stand that say so (`count_mark`).
    """

    width_mm: float
    height_mm: float
    marks: dict[int, Box]
    windows: dict[str, Box]
    stripes: dict[str, tuple[Printed, ...]]
    border: tuple[Printed, ...]
    patches: tuple[Printed, ...]
    fields: dict[str, Box]
    ruler: Box
    numbered: int | None = None
    counts: tuple[Box, ...] = ()

    @property
    def numbered_windows(self) -> tuple[str, ...]:
        """The names of the numbered windows, in their order."""
        return tuple(window_name(number) for number in range(1, (self.numbered or 0) + 1))


def window_name(number: int) -> str:
    """Return what a numbered window is called."""
    return f"window {number}"


def window_number(name: str) -> int:
    """Return the number of a window that is called so."""
    return int(name.removeprefix("window "))


@cache
def card_layout() -> CardLayout:
    """Return the layout of the shop's card, from `data/shopcard.toml`."""
    drawn = packaged_toml("photo", "shopcard.toml")
    windows = {name: _box(box) for name, box in drawn["windows"].items()}
    rows = drawn["patches"]["rows"]
    return _layout(drawn, windows, ("spray-out",), _scale(drawn["patches"]["box"], rows))


@cache
def sheet_layout(numbered: int = 0) -> CardLayout:
    """Return the layout of the sheet of numbered windows, from `data/panelsheet.toml`.

    Parameters
    ----------
    numbered : int
        How many windows it has; 0 is all that every such sheet has.

    Raises
    ------
    InputError
        More windows than a sheet holds, or a number that is none.
    """
    if not 0 <= numbered <= MOST_WINDOWS:
        raise InputError("`panels`", f"{numbered} windows are no sheet", f"a sheet holds 1 to {MOST_WINDOWS}")
    drawn = _drawn_sheet()
    boxes = _grid(drawn["numbered"], numbered)
    windows = {name: _box(box) for name, box in drawn["windows"].items()}
    windows |= {window_name(number): box for number, box in enumerate(boxes, start=1)}
    fields = [patch for row in packaged_toml("photo", "shopcard.toml")["patches"]["rows"] for patch in row]
    columns = drawn["patches"]["columns"]
    rows = [fields[i : i + columns] for i in range(0, len(fields), columns)]
    striped = tuple(name for name in windows if name != "chart")
    plain = _layout(drawn, windows, striped, _scale(drawn["patches"]["box"], rows))
    size, counts = drawn["marks"]["size"], drawn["counts"]
    return replace(plain, numbered=numbered, counts=tuple(_box([*at, size, size]) for at in counts["places"]))


def count_mark(numbered: int) -> int:
    """Return the number of the mark that says how many windows a sheet has."""
    return int(_drawn_sheet()["counts"]["from"]) + numbered


@cache
def _drawn_sheet() -> dict[str, Any]:
    return packaged_toml("photo", "panelsheet.toml")


def _layout(
    drawn: dict[str, Any], windows: dict[str, Box], striped: tuple[str, ...], patches: tuple[Printed, ...]
) -> CardLayout:
    inks = {patch.name: patch.srgb for patch in patches}
    size = drawn["marks"]["size"]
    return CardLayout(
        width_mm=drawn["width"],
        height_mm=drawn["height"],
        marks={mark["number"]: _box([*mark["at"], size, size]) for mark in drawn["marks"]["places"]},
        windows=windows,
        stripes={name: _stripes(windows[name], drawn["stripes"]["inks"], inks) for name in striped},
        border=_border(drawn["border"], inks),
        patches=patches,
        fields={name: _box(box) for name, box in drawn["fields"].items()},
        ruler=_box([*drawn["ruler"]["at"], drawn["ruler"]["length"], RULER_HEIGHT_MM]),
    )


def _box(drawn: list[float]) -> Box:
    left, top, width, height = drawn
    return Box(left, top, width, height)


def _grid(drawn: dict[str, Any], numbered: int) -> list[Box]:
    """Return the boxes of the numbered windows, row by row from the top."""
    grid = next(one for one in drawn["grids"] if numbered <= one["to"])
    columns, rows, gap, label = grid["columns"], grid["rows"], drawn["gap"], drawn["label"]
    boxes = []
    for band in map(_box, drawn["bands"]):
        width = (band.width_mm - (columns - 1) * gap) / columns
        pitch = band.height_mm / rows
        for row in range(rows):
            top = band.y_mm + row * pitch + label
            boxes += [Box(band.x_mm + i * (width + gap), top, width, pitch - label) for i in range(columns)]
    return boxes[:numbered]


def _scale(box: list[float], rows: list[list[dict[str, Any]]]) -> tuple[Printed, ...]:
    whole = _box(box)
    height = whole.height_mm / len(rows)
    patches = []
    for j, row in enumerate(rows):
        width = whole.width_mm / len(row)
        for i, patch in enumerate(row):
            box_of = Box(whole.x_mm + i * width, whole.y_mm + j * height, width, height)
            patches.append(Printed(patch["name"], box_of, tuple(patch["srgb"])))
    return tuple(patches)


def _stripes(window: Box, letters: str, inks: dict[str, tuple[int, int, int]]) -> tuple[Printed, ...]:
    width = window.width_mm / len(letters)
    return tuple(
        Printed(INKS[letter], Box(window.x_mm + i * width, window.y_mm, width, window.height_mm), inks[INKS[letter]])
        for i, letter in enumerate(letters)
    )


def _border(drawn: dict[str, Any], inks: dict[str, tuple[int, int, int]]) -> tuple[Printed, ...]:
    cell, cells = drawn["cell"], []
    for run in drawn["runs"]:
        for i, letter in enumerate(run["inks"]):
            x, y = (at + i * step for at, step in zip(run["at"], run["step"], strict=True))
            cells.append(Printed(INKS[letter], Box(x, y, cell, cell), inks[INKS[letter]]))
    return tuple(cells)
