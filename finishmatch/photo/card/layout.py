"""Where everything lies on the shop's card: one drawing for the page that is printed and for the reader."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from typing import Any

import numpy as np

from finishmatch.colour import Floats
from finishmatch.toml_reader import packaged_toml

RULER_HEIGHT_MM = 4.0
PRINTED_NEUTRALS = ("white", "light grey", "grey", "dark grey", "black")
INKS = {"w": "white", "g": "grey", "b": "black"}


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
    """The whole card.

    Parameters
    ----------
    width_mm, height_mm : float
    marks : dict of int to Box
        The fiducial marks, by their number in DICT_4X4_50.
    windows : dict of str to Box
        "standard", "spray-out" and "chart".
    stripes : tuple of Printed
        White and black, side by side under the spray-out.
    border : tuple of Printed
        Cells of white, grey and black around the card.
    patches : tuple of Printed
        The printed scale of greys and colours, each name once.
    fields : dict of str to Box
        To write on.
    ruler : Box
        100 mm long, to check the print by.
    """

    width_mm: float
    height_mm: float
    marks: dict[int, Box]
    windows: dict[str, Box]
    stripes: tuple[Printed, ...]
    border: tuple[Printed, ...]
    patches: tuple[Printed, ...]
    fields: dict[str, Box]
    ruler: Box


@cache
def card_layout() -> CardLayout:
    """Return the layout of the shop's card, from `data/shopcard.toml`."""
    drawn = packaged_toml("photo", "shopcard.toml")
    patches = _scale(drawn["patches"])
    inks = {patch.name: patch.srgb for patch in patches}
    windows = {name: _box(box) for name, box in drawn["windows"].items()}
    size = drawn["marks"]["size"]
    return CardLayout(
        width_mm=drawn["width"],
        height_mm=drawn["height"],
        marks={mark["number"]: _box([*mark["at"], size, size]) for mark in drawn["marks"]["places"]},
        windows=windows,
        stripes=_stripes(windows["spray-out"], drawn["stripes"]["inks"], inks),
        border=_border(drawn["border"], inks),
        patches=patches,
        fields={name: _box(box) for name, box in drawn["fields"].items()},
        ruler=_box([*drawn["ruler"]["at"], drawn["ruler"]["length"], RULER_HEIGHT_MM]),
    )


def _box(drawn: list[float]) -> Box:
    left, top, width, height = drawn
    return Box(left, top, width, height)


def _scale(drawn: dict[str, Any]) -> tuple[Printed, ...]:
    whole, rows = _box(drawn["box"]), drawn["rows"]
    height = whole.height_mm / len(rows)
    patches = []
    for j, row in enumerate(rows):
        width = whole.width_mm / len(row)
        for i, patch in enumerate(row):
            box = Box(whole.x_mm + i * width, whole.y_mm + j * height, width, height)
            patches.append(Printed(patch["name"], box, tuple(patch["srgb"])))
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
