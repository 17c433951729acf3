"""The film over a panel, drawn from its build readings: where it may be rubbed, how deep, where it breaks through."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from finishmatch.defects import Film, FilmMap, film_map, make_film
from finishmatch.errors import InputError
from finishmatch.ledger import DefectEntry, EntryView, FilmLayerEntry, open_ledger
from finishmatch.steps.defect.calibrate import shop_rework_figures
from finishmatch.steps.defect.film_now import film_now, read_before_rework
from finishmatch.steps.defect.logged import FilmNotReadError, layers_of_panel, pair_of

Place = tuple[float, float]
MOST_CELLS = 2000
LEAST_MM, MOST_MM = 50.0, 20_000.0
DEEPEST_UM = 20_000.0


@dataclass(frozen=True)
class MapRequest:
    """What is asked of the film over a panel.

    Parameters
    ----------
    panel : str or None
        None is the only one whose film was read.
    size : (float, float) or None
        Width and height of the panel, mm; None is as far as its readings and defects go.
    across, down : int
        Cells of the map.
    at : (float, float) or None
        One place more, across and down, mm.
    depth_um : float or None
        Of the pit that is rubbed out; None is the steps of rubbing alone.
    keep_um : float or None
        Topcoat that must stay; by the figures of rework when None.
    max_risk : float or None
        The chance of breaking through that is accepted at one place; by the figures when None.
    """

    panel: str | None = None
    size: Place | None = None
    across: int = 5
    down: int = 4
    at: Place | None = None
    depth_um: float | None = None
    keep_um: float | None = None
    max_risk: float | None = None


@dataclass(frozen=True)
class MapCell:
    """One place of a map.

    Parameters
    ----------
    at : (float, float)
        Across and down, mm.
    build_um, low_um, high_um : float
        The topcoat to expect, and what it lies between 80 times in 100.
    chance : float
        Of breaking through, 0 to 1.
    safe_um : float
        The depth of a pit that is safe to rub out.
    """

    at: Place
    build_um: float
    low_um: float
    high_um: float
    chance: float
    safe_um: float

    def as_dict(self) -> dict[str, Any]:
        """Return its JSON form."""
        return {
            "at": list(self.at),
            "build_um": self.build_um,
            "low_um": self.low_um,
            "high_um": self.high_um,
            "chance": self.chance,
            "safe_um": self.safe_um,
        }


@dataclass(frozen=True)
class Mark:
    """Something that was read or seen at a place of the panel: the number of its entry, what, where."""

    number: int
    what: str
    at: Place
    over: Place | None = None

    def as_dict(self) -> dict[str, Any]:
        """Return its JSON form."""
        over = None if self.over is None else list(self.over)
        return {"number": self.number, "what": self.what, "at": list(self.at), "over": over}


@dataclass(frozen=True)
class FilmMapped:
    """The film over a panel.

    Parameters
    ----------
    job, panel : str
    film : Film
    size : (float, float)
        Of the panel, mm.
    across, down : int
    cells : tuple of MapCell
        Row by row from the top.
    here : MapCell or None
        The place that was asked for.
    placed : bool
        Whether the readings of the topcoat have places, so that the map differs from place to place.
    cut_um, keep_um, max_risk, depth_um
        As `FilmMap` has them.
    readings, defects : tuple of Mark
    warnings : tuple of str
    """

    job: str
    panel: str
    film: Film
    size: Place
    across: int
    down: int
    cells: tuple[MapCell, ...]
    here: MapCell | None
    placed: bool
    cut_um: float
    keep_um: float
    max_risk: float
    depth_um: float | None
    readings: tuple[Mark, ...] = ()
    defects: tuple[Mark, ...] = ()
    warnings: tuple[str, ...] = ()

    @property
    def worst(self) -> MapCell:
        """The place where it breaks through most likely."""
        return max(self.cells, key=lambda cell: cell.chance)

    @property
    def safe_everywhere(self) -> bool:
        """Whether the chance is accepted at every place of the map."""
        return self.worst.chance <= self.max_risk

    def as_dict(self) -> dict[str, Any]:
        """Return its JSON form."""
        return {
            "job": self.job,
            "panel": self.panel,
            "size": list(self.size),
            "across": self.across,
            "down": self.down,
            "placed": self.placed,
            "depth_um": self.depth_um,
            "cut_um": self.cut_um,
            "keep_um": self.keep_um,
            "max_risk": self.max_risk,
            "safe_everywhere": self.safe_everywhere,
            "cells": [cell.as_dict() for cell in self.cells],
            "here": None if self.here is None else self.here.as_dict(),
            "readings": [mark.as_dict() for mark in self.readings],
            "defects": [mark.as_dict() for mark in self.defects],
            "warnings": list(self.warnings),
        }


def map_film(request: MapRequest, *, job: str) -> FilmMapped:
    """Return the film over a panel of a job.

    Parameters
    ----------
    request : MapRequest
    job : str
        A ref or an exact title.

    Raises
    ------
    InputError
        No such job, a panel whose film has not been read, a size or a depth that can't be.
    """
    _check(request)
    with open_ledger(create=False) as ledger:
        found = ledger.find_job(job)
        views = ledger.entries(found, current_only=True)
    panel = _panel(found.ref, views, request.panel)
    layers = layers_of_panel(views, panel)
    if not layers:
        raise FilmNotReadError(found.ref, panel, panels_read(views))
    film = make_film(layers)
    readings, defects = _readings(film_now(views, panel), panel), _defects(views, panel)
    size = request.size or _reach([*readings, *defects])
    places = _grid(size, request.across, request.down)
    wanted = places if request.at is None else np.vstack([places, request.at])
    mapped = film_map(film, shop_rework_figures(), wanted, request.depth_um, request.keep_um, request.max_risk)
    cells = _cells(wanted, mapped)
    return FilmMapped(
        job=found.ref,
        panel=panel,
        film=film,
        size=size,
        across=request.across,
        down=request.down,
        cells=cells[: len(places)],
        here=None if request.at is None else cells[-1],
        placed=any(layer.places_mm for layer in film.topcoat),
        cut_um=mapped.cut_um,
        keep_um=mapped.keep_um,
        max_risk=mapped.max_risk,
        depth_um=request.depth_um,
        readings=readings,
        defects=defects,
        warnings=(*_warnings(film, size, readings), *read_before_rework(views, panel)),
    )


def panels_read(views: Sequence[EntryView]) -> list[str]:
    """Return the panels of a job whose film was read, each once."""
    return list(dict.fromkeys(v.entry.panel for v in views if isinstance(v.entry, FilmLayerEntry)))


def _check(request: MapRequest) -> None:
    if request.size is not None and not all(LEAST_MM <= side <= MOST_MM for side in request.size):
        what = f"{request.size[0]:g}/{request.size[1]:g} mm is no panel"
        raise InputError("`size`", what, f"give width and height, {LEAST_MM:g} to {MOST_MM:g} mm")
    if not (request.across >= 1 and request.down >= 1 and request.across * request.down <= MOST_CELLS):
        raise InputError("`across`", f"{request.across} by {request.down} cells can't be drawn", "take fewer")
    if request.at is not None and not all(math.isfinite(part) and abs(part) <= MOST_MM for part in request.at):
        raise InputError("`at`", "is not a place on a panel", "write it in mm, as 120/340")
    for name in ("depth_um", "keep_um"):
        value = getattr(request, name)
        if value is not None and not 0 <= value <= DEEPEST_UM:
            raise InputError(f"`{name}`", f"{value:g} µm is not possible", "it is a number of µm, at least 0")
    if request.max_risk is not None and not 0 <= request.max_risk <= 1:
        raise InputError("`max_risk`", f"{request.max_risk:g} is not a chance", "it is between 0 and 1; 5 % is 0.05")


def _panel(job: str, views: Sequence[EntryView], wanted: str | None) -> str:
    read = panels_read(views)
    if wanted is not None and wanted.strip():
        named = " ".join(wanted.split())
        return next((panel for panel in read if panel.casefold() == named.casefold()), named)
    one = list({panel.casefold(): panel for panel in read}.values())
    if len(one) == 1:
        return one[0]
    if not one:
        raise InputError(f"job {job}", "no film has been read in it", "read a panel's film, layer by layer")
    raise InputError("`panel`", f"several panels were read in {job}", "say which: " + ", ".join(one))


def _readings(views: Sequence[EntryView], panel: str) -> tuple[Mark, ...]:
    found = []
    for view in views:
        entry = view.entry
        if not isinstance(entry, FilmLayerEntry) or entry.panel.casefold() != panel.casefold():
            continue
        (layer,) = layers_of_panel([view], panel)
        for build, at in zip(layer.builds_um, layer.places_mm, strict=False):
            found.append(Mark(view.number, f"{layer.name} {build:g} µm", at))
    return tuple(found)


def _defects(views: Sequence[EntryView], panel: str) -> tuple[Mark, ...]:
    found = []
    for view in views:
        entry = view.entry
        if isinstance(entry, DefectEntry) and entry.panel.casefold() == panel.casefold() and entry.at_mm:
            at, over = pair_of(entry.at_mm), pair_of(entry.over_mm)
            assert at is not None
            deep = f", {entry.depth_um:g} µm deep" if entry.depth_um is not None else ""
            found.append(Mark(view.number, f"{entry.kind}{deep}", at, over))
    return tuple(found)


def _reach(marks: Sequence[Mark]) -> Place:
    """Return a size that holds all that has a place, with as much beside it as lies before the first."""
    if not marks:
        raise InputError("`size`", "is needed: nothing was read at a place", "give the panel's width and height in mm")
    sides = []
    for i in (0, 1):
        values = [mark.at[i] for mark in marks]
        sides.append(max(LEAST_MM, max(values) + max(0.0, min(values))))
    return sides[0], sides[1]


def _grid(size: Place, across: int, down: int) -> Any:
    x = (np.arange(across) + 0.5) / across * size[0]
    y = (np.arange(down) + 0.5) / down * size[1]
    return np.stack([np.tile(x, down), np.repeat(y, across)], axis=1)


def _cells(places: Any, mapped: FilmMap) -> tuple[MapCell, ...]:
    columns = (mapped.build_um, mapped.low_um, mapped.high_um, mapped.chance, mapped.safe_um)
    return tuple(
        MapCell((float(place[0]), float(place[1])), *(float(column[i]) for column in columns))
        for i, place in enumerate(places)
    )


def _warnings(film: Film, size: Place, readings: Sequence[Mark]) -> tuple[str, ...]:
    found = []
    for layer in film.topcoat:
        if not layer.places_mm:
            found.append(
                f"{layer.name}: not every reading has its place in mm, so this layer is taken to be alike all over"
            )
        elif len(layer.builds_um) < 3:
            found.append(f"{layer.name}: {len(layer.builds_um)} readings say little of how it differs along the panel")
    outside = [mark for mark in readings if not (0 <= mark.at[0] <= size[0] and 0 <= mark.at[1] <= size[1])]
    if outside:
        found.append(f"{len(outside)} of the readings lie outside a panel of {size[0]:g} × {size[1]:g} mm")
    return tuple(found)
