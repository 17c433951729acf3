"""Where the samples of a photograph lie: they are typed, or are the painted pieces beside the chart."""

from __future__ import annotations

import re
from dataclasses import dataclass

import numpy as np

from finishmatch.colour import Floats
from finishmatch.errors import InputError
from finishmatch.photo.find.chart import ChartPose, outline
from finishmatch.photo.find.lattice import even_spots
from finishmatch.photo.open.picture import Picture
from finishmatch.readings.plain_number import plain_number
from finishmatch.signs import check_name

LEAST_SIDE_PX = 4
SEARCH_SIDE_PX = 900
MOST_FOUND = 24
INSET = 0.12  # of a piece that was found: its rim is left out
_TYPED = re.compile(r"\s*(.*?)\s*=\s*([^=]*)", re.DOTALL)


def quad_of(x: float, y: float, w: float, h: float) -> Floats:
    """Return the corners of an upright oblong given by its first pixel and its size, shape (4, 2)."""
    return np.array([[x, y], [x + w - 1, y], [x + w - 1, y + h - 1], [x, y + h - 1]], float)


@dataclass(frozen=True)
class Region:
    """A sample in the picture: its name and its corners, shape (4, 2), pixels, in order around."""

    name: str
    quad: Floats


def typed_region(text: str) -> Region:
    """Return the region meant by "NAME=x,y,w,h", pixels from the top left of the picture as it is seen upright.

    Raises
    ------
    InputError
    """
    where, mend = f"`region` {text[:60]!r}", "write NAME=x,y,w,h in pixels, for example tin=1200,800,300,200"
    match = _TYPED.fullmatch(text)
    if not match or not match[1]:
        raise InputError(where, "names no region", mend)
    check_name(where, match[1])
    parts = match[2].split(",")
    try:
        x, y, w, h = (plain_number(part) for part in parts)
    except ValueError:
        raise InputError(where, "is not four numbers", mend) from None
    if not np.isfinite([x, y, w, h]).all() or max(abs(v) for v in (x, y, w, h)) > 1e6:
        raise InputError(where, "is not four numbers of pixels", mend)
    if w < LEAST_SIDE_PX or h < LEAST_SIDE_PX:
        raise InputError(where, f"is only {w:g} × {h:g} pixels", f"take at least {LEAST_SIDE_PX} × {LEAST_SIDE_PX}")
    return Region(match[1], quad_of(x, y, w, h))


def inside(region: Region, size: tuple[int, int]) -> bool:
    """Whether all of a region lies in a frame of that width and height, pixels."""
    low, high = region.quad.min(axis=0), region.quad.max(axis=0)
    return not ((low < 0).any() or (high > np.array(size) - 1).any())


def check_inside(region: Region, size: tuple[int, int]) -> None:
    """See that a region lies in the frame, or raise `InputError`."""
    if not inside(region, size):
        raise InputError(
            f"`region` {region.name[:40]}",
            f"reaches outside the picture of {size[0]} × {size[1]} pixels",
            "count pixels from the top left of the picture as it is seen upright",
        )


def pieces_beside(picture: Picture, chart: ChartPose) -> list[Region]:
    """Return the even, four-sided pieces beside the chart, row by row, named "sample 1", "sample 2", …"""
    spots = chart.spots
    if spots is None:
        scale = min(1.0, SEARCH_SIDE_PX / max(picture.size))
        spots = even_spots(picture.small(scale)).at_scale(scale)
    size = np.array(picture.size)
    patch = chart.patch_px**2
    rim = 2 + max(picture.size) / 450
    body = outline(0.5)
    kept: list[tuple[Floats, float]] = []
    for quad, area in sorted(zip(spots.corners, spots.areas, strict=True), key=lambda piece: -piece[1]):
        if area < 0.8 * patch or area > 0.12 * size.prod():
            continue
        if (quad <= rim).any() or (quad >= size - 1 - rim).any():
            continue
        middle = quad.mean(axis=0)
        places = chart.to_chart(np.vstack([quad, middle]))
        if _touches(places, body):
            continue
        if any(np.linalg.norm(middle - other.mean(axis=0)) < 0.5 * np.sqrt(max(area, of)) for other, of in kept):
            continue
        kept.append((quad, area))
    kept = kept[:MOST_FOUND]
    if not kept:
        return []
    return [
        Region(f"sample {i}", _drawn_in(kept[j][0]))
        for i, j in enumerate(_in_rows([quad for quad, _ in kept]), start=1)
    ]


def _touches(places: Floats, body: Floats) -> bool:
    low, high = body.min(axis=0), body.max(axis=0)
    return bool(((places > low) & (places < high)).all(axis=1).any())


def whole_piece(quad: Floats) -> Floats:
    """Return the corners of a piece that was found, from those it was drawn in to."""
    middle = quad.mean(axis=0)
    return np.asarray(middle + (quad - middle) / (1 - 2 * INSET))


def _drawn_in(quad: Floats) -> Floats:
    middle = quad.mean(axis=0)
    return np.asarray(middle + (quad - middle) * (1 - 2 * INSET))


def _in_rows(quads: list[Floats]) -> list[int]:
    """Return the order in which one reads them: rows from the top, from the left."""
    middles = np.array([quad.mean(axis=0) for quad in quads])
    heights = np.array([np.ptp(quad[:, 1]) for quad in quads])
    left = list(np.argsort(middles[:, 1]))
    order: list[int] = []
    while left:
        first = left[0]
        row = [i for i in left if abs(middles[i, 1] - middles[first, 1]) < 0.5 * heights[first]]
        order += sorted(row, key=lambda i: middles[i, 0])
        left = [i for i in left if i not in row]
    return [int(i) for i in order]
