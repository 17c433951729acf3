"""What may be a chart's patches in a picture: even, four-sided spots, and those that stand in rows and columns."""

from __future__ import annotations

from collections import deque
from collections.abc import Iterator
from dataclasses import dataclass
from math import hypot
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from finishmatch.colour import Floats

LEVELS = (9, 18, 34)  # steps of 255 between neighbours that still count as even; noise decides which serves
LEAST_AREA_PX = 12
LARGEST_SHARE = 0.3  # of the picture
LEAST_FILL = 0.72  # of the four-sided outline by the spot
LEAST_SIDES = 0.25  # the shorter over the longer
LEAST_SPOTS = 6
PITCH_RANGE = (1.02, 2.1)  # of a spot's own side; small spots are seen smaller than they are
ASIDE = 0.3  # how far off the line a neighbour may lie, of the pitch
ALIKE = 2.2  # areas of neighbours differ by at most this factor
MOST_SPOTS = 1500
MOST_OUTLINES = 4000  # at a level: of more, as of a chequered floor, the largest are looked at


@dataclass(frozen=True)
class Spots:
    """Even spots of a picture.

    Parameters
    ----------
    centres : ndarray, shape (n, 2)
        Pixels.
    corners : ndarray, shape (n, 4, 2)
        Of the four-sided outline.
    areas : ndarray, shape (n,)
        Of the outline, pixels.
    colours : ndarray, shape (n, 3)
        Mean file values.
    """

    centres: Floats
    corners: Floats
    areas: Floats
    colours: Floats

    def at_scale(self, scale: float) -> Spots:
        """Return them in pixels of the picture that was shrunk to this scale to find them."""
        return Spots(
            (self.centres + 0.5) / scale - 0.5, (self.corners + 0.5) / scale - 0.5, self.areas / scale**2, self.colours
        )


def even_spots(image: NDArray[np.uint8], least_area: float = LEAST_AREA_PX) -> Spots:
    """Return the even, four-sided spots of a picture, shape (height, width, 3)."""
    smooth = cv2.blur(image, (3, 3)) if min(image.shape[:2]) > 500 else image
    red, green, blue = cv2.split(cv2.morphologyEx(smooth, cv2.MORPH_GRADIENT, np.ones((3, 3), np.uint8)))
    step = np.asarray(cv2.max(cv2.max(red, green), blue))
    # in dark parts, where the file's values lie close, a smaller step separates two patches
    found: list[tuple[Floats, float]] = []
    for level in LEVELS:
        found += _outlines(step < level, least_area)
    return _spots(image, _each_once(found))


def _outlines(even: NDArray[np.bool_], least_area: float) -> list[tuple[Floats, float]]:
    contours, _ = cv2.findContours(even.astype(np.uint8), cv2.RETR_LIST, cv2.CHAIN_APPROX_SIMPLE)
    largest = LARGEST_SHARE * even.size
    found = []
    sized = [(cv2.contourArea(contour), contour) for contour in contours if len(contour) >= 4]
    sized = [each for each in sized if least_area <= each[0] <= largest]
    if len(sized) > MOST_OUTLINES:
        sized = sorted(sized, key=lambda each: -each[0])[:MOST_OUTLINES]
    for area, contour in sized:
        hull = cv2.convexHull(contour)
        whole = cv2.contourArea(hull)
        if area < 0.8 * whole:
            continue
        corners = _four_corners(hull, whole)
        if corners is not None:
            found.append((corners, area))
    return found


def _four_corners(hull: NDArray[Any], area: float) -> Floats | None:
    """Return the four corners of a hull that is nearly four-sided."""
    around = cv2.arcLength(hull, True)
    for share in (0.04, 0.07, 0.1, 0.14):
        polygon = cv2.approxPolyDP(hull, share * around, True)
        if len(polygon) <= 4:
            break
    # small spots have rounded corners: theirs are those of the smallest oblong around
    four = polygon[:, 0] if len(polygon) == 4 else cv2.boxPoints(cv2.minAreaRect(hull))
    # of four points, quicker one by one than as arrays
    at = four.tolist()
    sides = [hypot(x - at[i - 1][0], y - at[i - 1][1]) for i, (x, y) in enumerate(at)]
    if min(sides) < LEAST_SIDES * max(sides):
        return None
    signed = _signed_area(at)
    if signed == 0 or not LEAST_FILL <= area / abs(signed) <= 1 / LEAST_FILL:
        return None
    corners = np.asarray(four, float)
    return corners if signed > 0 else corners[::-1]


def _signed_area(corners: list[list[float]]) -> float:
    """Return the area of four corners, positive when they go clockwise as seen in a picture."""
    (x0, y0), (x1, y1), (x2, y2), (x3, y3) = corners
    return float(0.5 * ((x2 - x0) * (y3 - y1) - (x3 - x1) * (y2 - y0)))


def _each_once(found: list[tuple[Floats, float]]) -> list[Floats]:
    """Return each spot once where several levels saw it: the largest outline of those that share a middle."""
    kept: list[Floats] = []
    near: dict[tuple[int, int, int], list[tuple[float, float]]] = {}
    for corners, area in sorted(found, key=lambda spot: -spot[1]):
        x, y = corners.mean(axis=0).tolist()
        size = float(np.sqrt(area))
        octave = int(np.floor(np.log2(size)))
        reach = 0.35 * size
        cell = 2.0**octave
        column, row = int(x // cell), int(y // cell)
        # what was kept is at least as large: of this octave, or of the next
        if any(
            abs(x - other_x) < reach and abs(y - other_y) < reach
            for up in (0, 1)
            for i in (-1, 0, 1)
            for j in (-1, 0, 1)
            for other_x, other_y in near.get((octave + up, (column >> up) + i, (row >> up) + j), ())
        ):
            continue
        near.setdefault((octave, column, row), []).append((x, y))
        kept.append(corners)
    return kept


def _spots(image: NDArray[np.uint8], outlines: list[Floats]) -> Spots:
    if not outlines:
        none = np.zeros((0, 2))
        return Spots(none, np.zeros((0, 4, 2)), np.zeros(0), np.zeros((0, 3)))
    corners = np.array(outlines)
    centres = corners.mean(axis=1)
    areas = np.array([abs(_signed_area(c)) for c in corners.tolist()])
    # a small grid within each
    at = np.linspace(-0.5, 0.5, 3)
    inner = centres[:, None] + (corners[:, [0, 1, 2, 3]] - centres[:, None]) * 0.5
    weights = np.array(
        [
            [(0.5 - u) * (0.5 - v), (0.5 + u) * (0.5 - v), (0.5 + u) * (0.5 + v), (0.5 - u) * (0.5 + v)]
            for u in at
            for v in at
        ]
    )
    points = np.einsum("gk,nkd->ngd", weights, inner)
    return Spots(centres, corners, areas, pick(image, points).mean(axis=1))


def pick(image: NDArray[np.uint8] | NDArray[np.uint16], points: Floats) -> Floats:
    """Return file values at points, shape (..., 2), px; the nearest pixel, at the rim where a point lies outside."""
    height, width = image.shape[:2]
    x = np.clip(np.rint(points[..., 0]), 0, width - 1).astype(int)
    y = np.clip(np.rint(points[..., 1]), 0, height - 1).astype(int)
    return np.asarray(image[y, x], float)


@dataclass(frozen=True)
class Lattice:
    """Spots with their places in rows and columns.

    Parameters
    ----------
    members : ndarray of int, shape (n,)
        Which spots.
    places : ndarray of int, shape (n, 2)
        Column and row of each.
    homography : ndarray, shape (3, 3)
        From places to pixels.
    """

    members: np.ndarray
    places: np.ndarray
    homography: Floats


def lattices(spots: Spots) -> Iterator[Lattice]:
    """Yield the lattices among spots, those with the most spots first."""
    if len(spots.areas) < LEAST_SPOTS:
        return
    if len(spots.areas) > MOST_SPOTS:
        keep = np.argsort(-spots.areas)[:MOST_SPOTS]
        spots = Spots(spots.centres[keep], spots.corners[keep], spots.areas[keep], spots.colours[keep])
    else:
        keep = np.arange(len(spots.areas))
    links, steps = _neighbours(spots)
    grown: list[dict[int, tuple[int, int]]] = []
    taken: set[int] = set()
    for seed in sorted(range(len(links)), key=lambda i: -len(links[i])):
        if seed in taken or len(links[seed]) < 2:
            continue
        places = _grow(seed, spots, links, steps)
        if len(places) >= LEAST_SPOTS:
            grown.append(places)
            taken |= set(places)
    for places in sorted(grown, key=len, reverse=True):
        lattice = _fitted(places, spots)
        if lattice is not None:
            yield Lattice(keep[lattice.members], lattice.places, lattice.homography)


def axes(spots: Spots) -> tuple[Floats, Floats]:
    """Return the two middle lines of each spot's outline as vectors, each shape (n, 2)."""
    c = spots.corners
    return (c[:, 1] - c[:, 0] + c[:, 2] - c[:, 3]) / 2, (c[:, 3] - c[:, 0] + c[:, 2] - c[:, 1]) / 2


def _neighbours(spots: Spots) -> tuple[list[list[int]], list[list[tuple[int, float]]]]:
    """Return for each spot its neighbours, and the side they lie on with the pitch in sides: 0 right, 1 down, 2, 3."""
    across, down = axes(spots)
    frames = np.stack([across, down], axis=2)
    apart = spots.centres[None] - spots.centres[:, None]
    near = np.abs(apart).max(axis=2) < PITCH_RANGE[1] * np.sqrt(spots.areas)[:, None] * 2
    ratio = spots.areas[None] / spots.areas[:, None]
    one, other = np.nonzero(near & (ratio < ALIKE) & (ratio > 1 / ALIKE))
    local = np.linalg.solve(frames[one], apart[one, other][..., None])[..., 0]
    links: list[list[int]] = [[] for _ in range(len(spots.areas))]
    steps: list[list[tuple[int, float]]] = [[] for _ in range(len(spots.areas))]
    for axis in (0, 1):
        along, aside = local[:, axis], np.abs(local[:, 1 - axis])
        fits = (np.abs(along) > PITCH_RANGE[0]) & (np.abs(along) < PITCH_RANGE[1]) & (aside < ASIDE * np.abs(along))
        for k in np.nonzero(fits)[0]:
            links[one[k]].append(int(other[k]))
            steps[one[k]].append((axis + (0 if along[k] > 0 else 2), float(abs(along[k]))))
    return links, steps


def _grow(
    seed: int, spots: Spots, links: list[list[int]], steps: list[list[tuple[int, float]]]
) -> dict[int, tuple[int, int]]:
    """Return places of the spots reached from a seed, step by step from neighbour to neighbour."""
    across, down = axes(spots)
    pitch = min(length for _, length in steps[seed])
    places = {seed: (0, 0)}
    used = {(0, 0)}
    vectors = {seed: (across[seed] * pitch, down[seed] * pitch)}
    queue = deque([seed])
    moves = ((1, 0), (0, 1), (-1, 0), (0, -1))
    while queue:
        at = queue.popleft()
        if not links[at]:
            continue
        candidates = np.array(links[at])
        for move in moves:
            place = (places[at][0] + move[0], places[at][1] + move[1])
            if place in used:
                continue
            right, below = vectors[at]
            step = move[0] * right + move[1] * below
            off = np.linalg.norm(spots.centres[candidates] - spots.centres[at] - step, axis=1)
            best = int(candidates[int(off.argmin())])
            if off.min() > ASIDE * np.linalg.norm(step) or best in places:
                continue
            places[best] = place
            used.add(place)
            real = spots.centres[best] - spots.centres[at]
            if move[0]:
                vectors[best] = ((move[0] * real + right) / 2, below)
            else:
                vectors[best] = (right, (move[1] * real + below) / 2)
            queue.append(best)
    return places


def _fitted(places: dict[int, tuple[int, int]], spots: Spots) -> Lattice | None:
    """Return the lattice with its homography, without the spots that don't fit it."""
    members = np.array(list(places))
    at = np.array([places[m] for m in members], dtype=float)
    if np.unique(at[:, 0]).size < 2 or np.unique(at[:, 1]).size < 2:
        return None
    pixels = spots.centres[members]
    side = np.median(np.sqrt(spots.areas[members]))
    homography, good = cv2.findHomography(at, pixels, cv2.RANSAC, 0.2 * side, maxIters=300, confidence=0.99)
    if homography is None or good.sum() < LEAST_SPOTS:
        return None
    keep = good[:, 0].astype(bool)
    if np.unique(at[keep, 0]).size < 2 or np.unique(at[keep, 1]).size < 2:
        return None
    return Lattice(members[keep], at[keep].astype(int), np.asarray(homography, float))
