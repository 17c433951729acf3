"""A shadow over a part of one sample: two even levels of light with an edge between them, in all channels alike.

The light that the known colours show is taken out first, and a slope and a bend that paint or gloss may leave beside
it are taken for the paint's. What is left is a step if a few shapes of an edge or a band make it far smaller.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

import cv2
import numpy as np
from numpy.typing import NDArray

from finishmatch.colour import Floats, de00
from finishmatch.photo.card.card_pose import CardPose
from finishmatch.photo.correct.capture import undo
from finishmatch.photo.find.lattice import pick
from finishmatch.photo.find.spot import Spot, upper_median
from finishmatch.photo.open.upright import Pixels
from finishmatch.photo.reference import ReferenceFit

MOST, LEAST = 8, 5  # tiles a side
POINTS = 8  # a side, that a tile is read at
LEAST_TILE_PX = 4
# all that follows was chosen on rendered shadows and on rendered samples without one (docs/accuracy.md)
TELL_DE00 = 0.5  # by which the colour read is off at least
LEAST_STEP = 0.02  # of the logarithm of the light
SLOPE, BEND = 0.08, 0.1  # what the paint and its gloss may have across a sample, of the logarithm
NOISE = 0.003  # of a tile, relative, at least
SHAPE = 0.08  # of a step, by which a true edge differs in a tile from those tried
# over the middle, in few of the tiles or in any: a glare, which is left out with what is near
SPIKE, SPIKES, HIGH_SPIKE = 0.3, 0.1, 0.9
CALMER, LEAST_GAIN = 1.8, 0.6  # by how much a step makes what is left smaller, squared, in deviations
CLEAR = 3.5  # robust deviations that a step has at least
FLAT = 0.8  # of the tiles of either level lie on it
SHARES = (0.13, 0.9)  # of the sample, that the lit level has
SLOPE_SHARE, BEND_SHARE, BESIDE = 0.6, 1.0, 0.02  # of a step, that slope and bend beside it have at most
SEEN = 0.4  # of a step, by which the two levels lie apart as they are: bends that hide the rest of it have made it up
ALIKE = 0.45  # of a step, by which a channel's differs: the sky's light in the shade, and the camera's matrix
FLARE = 0.006  # of full scale: what is left open of stray light
WEAK = 0.2  # of the strongest channel: a weaker one has no say
SCREEN, LEAST_SPREAD = 0.25, 0.015  # of what the course leaves, and of the levels: with less there is no such step
OUTLIER, TRIES, STARTS = 5.0, 4, 6


@dataclass(frozen=True)
class PartShadow:
    """How much of the light is missing in the shade, and over how much of the sample it lies, 0 to 1."""

    missing: float
    over: float


@dataclass(frozen=True)
class _Tiles:
    """A sample in tiles: camera values in even light, their logarithm as a whole, those without a glare."""

    values: Floats  # (n, 3)
    level: Floats  # (n,)
    good: NDArray[np.bool_]
    course: Floats  # (n, columns): a constant, slopes, bends, and stripes under the paint
    side: int


@dataclass(frozen=True)
class _Step:
    """A course with a step: its shape 0 to 1 in the tiles, how high, the numbers beside it, what is left."""

    shape: Floats
    height: float
    numbers: Floats
    left: Floats


def part_shadow(fit: ReferenceFit, spot: Spot, quad: Floats, pose: CardPose | None, name: str) -> PartShadow | None:
    """Return the shadow that lies over a part of a sample and puts its colour off, or None.

    Parameters
    ----------
    fit : ReferenceFit
        Of the photograph.
    spot : Spot
        As the sample is read.
    quad : ndarray, shape (4, 2)
        Its corners, pixels.
    pose : CardPose or None
        Of the card or the sheet, where the sample lies in a window of it.
    name : str
        Of that window: what shows of the stripes under it is no shadow.

    Notes
    -----
    A shadow over all of a sample can't be told from a darker paint, nor a soft one as wide as the sample from the slope
    that its paint may have. A glare with an edge, and two colours of which one is the other darkened, look the same.
    """
    tiles = _tiles(fit, quad, pose, name)
    if tiles is None or _spread(tiles.level[tiles.good]) < LEAST_SPREAD:
        return None
    step = _best_step(tiles)
    if step is None or not _is_shadow(tiles, step):
        return None
    lit = step.shape if step.height > 0 else 1 - step.shape
    top = float(np.median((tiles.level - step.height * step.shape)[tiles.good])) + max(step.height, 0.0)
    own = undo(fit.correction.base.numbers, spot.linear[None], spot.place[None])[0]
    brighter = float(np.exp(top - np.log(max(float(own.sum()), 1e-4))))
    both = fit.correction.lab(np.stack([spot.linear, spot.linear * brighter]), np.stack([spot.place, spot.place]))
    if float(de00(*both)) < TELL_DE00:
        return None
    return PartShadow(float(1 - np.exp(-abs(step.height))), float(1 - lit[tiles.good].mean()))


def why_shaded(shadow: PartShadow | None) -> str:
    """Return why a sample with such a shadow isn't read, with what to change, or ""."""
    if shadow is None:
        return ""
    return (
        f"a shadow lies over a part of it (about {100 * shadow.over:.0f} %, where {100 * shadow.missing:.0f} % of the "
        "light is missing): light it evenly and photograph it again; where that part is of another colour, or the rest "
        "under a glare, mark an even part (`region` NAME=x,y,w,h)"
    )


def _tiles(fit: ReferenceFit, quad: Floats, pose: CardPose | None, name: str) -> _Tiles | None:
    across, down = quad[2] - quad[0], quad[3] - quad[1]
    side = int(min(np.sqrt(abs(across[0] * down[1] - across[1] * down[0]) / 2) / LEAST_TILE_PX, MOST))
    if side < LEAST:
        return None
    at = (np.arange(side * POINTS) + 0.5) / (side * POINTS)
    u, v = np.meshgrid(at, at)
    points = np.stack([(1 - u) * (1 - v), u * (1 - v), u * v, (1 - u) * v], axis=-1) @ quad
    picture = fit.picture
    picked: Pixels = pick(picture.values, points).astype(picture.values.dtype)  # type: ignore[assignment]
    seen = picture.encoding.linear_of(picked)
    seen = seen.reshape(side, POINTS, side, POINTS, 3).swapaxes(1, 2).reshape(side * side, POINTS * POINTS, 3)
    # the mean of the middle half: dust has no say, and it is finer than a step of the file
    quarter = POINTS * POINTS // 4
    linear = np.partition(seen, (quarter, 3 * quarter), axis=1)[:, quarter : 3 * quarter].mean(axis=1)
    middles = points.reshape(side, POINTS, side, POINTS, 2).mean(axis=(1, 3)).reshape(-1, 2)
    size = np.array(picture.size)
    values = undo(fit.correction.base.numbers, linear, (middles - (size - 1) / 2) / size.max())
    level = np.log(np.maximum(values.sum(axis=1), 1e-4))
    over = level - np.median(level)
    spikes = over > (SPIKE if (over > SPIKE).mean() < SPIKES else HIGH_SPIKE)
    good = (cv2.dilate(spikes.reshape(side, side).astype(np.uint8), np.ones((5, 5), np.uint8)) == 0).ravel()
    if good.mean() < 0.5:
        return None
    course = _course(side)
    if pose is not None and name in pose.layout.stripes:
        x = pose.to_mm(middles)[:, 0]
        boxes = [one.box for one in pose.layout.stripes[name] if one.name == "black"]
        black = np.any([(x >= box.x_mm) & (x < box.x_mm + box.width_mm) for box in boxes], axis=0)
        course = np.column_stack([course, black.astype(float)])
    return _Tiles(values, level, good, course, side)


@cache
def _course(side: int) -> Floats:
    """Return a constant, two slopes and three bends over the tiles, shape (side², 6)."""
    at = (np.arange(side) + 0.5) / side - 0.5
    x, y = (one.ravel() for one in np.meshgrid(at, at))
    return np.column_stack([np.ones_like(x), x, y, x * x - 1 / 12, x * y, y * y - 1 / 12])


@cache
def _shapes(side: int) -> Floats:
    """Return the shapes that are tried, shape (m, side²): sharp and soft edges, and bands, in twelve directions."""
    fine = (np.arange(side * 4) + 0.5) / (side * 4) - 0.5
    x, y = np.meshgrid(fine, fine)
    found = []
    for angle in np.arange(12) * np.pi / 12:
        along = np.cos(angle) * x + np.sin(angle) * y
        edges = np.quantile(along, np.linspace(0.1, 0.9, 17))
        found += [(along > edge).astype(float) for edge in edges]
        found += [1 / (1 + np.exp(-(along - edge) / soft)) for edge in edges[1::2] for soft in (0.05, 0.1)]
        for wide in (4, 7, 10, 13):
            found += [((along > edges[i]) & (along <= edges[i + wide])).astype(float) for i in range(1, 16 - wide, 2)]
    return np.asarray(np.array(found).reshape(-1, side, 4, side, 4).mean(axis=(2, 4)).reshape(len(found), -1))


def _best_step(tiles: _Tiles) -> _Step | None:
    """Return the step that leaves least, a few tiles that fit no course having little say; None where there is none."""
    starts = _starts(tiles)
    if not starts:
        return None
    tried = _shapes(tiles.side)[starts]
    courses = np.broadcast_to(tiles.course, (len(tried), *tiles.course.shape))
    numbers, left = _fitted(np.concatenate([courses, tried[..., None]], axis=2), tiles)
    cost = (np.minimum(np.abs(left[:, tiles.good]) / 0.008, 4) ** 2).mean(axis=1)
    i = int(cost.argmin())
    return _Step(tried[i], float(numbers[i, -1]), numbers[i], left[i])


@cache
def _own(side: int) -> tuple[Floats, Floats]:
    """Return what is left of each shape beside slope and bend, of length 1, and an orthonormal base of these."""
    base = np.linalg.qr(_course(side))[0]
    own = _shapes(side) - (_shapes(side) @ base) @ base.T
    return own / np.maximum(np.linalg.norm(own, axis=1), 1e-3)[:, None], base


def _starts(tiles: _Tiles) -> list[int]:
    """Return the shapes that take most of the squares which slope and bend leave, none where that is little."""
    good = tiles.good
    level = tiles.level - upper_median(tiles.level[good])
    if good.all() and tiles.course.shape[1] == 6:
        own, base = _own(tiles.side)
    else:
        base = np.linalg.qr(tiles.course[good])[0]
        level, own = level[good], _shapes(tiles.side)[:, good]
        own = own - (own @ base) @ base.T
        own = own / np.maximum(np.linalg.norm(own, axis=1), 1e-3)[:, None]
    level = level - base @ (base.T @ level)
    gain = (own @ level) ** 2
    if gain.max() < SCREEN * float(level @ level):
        return []
    return [int(i) for i in np.argpartition(-gain, STARTS)[:STARTS]]


def _fitted(designs: Floats, tiles: _Tiles) -> tuple[Floats, Floats]:
    """Return courses by robust least squares, slopes and bends within bounds, and what is left.

    Parameters
    ----------
    designs : ndarray, shape (k, n, columns)
        Of k courses at once.
    tiles : _Tiles

    Returns
    -------
    ndarray, shape (k, columns); ndarray, shape (k, n)
    """
    limits = np.array([SLOPE, SLOPE, BEND, BEND, BEND])
    free = [0, *range(6, designs.shape[2])]
    level = tiles.level - upper_median(tiles.level[tiles.good])
    weights = np.broadcast_to(tiles.good.astype(float), designs.shape[:2])
    for _ in range(TRIES):
        numbers = _least(designs, level, weights)
        bound = np.clip(numbers[:, 1:6], -limits, limits)
        beyond = (bound != numbers[:, 1:6]).any(axis=1)
        if beyond.any():
            some, steep = designs[beyond], bound[beyond]
            rest = level - (some[:, :, 1:6] @ steep[..., None])[..., 0]
            numbers[beyond, 1:6] = steep
            numbers[np.ix_(beyond, free)] = _least(some[:, :, free], rest, weights[beyond])
        left = level - (designs @ numbers[..., None])[..., 0]
        scale = np.maximum(NOISE, 1.4826 * upper_median(np.abs(left[:, tiles.good])))[:, None]
        weights = tiles.good * np.maximum(1 - (left / (OUTLIER * scale)) ** 2, 0) ** 2
    return numbers, left


def _least(designs: Floats, values: Floats, weights: Floats) -> Floats:
    turned = (designs * weights[..., None]).swapaxes(1, 2)
    many = designs.shape[2]
    ahead = turned @ np.broadcast_to(values, weights.shape)[..., None]
    return np.asarray(np.linalg.solve(turned @ designs + 1e-6 * np.eye(many), ahead)[..., 0])


def _spread(values: Floats) -> float:
    """Return how far the lowest and the highest tenth are apart."""
    tenth = len(values) // 10
    ordered = np.sort(values)
    return float(ordered[-1 - tenth] - ordered[tenth])


def _is_shadow(tiles: _Tiles, step: _Step) -> bool:
    """Whether a step is clear, leaves both levels flat, and takes the same share of each channel's light."""
    good, high = tiles.good, abs(step.height)
    noise = max(1.4826 * float(np.median(np.abs(step.left[good]))), NOISE)
    if high < max(LEAST_STEP, CLEAR * noise):
        return False
    lit = step.shape if step.height > 0 else 1 - step.shape
    if not SHARES[0] < lit[good].mean() < SHARES[1]:
        return False
    if _seen_apart(tiles, lit) < SEEN * high:
        return False
    if np.abs(step.numbers[1:3]).max() > SLOPE_SHARE * high + BESIDE:
        return False
    if np.abs(step.numbers[3:6]).max() > BEND_SHARE * high + BESIDE:
        return False
    scale = float(np.hypot(noise, SHAPE * high))
    on = good & (np.abs(step.left) <= 4 * scale)
    if min(on[good & (lit > 0.5)].mean(), on[good & (lit <= 0.5)].mean()) < FLAT:
        return False
    without = _fitted(tiles.course[None], tiles)[1][0]
    before, after = (float((np.minimum(np.abs(one[good]) / scale, 6) ** 2).mean()) for one in (without, step.left))
    return before - after >= LEAST_GAIN and before >= CALMER * after and _alike(tiles, step, on)


def _seen_apart(tiles: _Tiles, lit: Floats) -> float:
    """Return by how much the lit level lies above the shaded one, slope and bend and all; 0 where one has no tile."""
    levels = [tiles.level[tiles.good & one] for one in (lit > 0.5, lit <= 0.5)]
    return float(np.median(levels[0]) - np.median(levels[1])) if all(map(len, levels)) else 0.0


def _alike(tiles: _Tiles, step: _Step, on: NDArray[np.bool_]) -> bool:
    """Whether the step is as high in each channel that is no weak one, within what sky, flare and noise leave open."""
    design = np.column_stack([tiles.course, step.shape])[on]
    inverse = np.linalg.inv(design.T @ design + 1e-6 * np.eye(design.shape[1]))
    middle = np.maximum(np.median(tiles.values, axis=0), 1e-3)
    logs = np.log(np.maximum(tiles.values[on], 1e-3))
    numbers = inverse @ design.T @ logs
    left = logs - design @ numbers
    scatter = np.sqrt((left**2).sum(axis=0) / max(len(left) - design.shape[1], 1) * inverse[-1, -1])
    within = abs(step.height) * (ALIKE + FLARE / middle) + 3 * scatter + 0.005
    off = np.abs(numbers[-1] - step.height) > within
    return not bool(off[middle > WEAK * middle.max()].any())
