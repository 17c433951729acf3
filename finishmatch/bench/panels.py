"""Panels as they are drawn: an outline of our own, and the width and height that were given for a panel of a job."""

from __future__ import annotations

import json
import math
from dataclasses import dataclass
from pathlib import Path
from threading import Lock
from typing import Any

from finishmatch.errors import InputError
from finishmatch.files import write_file
from finishmatch.steps.defect.map import LEAST_MM, MOST_MM

FILE = "bench-panels.json"
MOST_KEPT = 500


@dataclass(frozen=True)
class Outline:
    """A kind of panel as it is drawn.

    Parameters
    ----------
    name : str
    path : str
        The data of an SVG path in a square of 100, which is stretched to the panel.
    usual_mm : (float, float)
        Width and height until others are given (common practice: what such a panel of a car is about).
    words : tuple of str
        In a panel's name they mean this kind.
    """

    name: str
    path: str
    usual_mm: tuple[float, float]
    words: tuple[str, ...] = ()


OUTLINES = {
    one.name: one
    for one in (
        Outline("flat", "M2,0H98Q100,0 100,2V98Q100,100 98,100H2Q0,100 0,98V2Q0,0 2,0Z", (1200.0, 800.0)),
        Outline(
            "door", "M22,0H92Q99,0 99,8L100,92Q100,100 92,100H6Q0,100 0,92V44Q2,38 8,30Z", (1100.0, 1050.0), ("door",)
        ),
        Outline(
            "wing",
            "M0,46Q8,12 40,4Q76,-2 100,14V100H86Q82,60 58,58Q34,60 30,100H0Z",
            (1250.0, 750.0),
            ("wing", "fender"),
        ),
        Outline("bonnet", "M14,2Q50,-2 86,2Q94,40 100,92Q50,106 0,92Q6,40 14,2Z", (1400.0, 1150.0), ("bonnet", "hood")),
        Outline("boot lid", "M6,4Q50,-4 94,4L100,88Q50,112 0,88Z", (1300.0, 800.0), ("boot", "trunk", "deck lid")),
        Outline("roof", "M10,4Q50,-4 90,4Q97,50 94,94Q50,106 6,94Q3,50 10,4Z", (1250.0, 1300.0), ("roof",)),
        Outline("sill", "M0,20Q50,0 100,20V92Q50,100 0,92Z", (1600.0, 180.0), ("sill", "rocker")),
    )
}


@dataclass(frozen=True)
class PanelDrawn:
    """A panel as it is drawn: its outline, its size in mm, and whether somebody gave that size."""

    outline: Outline
    size: tuple[float, float]
    given: bool = False


def outline_for(panel: str) -> Outline:
    """Return the outline that a panel's name tells, a flat one where it tells none."""
    name = panel.casefold()
    found = (one for one in OUTLINES.values() if any(word in name for word in one.words))
    return next(found, OUTLINES["flat"])


class Panels:
    """What was given of panels, in a file beside the ledger; another bench on it finds them too.

    Parameters
    ----------
    home : Path
        The folder of the ledger.
    """

    def __init__(self, home: Path) -> None:
        self._file = home / FILE
        self._lock = Lock()

    def drawn(self, job: str, panel: str) -> PanelDrawn:
        """Return how a panel is drawn: as was given for it, else as its name tells."""
        usual = outline_for(panel)
        with self._lock:
            found = self._read().get(_key(job, panel))
        if found is None:
            return PanelDrawn(usual, usual.usual_mm)
        name, width, height = found
        return PanelDrawn(OUTLINES.get(name, usual), (width, height), given=True)

    def give(self, job: str, panel: str, outline: str, size: tuple[float, float]) -> None:
        """Remember the outline of a panel, and its width and height in mm.

        Raises
        ------
        InputError
            A size that no panel has, an outline that isn't in the list, a panel without a name.
        """
        if not panel.strip():
            raise InputError("the panel", "isn't named", "say which")
        if outline not in OUTLINES:
            raise InputError("the outline", "isn't in the list", "choose one that is")
        for name, side in zip(("the width", "the height"), size, strict=True):
            if not LEAST_MM <= side <= MOST_MM:
                raise InputError(name, f"{side:g} mm is no panel", f"give {LEAST_MM:g} to {MOST_MM:g} mm")
        with self._lock:
            kept = self._read()
            kept.pop(_key(job, panel), None)
            kept[_key(job, panel)] = (outline, *size)
            for old in list(kept)[: max(0, len(kept) - MOST_KEPT)]:
                del kept[old]
            write_file(self._file, json.dumps(kept, ensure_ascii=False) + "\n", private=True, make_folder=True)

    def _read(self) -> dict[str, tuple[str, float, float]]:
        """Return what was given, what can't be read of it left out: it is given again then."""
        try:
            kept: Any = json.loads(self._file.read_text("utf-8"))
            found = {str(key): (str(one[0]), float(one[1]), float(one[2])) for key, one in kept.items()}
        except (OSError, ValueError, AttributeError, TypeError, LookupError):
            return {}
        return {key: one for key, one in found.items() if all(math.isfinite(side) and side > 0 for side in one[1:])}


def _key(job: str, panel: str) -> str:
    return f"{job} {' '.join(panel.split()).casefold()}"
