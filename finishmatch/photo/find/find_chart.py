"""The chart is found in a photograph: spots in a lattice whose colours are the chart's, at any size and turn.

Nothing is taken for a chart unless its 24 colours agree with the chart's after an affine map of colours, so that tiles,
keyboards and windows are passed by.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from functools import cache

import cv2
import numpy as np
from numpy.lib.stride_tricks import sliding_window_view
from numpy.typing import NDArray

from finishmatch.colour import Floats
from finishmatch.errors import InputError
from finishmatch.photo.find.chart import COLUMNS, PATCHES, ROWS, ChartPose, chart_lightness_lab, outline, through
from finishmatch.photo.find.lattice import Lattice, Spots, even_spots, lattices, pick
from finishmatch.photo.open.picture import Picture

# the longer side of the copy that is searched, px: a coarse one shows a large chart, a fine one a small chart
SIDES_PX = (900, 1900, 3800)
LARGEST_ENLARGEMENT = 3.0
# Lab units: how far the colours may lie from the chart's after the affine map. Right charts come to 2 to 7, to 12 in
# the pale files of a camera without its colour matrix; of 4,000 tilings of 24 random colours none came below 22.
AGREE = 14.0
AGREE_CUT = 8.0  # of a chart that is partly outside the frame, with fewer patches to judge by
LEAST_SEEN = 12
LEAST_SPOT_SHARE = 0.5  # of a lattice's spots that lie on the chart
DETECTOR_SIDE_PX = 1500
REFINE_BELOW_PX, REFINE_TO_PX, MOST_REFINED_PX = 24.0, 36.0, 1200


@dataclass(frozen=True)
class _Fit:
    homography: Floats
    agreement: float
    seen: int
    mirrored: bool
    inside: bool


def find_chart(picture: Picture) -> ChartPose | None:
    """Find the chart in a photograph.

    Returns
    -------
    ChartPose or None

    Raises
    ------
    InputError
        When there are two, or the only one is cut by the edge of the frame.

    References
    ----------
    Hartley and Zisserman, Multiple View Geometry, chapter 4 (the homography, RANSAC).
    """
    cut: _Fit | None = None
    for scale in _scales(picture.size):
        image = picture.small(scale)
        whole: list[_Fit] = []
        spots = even_spots(image)
        for fit in _charts(image, spots):
            if not fit.inside:
                cut = cut or fit
            elif not any(_overlap(fit, other) for other in whole):
                whole.append(fit)
        if len(whole) > 1:
            raise InputError(str(picture.source), "two charts are in the picture", "photograph one chart at a time")
        if whole:
            return _refined(picture, _scaled(whole[0], scale, spots))
        if cut is not None:
            break
    if cut is None:
        found = _by_detector(picture)
        if found is not None:
            return found
    if cut is not None:
        raise InputError(
            str(picture.source),
            f"the chart is cut by the edge of the frame: {cut.seen} of its 24 patches are seen",
            "step back until all of it is in the picture",
        )
    return None


def _scales(size: tuple[int, int]) -> Iterator[float]:
    side, before = max(size), 0.0
    for wanted in SIDES_PX:
        scale = min(wanted / side, LARGEST_ENLARGEMENT)
        if scale <= 1.3:
            scale = 1 / max(1, round(1 / scale))
        if scale > 1.25 * before:
            yield scale
            before = scale


def _scaled(fit: _Fit, scale: float, spots: Spots | None = None) -> ChartPose:
    # pixel (0, 0) is the middle of the first: half a pixel moves with the scale
    back = np.array([[1 / scale, 0, 0.5 / scale - 0.5], [0, 1 / scale, 0.5 / scale - 0.5], [0, 0, 1]])
    if spots is not None:
        spots = spots.at_scale(scale)
    return ChartPose(np.asarray(back @ fit.homography), fit.agreement, fit.mirrored, spots)


def _refined(picture: Picture, found: ChartPose) -> ChartPose:
    """Return a small chart placed anew in an enlarged piece of the picture."""
    if found.patch_px > REFINE_BELOW_PX:
        return found
    corners = found.to_px(outline(0.8))
    low = np.maximum(np.floor(corners.min(axis=0)).astype(int), 0)
    high = np.minimum(np.ceil(corners.max(axis=0)).astype(int) + 1, np.array(picture.size))
    piece = replace(picture, values=picture.values[low[1] : high[1], low[0] : high[0]])
    scale = min(REFINE_TO_PX / found.patch_px, MOST_REFINED_PX / max(piece.size))
    if scale <= 1.2:
        return found
    image = piece.small(scale)
    back = np.array([[1.0, 0, low[0]], [0, 1, low[1]], [0, 0, 1]])
    for fit in _charts(image, even_spots(image)):
        if fit.inside and fit.agreement < found.agreement + 1:
            homography = back @ _scaled(fit, scale).homography
            return replace(found, homography=np.asarray(homography), agreement=fit.agreement)
    return found


def _overlap(one: _Fit, other: _Fit) -> bool:
    middle = np.array([[(COLUMNS - 1) / 2, (ROWS - 1) / 2]])
    apart = np.linalg.norm(through(one.homography, middle) - through(other.homography, middle))
    corners = through(one.homography, outline())
    return bool(apart < 0.5 * np.linalg.norm(corners[0] - corners[2]))


def _charts(image: NDArray[np.uint8], spots: Spots) -> Iterator[_Fit]:
    """Yield the charts of a picture, whole or cut."""
    for lattice in lattices(spots):
        fit = _as_chart(image, spots, lattice)
        if fit is not None:
            yield fit


def _as_chart(image: NDArray[np.uint8], spots: Spots, lattice: Lattice) -> _Fit | None:
    """Return a lattice as a chart, when its colours are a chart's somewhere in it."""
    low, high = lattice.places.min(axis=0), lattice.places.max(axis=0)
    if (high - low).max() > 40:
        return None
    best: _Fit | None = None
    reach = COLUMNS - 1
    columns = np.arange(low[0] - reach, high[0] + reach + 1)
    rows = np.arange(low[1] - reach, high[1] + reach + 1)
    colours, seen = _cells(image, lattice.homography, columns, rows)
    held = np.zeros((len(rows), len(columns)), bool)
    held[lattice.places[:, 1] - rows[0], lattice.places[:, 0] - columns[0]] = True
    wanted = max(LEAST_SPOT_SHARE * len(lattice.members), 5)
    for turned, shape in ((False, (ROWS, COLUMNS)), (True, (COLUMNS, ROWS))):
        mine, frame = (sliding_window_view(cells, shape).sum(axis=(2, 3)) for cells in (held, seen))
        many = (mine >= wanted) & (frame >= LEAST_SEEN)
        blocks = sliding_window_view(colours, shape, axis=(0, 1))
        corner = np.array([columns[0], rows[0]])
        whole = np.argwhere(many & (frame == PATCHES))
        if len(whole):
            best = _best_turn(np.moveaxis(blocks[*whole.T], 1, -1), None, turned, best, whole[:, ::-1] + corner)
        for top, left in np.argwhere(many & (frame < PATCHES)) if best is None or not best.inside else ():
            some = seen[top : top + shape[0], left : left + shape[1]]
            cut = np.moveaxis(blocks[top, left], 0, -1)[None]
            best = _best_turn(cut, some, turned, best, np.array([[left, top]]) + corner)
    if best is None:
        return None
    homography = np.asarray(lattice.homography @ best.homography)
    return _sharpened(
        _Fit(homography, best.agreement, best.seen, _is_mirrored(homography), best.inside), spots, lattice
    )


def _is_mirrored(homography: Floats) -> bool:
    return bool(np.linalg.det(homography) < 0)


def _cells(
    image: NDArray[np.uint8], homography: Floats, columns: np.ndarray, rows: np.ndarray
) -> tuple[Floats, NDArray[np.bool_]]:
    """Return the mean file values of the cells of a lattice, shape (rows, columns, 3), and which lie in the frame."""
    at = np.linspace(-0.25, 0.25, 5)
    grid = np.stack(np.meshgrid(at, at), axis=-1).reshape(-1, 2)
    places = np.stack(np.meshgrid(columns, rows), axis=-1).astype(float)
    with np.errstate(all="ignore"):
        points = through(homography, places[..., None, :] + grid)
        rim = through(homography, places[..., None, :] + 1.7 * grid)
    height, width = image.shape[:2]
    good = np.isfinite(rim).all(axis=(-1, -2))
    rim = np.nan_to_num(rim, nan=-1e9, posinf=1e9, neginf=-1e9)
    good &= ((rim >= -0.5) & (rim <= np.array([width, height]) - 0.5)).all(axis=(-1, -2))
    # beyond the vanishing line everything is mirrored
    ahead = places @ homography[2, :2] + homography[2, 2]
    good &= ahead * np.median(ahead) > 0
    return pick(image, np.nan_to_num(points, nan=0, posinf=0, neginf=0)).mean(axis=2), good


@cache
def _turns(turned: bool) -> tuple[tuple[np.ndarray, Floats], ...]:
    """Return for each way a chart may lie in a block: the patch of every cell, and the map from chart to block."""
    ways = []
    number = np.arange(PATCHES).reshape(ROWS, COLUMNS)
    for mirrored in (False, True):
        for quarter in (1, 3) if turned else (0, 2):
            grid = np.rot90(number[:, ::-1] if mirrored else number, quarter)
            places = np.zeros((PATCHES, 2))
            for row in range(grid.shape[0]):
                for column in range(grid.shape[1]):
                    places[grid[row, column]] = column, row
            origin, right, down = places[0], places[1] - places[0], places[COLUMNS] - places[0]
            to_block = np.array([[right[0], down[0], origin[0]], [right[1], down[1], origin[1]], [0, 0, 1]])
            ways.append((grid, to_block))
    return tuple(ways)


def _best_turn(
    blocks: Floats, seen: NDArray[np.bool_] | None, turned: bool, best: _Fit | None, corners: NDArray[np.int64]
) -> _Fit | None:
    """Return the chart that one of some blocks is, shape (b, rows, columns, 3), where it is a better one than `best`.

    `seen` is which of their cells lie in the frame, None for all; `corners`, shape (b, 2), are their first places.
    """
    inside = seen is None
    if seen is None:
        seen = np.ones(blocks.shape[1:3], bool)
    turns = _turns(turned)
    offs = _disagreement(blocks[:, seen], chart_lightness_lab()[np.stack([grid[seen] for grid, _ in turns])])
    block, turn = divmod(int(offs.argmin()), len(turns))
    off = float(offs[block, turn])
    if off < (AGREE if inside else AGREE_CUT) and (best is None or (inside, -off) > (best.inside, -best.agreement)):
        shift = np.array([[1, 0, corners[block, 0]], [0, 1, corners[block, 1]], [0, 0, 1.0]])
        return _Fit(shift @ turns[turn][1], off, int(seen.sum()), False, inside)
    return best


def _disagreement(colours: Floats, labs: Floats) -> Floats:
    """Return how far file values lie from CIELAB colours after the best affine map of colours, Lab units, shape (b, m).

    The root mean square, set right for the parameters fitted. Infinite when the map turns light into dark, which no
    camera does, or when there is nothing to judge by.

    Parameters
    ----------
    colours : ndarray, shape (b, n, 3)
        File values, 0 to 255.
    labs : ndarray, shape (m, n, 3)
        The patches' colours, in m orders.
    """
    best = np.full((len(colours), len(labs)), np.inf)
    if colours.shape[1] < 4:
        return best
    # file values are near to L* as they are, or, where they are amounts of light, by their root
    for values in (colours / 255, np.sqrt(colours / 255)):
        design = np.concatenate([np.ones((*values.shape[:2], 1)), values], axis=2)
        basis, size, turn = np.linalg.svd(design, full_matrices=False)
        told = (np.ptp(values[..., 1], axis=1) >= 0.1) & (size[:, -1] > 1e-6 * size[:, 0])
        basis, size, turn = basis[told], size[told], turn[told]
        along = basis.swapaxes(1, 2)[:, None] @ labs
        found = (turn.swapaxes(1, 2) / size[:, None])[:, None] @ along
        left = ((labs - basis[:, None] @ along) ** 2).sum(axis=(2, 3))
        # hues that swap places are no camera's doing either
        like_a_camera = (
            (found[..., 1:, 0].sum(axis=2) > 0)
            & (found[..., 1, 1] > found[..., 2, 1])
            & (found[..., 3, 2] < (found[..., 1, 2] + found[..., 2, 2]) / 2)
        )
        off = np.sqrt(left / (3 * max(values.shape[1] - 4, 1)))
        best[told] = np.minimum(best[told], np.where(like_a_camera, off, np.inf))
    return best


def _sharpened(fit: _Fit, spots: Spots, lattice: Lattice) -> _Fit:
    """Return a chart with its homography fitted anew to the spots that are its patches."""
    back = np.linalg.inv(fit.homography)
    places = through(np.asarray(back, float), spots.centres)
    cells = np.rint(places)
    mine = (
        (np.abs(places - cells).max(axis=1) < 0.2)
        & (cells >= 0).all(axis=1)
        & (cells[:, 0] < COLUMNS)
        & (cells[:, 1] < ROWS)
    )
    sides = np.sqrt(spots.areas)
    typical = np.median(sides[lattice.members])
    mine &= (sides > 0.6 * typical) & (sides < 1.6 * typical)
    if mine.sum() < 8:
        return fit
    found, _ = cv2.findHomography(cells[mine], spots.centres[mine], cv2.RANSAC, 0.12 * typical)
    if found is None:
        return fit
    return _Fit(np.asarray(found, float), fit.agreement, fit.seen, _is_mirrored(found), fit.inside)


def _by_detector(picture: Picture) -> ChartPose | None:
    """Return what OpenCV's own detector finds and the colours confirm."""
    scale = min(DETECTOR_SIDE_PX / max(picture.size), LARGEST_ENLARGEMENT)
    image = picture.small(scale)
    detector = cv2.mcc.CCheckerDetector.create()
    detector.setUseDnnModel(False)
    try:
        if not detector.process(np.ascontiguousarray(image[..., ::-1]), 1):
            return None
    except cv2.error:  # it fails on pictures in which it finds no contours at all
        return None
    for checker in detector.getListColorChecker():
        box = np.asarray(checker.getBox(), float)
        homography = np.asarray(cv2.getPerspectiveTransform(outline(0.0).astype(np.float32), box.astype(np.float32)))
        columns, rows = np.arange(COLUMNS), np.arange(ROWS)
        colours, seen = _cells(image, np.asarray(homography, float), columns, rows)
        if seen.all():
            fit = _best_turn(colours[None], None, False, None, np.zeros((1, 2), np.int64))
            if fit is not None:
                return _scaled(_Fit(homography @ fit.homography, fit.agreement, PATCHES, False, True), scale)
    return None
