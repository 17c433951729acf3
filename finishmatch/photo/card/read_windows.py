"""The numbered windows of the sheet in a photograph: which hold a panel, and what is wrong in the others, by number."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from finishmatch.colour import Floats
from finishmatch.photo.card.card_pose import WINDOW_INSET_MM, CardPose
from finishmatch.photo.card.layout import Box, window_number
from finishmatch.photo.card.read_card import SHOWS_THROUGH, border_spots, paper_plane, shows_through
from finishmatch.photo.find.lattice import pick
from finishmatch.photo.find.regions import Region, inside
from finishmatch.photo.find.spot import sample
from finishmatch.photo.open.picture import Picture

ROWS, OF_STRIPE = 8, 2  # tiles: down a window, and across each of its four stripes
POINTS = 5  # a side, that a tile is read at
BARE_WITHIN = 0.12  # of paper or printed black beside it, relative; print and light vary less («common practice»)
BARE_BLACK = 1.6  # the printed black reads at most so many times what the border's cells of it do
OFF = 0.12  # of the panel's own colour, relative, beyond which a tile is something else
OFF_LEAST = 0.01  # of full scale, and at least that
ALIKE_STEPS = 0.3  # the smallest step from stripe to stripe by the largest, where it is the stripes that show
# of a shadow's step: from tile to tile, and from channel to channel; with a larger one it is a glare, burnt out
ONE_LEVEL, ALIKE_IN, MOST_STEP = 0.08, 0.3, 0.65
_INSIDE = (np.argwhere(np.ones((POINTS, POINTS)))[:, ::-1] + 1) / (POINTS + 1)  # in shares of a tile, row by row
EMPTY, TOO_LITTLE, TOLD = 0.9, 0.4, 0.06  # shares of a window: bare, not read for it, and worth a word


@dataclass(frozen=True)
class _Window:
    """A window in tiles: what they read, what the paper would read there, and which lie over a black stripe."""

    values: Floats  # (rows, columns, 3), linear
    paper: Floats
    black: NDArray[np.bool_]  # (columns,)


def window_regions(picture: Picture, pose: CardPose) -> tuple[list[Region], list[str]]:
    """Return the numbered windows of a sheet that hold a panel, and what there is to say of the others.

    Parameters
    ----------
    picture : Picture
    pose : CardPose
        Of a sheet.

    Returns
    -------
    regions : list of Region
        Named "window 1" and so on.
    notes : list of str
        Each names its window: empty, not filled, a glare in it, or a panel that doesn't hide.
    """
    if not pose.layout.numbered:
        return [], ["the sheet's small marks that say how many windows it has aren't seen: keep one of the two free"]
    plane = paper_plane(border_spots(picture, pose))
    if plane is None:
        return [], ["the sheet's border isn't seen well enough: photograph the whole sheet, and keep it clean"]
    black = _black_ink(picture, pose, plane)
    regions, notes, empty = [], list[str](), list[str]()
    for name in pose.layout.numbered_windows:
        region = Region(name, pose.windows[name])
        if not inside(region, picture.size):
            notes.append(f"{name} lies outside the picture: photograph the whole sheet")
            continue
        window = _window(picture, pose, name, plane)
        bare = _bare(window, black)
        if bare.mean() > EMPTY:
            empty.append(str(window_number(name)))
            continue
        read, said = _as_panel(picture, region, window, bare)
        regions += [region] if read else []
        notes += [f"{name}: {word}" for word in said]
    if empty:
        which = f"window {empty[0]} is" if len(empty) == 1 else f"windows {', '.join(empty)} are"
        notes.append(f"{which} empty")
    return regions, notes


def _black_ink(picture: Picture, pose: CardPose, plane: Floats) -> Floats:
    """Return what the printed black reads by the paper, shape (3,)."""
    cells = [Region(name, quad) for name, quad in pose.border if name == "black"]
    spots = [sample(picture, cell.quad) for cell in cells if inside(cell, picture.size)]
    if not spots:
        return np.full(3, 0.05)
    ratios = [spot.linear / np.exp(np.array([1.0, *spot.place]) @ plane) for spot in spots]
    return np.asarray(np.median(ratios, axis=0))


def _window(picture: Picture, pose: CardPose, name: str, plane: Floats) -> _Window:
    box, stripes = pose.layout.windows[name], pose.layout.stripes[name]
    top, down = box.y_mm + WINDOW_INSET_MM, (box.height_mm - 2 * WINDOW_INSET_MM) / ROWS
    tiles, black = list[list[Floats]](), list[bool]()
    for i, stripe in enumerate(stripes):
        # off the edges of the window and of the stripe
        left = stripe.box.x_mm + (WINDOW_INSET_MM if i == 0 else 1.0)
        right = stripe.box.x_mm + stripe.box.width_mm - (WINDOW_INSET_MM if i == len(stripes) - 1 else 1.0)
        wide = (right - left) / OF_STRIPE
        for part in range(OF_STRIPE):
            tiles.append([_points(Box(left + part * wide, top + row * down, wide, down)) for row in range(ROWS)])
            black.append(stripe.name == "black")
    points = pose.to_px(np.array(tiles).swapaxes(0, 1))
    middle = np.median(pick(picture.values, points), axis=2) / picture.full_scale
    width, height = picture.size
    places = (points.mean(axis=2) - (np.array([width, height]) - 1) / 2) / max(width, height)
    paper = np.exp(np.concatenate([np.ones((*places.shape[:2], 1)), places], axis=2) @ plane)
    return _Window(picture.encoding.linear(middle), paper, np.array(black))


def _points(box: Box) -> Floats:
    """Return places within a box, shape (n, 2), mm."""
    return np.asarray(np.array([box.x_mm, box.y_mm]) + _INSIDE * np.array([box.width_mm, box.height_mm]))


def _bare(window: _Window, black: Floats) -> NDArray[np.bool_]:
    """Return which tiles show the bare print, shape (rows, columns).

    White alone may be white paint, and black alone black paint: a tile counts where a neighbour of the other ink in its
    row is bare too.
    """
    share = window.values / window.paper
    like_paper = (np.abs(np.log(np.maximum(share, 1e-4))) < BARE_WITHIN).all(axis=2)
    like_black = (share < BARE_BLACK * black).all(axis=2)
    alike = np.where(window.black, like_black, like_paper)
    # the nearest tiles of the stripes to the left and to the right
    stripe = np.arange(len(window.black)) // OF_STRIPE
    bare = np.zeros_like(alike)
    for column, of in enumerate(stripe):
        beside = [other for other in range(len(stripe)) if abs(stripe[other] - of) == 1]
        bare[:, column] = alike[:, column] & alike[:, beside].any(axis=1)
    return bare


def _as_panel(picture: Picture, region: Region, window: _Window, bare: NDArray[np.bool_]) -> tuple[bool, list[str]]:
    """Return whether a window can be read as a panel, and what there is to say of it."""
    open_share = float(bare.mean())
    if open_share > TOO_LITTLE:
        return False, [f"only {_percent(1 - open_share)} of it is filled, and it is not read: fill the whole window"]
    through = _through(window, np.flatnonzero(~bare.any(axis=1)))
    if through > SHOWS_THROUGH:
        return False, [
            f"the stripes show through ({_percent(through)} darker over black): the paint doesn't hide, and it is not "
            "read; draw it down thicker"
        ]
    said = []
    if open_share > TOLD:
        said.append(f"{_percent(open_share)} of it is bare; what is filled is read")
    spot = sample(picture, region.quad)
    light = window.paper / np.exp(np.log(window.paper).mean(axis=(0, 1)))
    own = spot.linear * light
    off = np.abs(window.values - own) > np.maximum(OFF * own, OFF_LEAST)
    other = off.any(axis=2) & ~bare
    share = _percent(other.mean())
    a_glare = (other & (window.values > own).all(axis=2)).sum() > other.sum() / 2
    shade = _shaded(np.maximum(window.values[other], 1e-4) / np.maximum(own[other], 1e-4))
    if other.mean() > TOO_LITTLE:
        if shade:
            over = _percent(other.mean() if shade < 0 else 1 - other.mean())
            return False, [
                f"a shadow lies over a part of it ({over}), and it is not read: light it evenly and photograph it again"
            ]
        return False, [
            f"{share} of it is of other colours or under a glare, and it is not read: lay one panel in it, out of the "
            "glare"
        ]
    if other.mean() > TOLD:
        what = "what lies in a shadow" if shade < 0 else "what is of other colours"
        what = "a glare is left out; turn it out of the light" if a_glare else f"{what} is left out"
        said.append(f"{share} of it: {what}")
    return True, said


def _shaded(ratios: Floats) -> float:
    """Return the logarithm of the light on tiles by that on the others, where all have one share of it; 0 otherwise.

    Parameters
    ----------
    ratios : ndarray, shape (n, 3)
        What they read by the panel's own colour.
    """
    if not len(ratios):
        return 0.0
    logs = np.log(ratios)
    level = np.median(logs, axis=0)
    step = float(level.mean())
    one_level = np.median(np.abs(logs.mean(axis=1) - step)) <= ONE_LEVEL * abs(step)
    alike = np.abs(level - step).max() <= ALIKE_IN * abs(step)
    return step if one_level and alike and abs(step) <= MOST_STEP else 0.0


def _through(window: _Window, rows: NDArray[np.intp]) -> float:
    """Return by how much the paint is darker over black, where each stripe shows it beside each; 0 where one doesn't.

    A glare, or a second colour, lies on one side.
    """
    if not len(rows):
        return 0.0
    levels = np.median((window.values / window.paper)[rows].mean(axis=2), axis=0).reshape(-1, OF_STRIPE).mean(axis=1)
    steps = np.abs(np.diff(np.log(np.maximum(levels, 1e-4)))) * np.sign(np.diff(levels)) * np.array([1, -1, 1])
    return shows_through(levels) if steps.min() > ALIKE_STEPS * steps.max() else 0.0


def _percent(share: float) -> str:
    return f"{100 * share:.0f} %"
