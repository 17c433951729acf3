"""A shadow over a part of the shop's card: its white and its grey cells are darker side by side, by the same share.

The border's paper tells how the light runs over the card; cells that lie off that are set aside as smeared. A smear,
or a mist of paint, brings white and grey nearer to one colour; a shadow takes the same share of the light from both.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from finishmatch.colour import Floats
from finishmatch.photo.card.card_pose import CardPose
from finishmatch.photo.card.read_card import bare_paper
from finishmatch.photo.find.regions import Region, inside
from finishmatch.photo.find.spot import Spot, sample
from finishmatch.photo.open.picture import Picture

INKS = ("white", "grey")  # black is lifted by stray light
# all sizes here were chosen on rendered shadows, smears and mists of paint (tests/photo)
LEAST_SHADE = 0.08  # of the logarithm of the light: what is nearer to the course of the others is no shadow
# neighbours in one shadow differ by no more: of the logarithm, and for each of the shade
ALIKE, ALIKE_SHARE = 0.02, 0.12
LEAST_RUN = 3  # white and grey cells side by side
BESIDE = 1.2  # of a cell's width, between the middles of neighbours
NEAR_MM = 16.0  # about the windows: what lies further away shades neither sample nor chart


@dataclass(frozen=True)
class Shadow:
    """How much of the light is missing where it is darkest, 0 to 1, and whether that is near samples or chart."""

    share: float
    near: bool


def shadow_over(picture: Picture, pose: CardPose) -> Shadow | None:
    """Return the shadow that lies over a part of the card, or None.

    Parameters
    ----------
    picture : Picture
    pose : CardPose

    Returns
    -------
    Shadow or None
        None too where too little of the border is seen.
    """
    cells = [(i, Region(name, quad)) for i, (name, quad) in enumerate(pose.border) if name in INKS]
    spots = {i: sample(picture, cell.quad) for i, cell in cells if inside(cell, picture.size)}
    names = [name for name, _ in pose.border]
    off = _off_course(spots, names, pose)
    shaded = [i for run in _runs(off, pose) for i in run]
    if not shaded:
        return None
    levels = np.array([off[i] for i in shaded])
    # where most of the card lies in the shadow, it is the lit cells that stand out
    return Shadow(float(1 - np.exp(-np.abs(levels).max())), any(_near(i, pose) for i in shaded))


def _off_course(spots: dict[int, Spot], names: Sequence[str], pose: CardPose) -> dict[int, float]:
    """Return the logarithm of the light on each cell over that of the even course of the light, by the cell's place."""
    paper = bare_paper([spot for i, spot in spots.items() if names[i] == "white"], pose)
    if paper is None:
        return {}
    course = np.linalg.lstsq(_terms(paper.places), np.log(paper.linear), rcond=None)[0]
    over = {
        i: np.log(np.maximum(spot.linear, 1e-4)) - _terms(spot.place[None])[0] @ course for i, spot in spots.items()
    }
    found = dict[int, float]()
    for ink in INKS:
        own = [i for i in over if names[i] == ink]
        usual: Floats = np.median([over[i] for i in own], axis=0) if own else np.zeros(3)
        found |= {i: float((over[i] - usual).mean()) for i in own}
    return found


def _terms(places: Floats) -> Floats:
    x, y = places.T
    return np.column_stack([np.ones(len(x)), x, y, x * x, x * y, y * y])


def _runs(off: dict[int, float], pose: CardPose) -> list[list[int]]:
    """Return the cells, side by side on the border, that stand off the course to one side; black ones lie between."""
    boxes = pose.layout.border
    middles = np.array([one.box.corners_mm().mean(axis=0) for one in boxes])
    runs: list[list[int]] = [[]]
    for i in range(len(boxes)):
        corner = i > 0 and np.linalg.norm(middles[i] - middles[i - 1]) > BESIDE * boxes[i].box.width_mm
        if corner:
            runs.append([])
        if i not in off:
            continue
        if abs(off[i]) < LEAST_SHADE or (runs[-1] and off[i] * off[runs[-1][-1]] < 0):
            runs.append([])
        if abs(off[i]) >= LEAST_SHADE:
            runs[-1].append(i)
    return [run for run in runs if len(run) >= LEAST_RUN and _alike(run, off, pose)]


def _alike(run: list[int], off: dict[int, float], pose: CardPose) -> bool:
    """Whether the greys of a run stand off as the white cells beside them do, which may shade into each other."""
    names = [pose.layout.border[i].name for i in run]
    greys = [j for j in range(1, len(run) - 1) if names[j - 1 : j + 2] == ["white", "grey", "white"]]
    if not greys:
        return False
    level = np.array([off[i] for i in run])
    apart = float(np.mean([level[j] - (level[j - 1] + level[j + 1]) / 2 for j in greys]))
    return abs(apart) <= ALIKE + ALIKE_SHARE * float(np.abs(level).mean())


def _near(index: int, pose: CardPose) -> bool:
    corners = np.concatenate([box.corners_mm(-NEAR_MM) for box in pose.layout.windows.values()])
    x, y = pose.layout.border[index].box.corners_mm().mean(axis=0)
    return bool(corners[:, 0].min() <= x <= corners[:, 0].max() and corners[:, 1].min() <= y <= corners[:, 1].max())
