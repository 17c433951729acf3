"""Spots of a picture that stand in rows and columns, as the patches of a chart do."""

from __future__ import annotations

from collections import deque
from collections.abc import Iterator
from dataclasses import dataclass

import cv2
import numpy as np

from finishmatch.colour import Floats
from finishmatch.photo.find.patches import Spots

LEAST_SPOTS = 6
PITCH_RANGE = (1.02, 2.1)  # of a spot's own side; small spots are seen smaller than they are
ASIDE = 0.3  # how far off the line a neighbour may lie, of the pitch
ALIKE = 2.2  # areas of neighbours differ by at most this factor
MOST_SPOTS = 1500


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
