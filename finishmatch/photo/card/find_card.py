"""The shop's card, or its sheet of numbered windows, in a photograph: found by its fiducial marks.

``locate_card(image)`` takes a picture of 8 bits, grey or RGB, and returns a `CardPose`, or None when there is no card.
Pictures turned, upside down or in perspective serve; three of the six marks suffice. The marks of the card and of the
sheet have other numbers, so neither is taken for the other.
"""

from __future__ import annotations

from dataclasses import replace
from itertools import combinations

import cv2
import numpy as np
from numpy.typing import NDArray

from finishmatch.colour import Floats
from finishmatch.errors import InputError
from finishmatch.photo.card.card_pose import CardPose
from finishmatch.photo.card.layout import MOST_WINDOWS, Box, CardLayout, card_layout, count_mark, sheet_layout

Picture = NDArray[np.uint8]

LEAST_MARKS = 3
MARK_CELLS = 6  # four by four, and a black rim of one
LEAST_MARK_SHARE = 0.01  # the way around a mark, of the picture's longer side
MOST_SQUARES = 1500  # the detector compares each with each: in a picture of more no card is looked for
# the search is done on a picture of this longer side first, then, if too few marks are seen, on the whole
SEARCH_SIDE_PX = 1600
# a mark belongs to the card when its corners lie within this of where the others put them
FIT_MM = 1.2
STRAY_MM = 8.0
# a pose is taken at once when the card's corners are known within the first, and never beyond the second
SURE_MM, DOUBT_MM = 0.3, 0.9
# corners of marks are found no better than this («common practice» for a soft photograph)
CORNER_PX = 0.15


def locate_card(image: Picture, finer: bool = True) -> CardPose | None:
    """Find the shop's card, or its sheet of numbered windows, in a picture.

    Parameters
    ----------
    image : ndarray of uint8, shape (height, width) or (height, width, 3)
        Grey, or RGB.
    finer : bool
        Whether to look at a finer copy too when the coarse one shows no mark at all.

    Returns
    -------
    CardPose or None
        None when fewer than three marks of a card are seen, or too few to show where the rest of it lies.

    Raises
    ------
    InputError
        When two cards are in the picture.

    References
    ----------
    Garrido-Jurado et al., Pattern Recognition 47 (2014) 2280 (the marks); Hartley and Zisserman, Multiple View
    Geometry (the homography).
    """
    grey: Picture = image if image.ndim == 2 else np.asarray(cv2.cvtColor(image, cv2.COLOR_RGB2GRAY), np.uint8)
    scale = SEARCH_SIDE_PX / max(grey.shape)
    # a coarse picture is enough for most cards; in a small one the smallest marks are found when it is enlarged
    tries = (scale, 1.0) if scale < 1 else (1.0, 2.0, 3.0)
    seen: list[tuple[int, Floats]] = []
    for factor in tries:
        marks = _marks_at(grey, factor)
        seen = marks + [mark for mark in seen if not any(_same(mark, other) for other in marks)]
        poses = [pose for layout in (card_layout(), sheet_layout()) for pose in _poses(seen, layout)]
        if len(poses) > 1:
            raise InputError("", "two cards are in the picture", "photograph one card at a time")
        poses = [_counted(pose, seen) for pose in poses]
        if poses and poses[0].doubt_mm < SURE_MM and poses[0].layout.numbered != 0:
            return poses[0]
        if not seen and not finer:
            return None
    return poses[0] if poses and poses[0].doubt_mm < DOUBT_MM else None


def _counted(pose: CardPose, seen: list[tuple[int, Floats]]) -> CardPose:
    """Return the pose of a sheet with as many windows as the marks for that say, when one of them is seen."""
    layout = pose.layout
    if layout.numbered is None:
        return pose
    by_mark = {count_mark(number): number for number in range(1, MOST_WINDOWS + 1)}
    off = [
        (_misfit(pose, mark, place), by_mark[mark[0]]) for mark in seen if mark[0] in by_mark for place in layout.counts
    ]
    if not off or min(off)[0] > max(FIT_MM, 3 * pose.doubt_mm):
        return pose
    return replace(pose, layout=sheet_layout(min(off)[1]))


def _marks_at(grey: Picture, scale: float) -> list[tuple[int, Floats]]:
    """Return the marks seen in a picture that is searched at another scale, with corners in its own pixels."""
    if scale == 1:
        return _marks(grey)
    by = cv2.INTER_AREA if scale < 1 else cv2.INTER_CUBIC
    other = np.asarray(cv2.resize(grey, None, fx=scale, fy=scale, interpolation=by), np.uint8)
    factor = np.array(grey.shape[::-1]) / other.shape[::-1]
    marks = [(number, (quad + 0.5) * factor - 0.5) for number, quad in _marks(other)]
    return [(number, _sharpen(grey, quad)) for number, quad in marks] if scale < 1 else marks


def _marks(grey: Picture) -> list[tuple[int, Floats]]:
    """Return (number, corners) of every mark of the card's dictionary that the card has."""
    parameters = cv2.aruco.DetectorParameters()
    parameters.cornerRefinementMethod = cv2.aruco.CORNER_REFINE_SUBPIX
    parameters.minMarkerPerimeterRate = LEAST_MARK_SHARE
    # windows of the adaptive threshold, px: a small mark wants a small one, a large mark in soft light a large one
    parameters.adaptiveThreshWinSizeMin, parameters.adaptiveThreshWinSizeStep = 5, 18
    parameters.adaptiveThreshWinSizeMax = 41
    if _squares(grey) > MOST_SQUARES:
        return []
    quads, numbers, _ = cv2.aruco.ArucoDetector(_dictionary(), parameters).detectMarkers(grey)
    known = _known_marks()
    found = [] if numbers is None else zip(np.ravel(numbers), quads, strict=True)
    return [(int(number), quad.reshape(4, 2).astype(float)) for number, quad in found if int(number) in known]


def _known_marks() -> set[int]:
    counts = {count_mark(number) for number in range(1, MOST_WINDOWS + 1)}
    return {*card_layout().marks, *sheet_layout().marks, *counts}


def _squares(grey: Picture) -> int:
    """Return how many four-sided outlines are in a picture, as the detector of marks sees them."""
    dark = cv2.adaptiveThreshold(grey, 255, cv2.ADAPTIVE_THRESH_MEAN_C, cv2.THRESH_BINARY_INV, 23, 7)
    outlines, _ = cv2.findContours(dark, cv2.RETR_LIST, cv2.CHAIN_APPROX_NONE)
    least = LEAST_MARK_SHARE * max(grey.shape)
    large = [outline for outline in outlines if len(outline) >= least]
    if len(large) <= MOST_SQUARES:
        return len(large)
    return sum(len(cv2.approxPolyDP(outline, 0.03 * len(outline), True)) == 4 for outline in large)


def _same(one: tuple[int, Floats], other: tuple[int, Floats]) -> bool:
    """Whether two sightings are of one mark."""
    apart = np.linalg.norm(one[1].mean(axis=0) - other[1].mean(axis=0))
    return one[0] == other[0] and bool(apart < np.linalg.norm(one[1][0] - one[1][2]) / 2)


def _sharpen(grey: Picture, quad: Floats) -> Floats:
    """Return the corners of a mark found in the small picture, brought to the large one."""
    side = float(np.linalg.norm(quad - np.roll(quad, 1, axis=0), axis=1).min())
    reach = int(np.clip(side / 14, 2, 12))  # a little less than half a cell: no other corner is nearer
    corners = quad.astype(np.float32).reshape(-1, 1, 2)
    stop = (cv2.TERM_CRITERIA_EPS | cv2.TERM_CRITERIA_MAX_ITER, 30, 0.01)
    better = cv2.cornerSubPix(grey, corners, (reach, reach), (-1, -1), stop).reshape(4, 2).astype(float)
    moved = np.linalg.norm(better - quad, axis=1).max()
    return better if moved < reach + 1 else quad


def _poses(marks: list[tuple[int, Floats]], layout: CardLayout) -> list[CardPose]:
    """Return a pose for every set of marks that lie as on one card of a layout, the best supported first."""
    poses = []
    seen = [mark for mark in marks if mark[0] in layout.marks]
    seen = sorted(seen, key=lambda mark: -abs(cv2.contourArea(mark[1].astype(np.float32))))[:24]
    while len(seen) >= LEAST_MARKS:
        best: tuple[int, ...] = ()
        for pair in combinations(range(len(seen)), 2):
            if seen[pair[0]][0] == seen[pair[1]][0]:
                continue
            agreeing = _agreeing(seen, pair, layout)
            if len(agreeing) > len(best):
                best = agreeing
                if len(best) == len(layout.marks):
                    break
        if len(best) < LEAST_MARKS:
            break
        poses.append(_fit([seen[i] for i in best], layout))
        seen = [mark for i, mark in enumerate(seen) if i not in best]
    return poses


def _agreeing(seen: list[tuple[int, Floats]], start: tuple[int, ...], layout: CardLayout) -> tuple[int, ...]:
    """Return the marks that lie where a growing set puts them: the nearest first."""
    chosen = list(start)
    while True:
        numbers = {seen[i][0] for i in chosen}
        pose = _fit([seen[i] for i in chosen], layout)
        if pose.residual_mm > FIT_MM or np.linalg.det(pose.homography) <= 0:
            return ()
        others = [i for i, (number, _) in enumerate(seen) if number not in numbers]
        further = [(_misfit(pose, seen[i], layout.marks[seen[i][0]]), i) for i in others]
        # few marks predict roughly: what they predict may be further off, as far as they leave it open
        allowed = max(FIT_MM, min(3 * pose.doubt_mm, STRAY_MM))
        if not further or min(further)[0] > allowed:
            return tuple(chosen)
        chosen.append(min(further)[1])


def _fit(marks: list[tuple[int, Floats]], layout: CardLayout) -> CardPose:
    places = np.vstack([layout.marks[number].corners_mm() for number, _ in marks])
    pixels = np.vstack([quad for _, quad in marks])
    found, _ = cv2.findHomography(places, pixels, 0)
    if found is None or abs(np.linalg.det(found)) < 1e-12:
        return CardPose(np.eye(3), (), np.inf, np.inf, layout)
    numbers = tuple(sorted(number for number, _ in marks))
    pose = CardPose(np.asarray(found, dtype=float), numbers, 0.0, 0.0, layout)
    off = float(np.sqrt(np.mean([_misfit(pose, mark, layout.marks[mark[0]]) ** 2 for mark in marks])))
    return replace(pose, residual_mm=off, doubt_mm=_doubt_mm(pose, places, pixels))


def _doubt_mm(pose: CardPose, places: Floats, pixels: Floats) -> float:
    """Return the standard deviation of the card's least sure corner, mm, by the errors of the marks' corners."""
    freedom = max(places.size - 8, 1)
    corner_px = max(CORNER_PX, float(np.sqrt(((pose.to_px(places) - pixels) ** 2).sum() / freedom)))
    known = _slopes(pose, places)
    # scaled, since the perspective terms are of another size than the rest
    size = np.linalg.norm(known, axis=0)
    spread = np.linalg.pinv((known / size).T @ (known / size))
    whole = Box(0, 0, pose.layout.width_mm, pose.layout.height_mm).corners_mm()
    slopes = _slopes(pose, whole) / size
    off_px = corner_px * np.sqrt(np.einsum("ij,jk,ik->i", slopes, spread, slopes).reshape(4, 2).sum(axis=1))
    # what a pixel is in mm there, in the direction in which it is most
    px_per_mm = np.linalg.norm(np.stack([pose.to_px(whole + step) - pose.to_px(whole) for step in np.eye(2)]), axis=2)
    return float((off_px / px_per_mm.min(axis=0)).max())


def _slopes(pose: CardPose, places: Floats) -> Floats:
    """Return how pixels move with the first eight terms of the homography, shape (2n, 8)."""
    ahead = np.column_stack([places, np.ones(len(places))])
    depth = (ahead @ pose.homography.T)[:, 2:]
    x, y = np.hsplit(pose.to_px(places), 2)
    none = np.zeros_like(ahead)
    across = np.hstack([ahead, none, -x * places]) / depth
    down = np.hstack([none, ahead, -y * places]) / depth
    return np.stack([across, down], axis=1).reshape(-1, 8)


def _misfit(pose: CardPose, mark: tuple[int, Floats], place: Box) -> float:
    """Return how far the corners of a mark lie from where a pose puts its place, root mean square, mm on the card."""
    with np.errstate(all="ignore"):
        off = pose.to_mm(mark[1]) - place.corners_mm()
        return float(np.nan_to_num(np.sqrt((off**2).sum(axis=1).mean()), nan=np.inf))


def mark_cells(number: int) -> tuple[tuple[bool, ...], ...]:
    """Return the cells of a mark of OpenCV's dictionary DICT_4X4_50, row by row, the black rim too; True is white."""
    drawn = cv2.aruco.generateImageMarker(_dictionary(), number, MARK_CELLS)
    return tuple(tuple(bool(value) for value in row > 127) for row in drawn)


def _dictionary() -> cv2.aruco.Dictionary:
    return cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_4X4_50)
