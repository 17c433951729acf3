"""The bare paper around the shop's card: of one colour, whatever it is, so it shows how the light falls off."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from finishmatch.colour import Floats
from finishmatch.photo.card.find_card import CardPose
from finishmatch.photo.correct.capture import Paper
from finishmatch.photo.find.regions import Region, inside
from finishmatch.photo.find.sampling import Spot, sample
from finishmatch.photo.open.picture import Picture

LEAST_PLACES = 9  # fewer leave too much open of a light that is told by five numbers
LEAST_PX = 4.0  # a cell's width drawn in: less is noise and its neighbours
CLIPPED_TO, REJECTED_TO = 0.02, 0.6  # of a cell's pixels
FAR = 4.0  # robust deviations from what the others foretell, where a cell is set aside
CLEARLY = 0.02  # relative: what is nearer than that is never set aside
LEAST_DEVIATION = 0.004  # relative: paper, its print and a lens vary by that («common practice»)
TRIES, PASSES = 400, 8
CLEAN = 0.62  # share of the cells that the course is judged by
RIDGE = 1e-4


def border_spots(picture: Picture, pose: CardPose) -> list[Spot]:
    """Return the white cells of the card's border that lie in the picture, as they read."""
    cells = [Region(name, quad) for name, quad in pose.border if name == "white"]
    return [sample(picture, cell.quad) for cell in cells if inside(cell, picture.size)]


def bare_paper(spots: Sequence[Spot], pose: CardPose) -> Paper | None:
    """Return what the border tells of the light: cells that are stained, written on, or have a glare are set aside.

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
    seen = [
        spot for spot in spots if spot.clipped < CLIPPED_TO and spot.rejected < REJECTED_TO and spot.linear.min() > 0.01
    ]
    if len(seen) < LEAST_PLACES:
        return None
    linear, places = np.array([spot.linear for spot in seen]), np.array([spot.place for spot in seen])
    values = np.log(linear)
    middle = places - places.mean(axis=0)
    x, y = middle.T / max(float(np.abs(middle).max()), 1e-6)
    design = np.column_stack([np.ones(len(x)), x, y, x * x, x * y, y * y])
    off = _off(design, values)
    deviation = max(1.4826 * float(np.median(off)), LEAST_DEVIATION)
    good = off <= max(FAR * deviation, CLEARLY)
    if good.sum() < LEAST_PLACES:
        return None
    scatter = max(float(np.sqrt((off[good] ** 2).sum() / max(int(good.sum()) - design.shape[1], 1))), LEAST_DEVIATION)
    own = np.array([np.sqrt(np.trace(spot.spread)) / spot.linear.sum() for spot in seen])
    return Paper(linear[good], places[good], np.hypot(scatter, own[good]))


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
