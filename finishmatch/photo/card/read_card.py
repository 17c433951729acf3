"""The shop's card in a photograph: its windows are the samples, and its bare paper shows how the light falls off."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from finishmatch.colour import Floats
from finishmatch.photo.card.card_pose import PRINTED_INSET_MM, CardPose
from finishmatch.photo.card.find_card import locate_card
from finishmatch.photo.card.layout import Box
from finishmatch.photo.correct.capture import Paper
from finishmatch.photo.find.regions import Region, inside
from finishmatch.photo.find.spot import Spot, sample
from finishmatch.photo.open.picture import Picture

LEAST_PLACES = 9  # fewer leave too much open of a light that five numbers describe
LEAST_PAPER = 6  # cells by which a plane is laid
LEAST_PX = 4.0  # a cell's width drawn in: less is noise and its neighbours
CLIPPED_TO, REJECTED_TO = 0.02, 0.6  # of a cell's pixels
FAR = 4.0  # robust deviations from what the others predict, where a cell is set aside
CLEARLY = 0.02  # relative: what is nearer than that is never set aside
LEAST_DEVIATION = 0.004  # relative: paper, its print and a lens vary by that («common practice»)
TRIES, PASSES = 400, 8
CLEAN = 0.62  # share of the cells that the course is judged by
RIDGE = 1e-4
SEARCH_SIDE_PX = 2000
SAMPLES = ("standard", "spray-out")
# of what the bare paper around a window reads: nearer in level, and in each channel beside that, it is bare paper
PAPER_LEVEL, PAPER_TINT = 0.02, 0.01
RIM = 5  # pieces of bare paper along a side of a window
SHOWS_THROUGH = 0.05  # by which the black stripes read darker than the white ones when paint doesn't hide
BARE_BLACK = 0.35  # of the white: stripes as dark as this are bare


def border_spots(picture: Picture, pose: CardPose) -> list[Spot]:
    """Return the white cells of the card's border that lie in the picture, as they read."""
    cells = [Region(name, quad) for name, quad in pose.border if name == "white"]
    return [sample(picture, cell.quad) for cell in cells if inside(cell, picture.size)]


def bare_paper(spots: Sequence[Spot], pose: CardPose) -> Paper | None:
    """Return the bare paper of the border: cells that are stained, written on, or have a glare are set aside.

    Parameters
    ----------
    spots : sequence of Spot
        Of `border_spots`.
    pose : CardPose

    Returns
    -------
    Paper or None
        None when too few cells are seen well.

    References
    ----------
    Rousseeuw and Leroy, Robust Regression and Outlier Detection (1987), 5.1 (courses through a few, the one taken that
    most lie on); Beaton and Tukey, Technometrics 16 (1974) 147 (biweight) from there.
    """
    if pose.px_per_mm * 5 < LEAST_PX:
        return None
    seen = [spot for spot in spots if _seen_well(spot)]
    if len(seen) < LEAST_PLACES:
        return None
    linear, places = np.array([spot.linear for spot in seen]), np.array([spot.place for spot in seen])
    design = _terms(places)
    off = _off(design, np.log(linear))
    good = _even(off)
    if good.sum() < LEAST_PLACES:
        return None
    scatter = max(float(np.sqrt((off[good] ** 2).sum() / max(int(good.sum()) - design.shape[1], 1))), LEAST_DEVIATION)
    own = np.array([np.sqrt(np.trace(spot.spread)) / spot.linear.sum() for spot in seen])
    return Paper(linear[good], places[good], np.hypot(scatter, own[good]))


def _seen_well(spot: Spot) -> bool:
    return spot.clipped < CLIPPED_TO and spot.rejected < REJECTED_TO and spot.linear.min() > 0.01


def _terms(places: Floats) -> Floats:
    """Return what a course of the light over some places is made of, shape (n, 6): as even as five numbers have it."""
    middle = places - places.mean(axis=0)
    x, y = middle.T / max(float(np.abs(middle).max()), 1e-6)
    return np.column_stack([np.ones(len(x)), x, y, x * x, x * y, y * y])


def _even(off: Floats) -> NDArray[np.bool_]:
    """Return which places are on the course of the light, by how far each is off it."""
    deviation = max(1.4826 * float(np.median(off)), LEAST_DEVIATION)
    return np.asarray(off <= max(FAR * deviation, CLEARLY))


def _off(design: Floats, values: Floats) -> Floats:
    """Return how far each place is off the even course of the light, shape (n,), though a third of them be stained."""
    many, terms = design.shape
    picks = np.random.default_rng(0).random((TRIES, many)).argsort(axis=1)[:, : terms + 2]
    some = design[picks].transpose(0, 2, 1)
    courses = np.linalg.solve(some @ design[picks] + RIDGE * np.eye(terms), some @ values[picks])
    off = np.sqrt(((values - design @ courses) ** 2).mean(axis=2))
    off = off[np.argmin(np.quantile(off, CLEAN, axis=1))]
    for _ in range(PASSES):
        scale = max(1.4826 * float(np.median(off)), LEAST_DEVIATION)
        root = np.maximum(1 - (off / (6 * scale)) ** 2, 0)[:, None]
        course = np.linalg.lstsq(design * root, values * root, rcond=None)[0]
        off = np.sqrt(((values - design @ course) ** 2).mean(axis=1))
    return np.asarray(off)


def find_card(picture: Picture, finer: bool = True) -> CardPose | None:
    """Return where the shop's card lies in a picture, or None.

    Parameters
    ----------
    picture : Picture
    finer : bool
        Whether to look for a small card too where a first look shows nothing of one.

    Raises
    ------
    InputError
        When two cards are in the picture.
    """
    scale = min(1.0, SEARCH_SIDE_PX / max(picture.size))
    small = picture.small(scale)
    pose = locate_card(small, finer)
    if pose is None or scale == 1:
        return pose
    factor = np.array(picture.size) / small.shape[1::-1]
    larger = np.array([[factor[0], 0, (factor[0] - 1) / 2], [0, factor[1], (factor[1] - 1) / 2], [0, 0, 1]])
    return replace(pose, homography=larger @ pose.homography)


def card_regions(picture: Picture, pose: CardPose) -> tuple[list[Region], list[str]]:
    """Return the samples that lie in the card's windows, and what there is to say of the windows.

    A window that reads as the paper around it, or as the bare stripes, is empty and left out.
    """
    regions, notes = [], []
    for name in SAMPLES:
        region = Region(name, pose.windows[name])
        if not inside(region, picture.size):
            notes.append(f"the card's window {name} lies outside the picture: photograph the whole card")
            continue
        through = _stripes_show(picture, pose) if name == "spray-out" else 0.0
        if through > 1 - BARE_BLACK:
            notes.append(f"the card's window {name} shows bare stripes and is taken for empty")
        elif through < SHOWS_THROUGH and _is_paper(picture, pose, region):
            notes.append(
                f"the card's window {name} reads as bare paper and is taken for empty; when it holds a white as light "
                f"as the paper, mark it with `region` {name}=x,y,w,h"
            )
        else:
            regions.append(region)
            if through >= SHOWS_THROUGH:
                notes.append(
                    f"{name}: the stripes show through ({100 * through:.0f} % darker over black): the paint doesn't "
                    "hide, so its colour is not the paint's own; spray another coat"
                )
    return regions, notes


def _is_paper(picture: Picture, pose: CardPose, region: Region) -> bool:
    """Whether a window reads like the bare paper around it.

    White paint may be as light, but is seldom of the paper's tint to a hundredth; and of what is only a course of the
    light the paper around it knows: it isn't taken to be a straight one, which would be off by a tenth near a lamp.
    """
    spots = [spot for spot in _paper_around(picture, pose) if _seen_well(spot)]
    if len(spots) < LEAST_PLACES:
        return False
    spots = [sample(picture, region.quad), *spots]
    design = _terms(np.array([spot.place for spot in spots]))
    values = np.log([np.maximum(spot.linear, 1e-4) for spot in spots])
    good = _even(_off(design[1:], values[1:]))
    if good.sum() < LEAST_PLACES:
        return False
    course = np.linalg.lstsq(design[1:][good], values[1:][good], rcond=None)[0]
    apart = values[0] - design[0] @ course
    level = float(apart.mean())
    return abs(level) < PAPER_LEVEL and bool((np.abs(apart - level) < PAPER_TINT).all())


def _paper_around(picture: Picture, pose: CardPose) -> list[Spot]:
    """Return bare paper around the samples' windows: between window and border, and the white cells beside them."""
    layout = pose.layout
    first, last = (layout.windows[name] for name in SAMPLES)
    left, right, high = first.x_mm, last.x_mm + last.width_mm, first.height_mm / RIM
    wide = (right - left) / (2 * RIM)
    rim = [Box(left + i * wide, first.y_mm - 6.8, wide, 3.2) for i in range(2 * RIM)]  # above what is written there
    rim += [Box(left + i * wide, first.y_mm + first.height_mm + 0.7, wide, 1.1) for i in range(2 * RIM)]
    rim += [Box(x, first.y_mm + i * high, 2.6, high) for x in (left - 3.3, right + 0.7) for i in range(RIM)]
    white = [one.box for one in (*layout.border, *layout.patches) if one.name == "white"]
    quads = [pose.quad(box, PRINTED_INSET_MM) for box in white if box.y_mm < layout.windows["chart"].y_mm]
    cells = [Region("white", quad) for quad in (*quads, *map(pose.quad, rim))]
    return [sample(picture, cell.quad) for cell in cells if inside(cell, picture.size)]


def paper_plane(spots: Sequence[Spot]) -> Floats | None:
    """Return how the bare paper reads over the frame: the logarithm of each channel as a plane, shape (3, 3).

    Parameters
    ----------
    spots : sequence of Spot
        Of `border_spots`.

    Returns
    -------
    ndarray or None
        Times (1, x, y) of a place; None where too few cells are seen.
    """
    if len(spots) < LEAST_PAPER:
        return None
    places = np.array([[1.0, *spot.place] for spot in spots])
    light = np.log(np.maximum([spot.linear for spot in spots], 1e-4))
    return np.asarray(np.linalg.lstsq(places, light, rcond=None)[0])


def _stripes_show(picture: Picture, pose: CardPose) -> float:
    """Return by how much the window of the spray-out is darker over its black stripes than over its white ones."""
    levels = [float(sample(picture, quad).linear.mean()) for _, quad in pose.stripes["spray-out"]]
    return shows_through(np.array(levels))


def shows_through(levels: Floats) -> float:
    """Return by how much paint is darker over black stripes than over white ones, 0 to 1.

    Parameters
    ----------
    levels : ndarray, shape (4,)
        What reads over the black, white, black and white stripe, from the left.
    """
    # so weighted, light that falls off in a straight line or a bow has no say
    contrast = float(np.array([-1.0, 3.0, -3.0, 1.0]) @ np.log(np.maximum(levels, 1e-4))) / 4
    return 1 - float(np.exp(-max(contrast, 0.0)))
