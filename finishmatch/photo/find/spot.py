"""The colour of a sample in a photograph: glare, dust, edges and clipped pixels are set aside and counted."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from finishmatch.colour import Floats
from finishmatch.photo.open.finer_chroma import ChromaRounding, chroma_rounding
from finishmatch.photo.open.picture import RAW, Picture
from finishmatch.photo.open.upright import Pixels

TILES = 5  # a side
MOST_PIXELS = 3_600  # more are thinned out evenly
FAR = 3.5  # robust deviations beyond which a pixel or a tile is set aside
EVEN_WITHIN = 0.025  # of the value: what light and paint vary by over a spot that is even
CLIPPED_FROM = 0.99  # of full scale
CUT_TO, DARK_TO = 0.003, 0.012
RAW_CUT_TO, RAW_DARK_TO = 0.0, 0.001  # of a sensor's own values: they have no gamut, and dark ones count many steps


@dataclass(frozen=True)
class Spot:
    """What was found in a spot.

    Parameters
    ----------
    linear : ndarray, shape (3,)
        Mean camera values by the file's curve, 1 at full scale.
    place : ndarray, shape (2,)
        Its middle in the frame, from the frame's middle, by its longer side.
    spread : ndarray, shape (3, 3)
        Covariance of the mean: by how much it would differ if it were taken on another such piece of the spot.
    rejected : float
        Share of the pixels that was set aside.
    clipped, dark : float
        Share of the pixels with a channel cut off at the top or the bottom, or with all at the bottom.
    pixels : int
        How many there are.
    unevenness : float
        How much the tiles kept differ, relative.
    """

    linear: Floats
    place: Floats
    spread: Floats
    rejected: float
    clipped: float
    dark: float
    pixels: int
    unevenness: float


def sample(picture: Picture, quad: Floats, finer: bool = True) -> Spot:
    """Return the colour within four corners; what was looked at before in the same picture isn't worked out anew.

    Parameters
    ----------
    picture : Picture
    quad : ndarray, shape (4, 2)
        Pixels, in order around.
    finer : bool
        Whether what the decoder of a JPEG rounded is undone; to know a thing again there is no need.

    Returns
    -------
    Spot
    """
    asked = (quad.tobytes(), finer)
    if (found := picture.spots.get(asked)) is None:
        found = picture.spots[asked] = _sampled(picture, quad, finer)
    return found


def _sampled(picture: Picture, quad: Floats, finer: bool) -> Spot:
    width, height = picture.size
    left, top = np.maximum(np.floor(quad.min(axis=0)).astype(int), 0)
    right, bottom = np.minimum(np.ceil(quad.max(axis=0)).astype(int) + 1, [width, height])
    step = max(1, int(np.sqrt((right - left) * (bottom - top) / MOST_PIXELS)))
    crop = picture.values[top:bottom:step, left:right:step]
    mask = np.zeros(crop.shape[:2], np.uint8)
    corners = np.rint((quad - [left, top]) / step * 16).astype(np.int32)
    cv2.fillConvexPoly(mask, corners, 1, cv2.LINE_8, 4)
    if not mask.any():
        mask[crop.shape[0] // 2, crop.shape[1] // 2] = 1
    at = np.flatnonzero(mask)
    channels: Pixels = np.ascontiguousarray(crop.reshape(-1, 3).take(at, axis=0).T)  # type: ignore[assignment]
    tile = _tiles(crop.shape[:2], len(at))[at]
    # a channel that ends at the bottom while another is light is cut off too: the colour lies outside the file's gamut
    low, high = channels.min(axis=0) / picture.full_scale, channels.max(axis=0) / picture.full_scale
    cut_to, dark_to = (RAW_CUT_TO, RAW_DARK_TO) if picture.kind == RAW else (CUT_TO, DARK_TO)
    clipped = (high >= CLIPPED_FROM) | ((low <= cut_to) & (high > 0.15))
    dark = high <= dark_to
    kept = _kept(channels, tile, picture.full_scale)
    those = np.flatnonzero(kept)
    taken: Pixels = channels.take(those, axis=1)
    mean, spread, unevenness = _mean(picture.encoding.linear_of(taken.T), tile[those])
    spread = np.add(spread, _rounding(picture, taken, channels.shape[1]))
    x, y = (
        part * step + first for part, first in zip(np.divmod(at[those], crop.shape[1])[::-1], (left, top), strict=True)
    )
    if finer and picture.finer is not None:
        rounded = chroma_rounding(picture.finer, x, y, taken, step)
        mean, spread = _by_finer_chroma(picture, rounded, taken, mean, spread)
    middle = np.array([x.mean(), y.mean()])
    place = (middle - (np.array([width, height]) - 1) / 2) / max(width, height)
    return Spot(
        mean,
        place,
        spread,
        float(1 - kept.mean()),
        float(clipped.mean()),
        float(dark.mean()),
        int(channels.shape[1] * step * step),
        unevenness,
    )


def _rounding(picture: Picture, kept: Pixels, pixels: int) -> Floats:
    """Return the variance that whole file values leave, as a covariance: much where all pixels have the same value."""
    # 16, 50 and 84 in a hundred
    low, middle, high = np.sort(kept, axis=1, kind="stable").T[[kept.shape[1] * share // 100 for share in (16, 50, 84)]]
    # noise of half a step and more makes the mean finer than a step
    dither = np.clip((high.astype(float) - low) / 2, 0, 1) ** 2
    share = (1 - dither) + dither / max(pixels, 1)
    middle = middle / picture.full_scale
    step = 1 / picture.full_scale
    slope = picture.encoding.linear(np.clip([middle + step / 2, middle - step / 2], 0, 1))
    return np.diag((slope[0] - slope[1]) ** 2 / 12 * share)


def _by_finer_chroma(
    picture: Picture, found: ChromaRounding, kept: Pixels, mean: Floats, spread: Floats
) -> tuple[Floats, Floats]:
    """Return a mean and its covariance without what the decoder of a JPEG rounded, and with what that leaves open."""
    at = kept.mean(axis=1) / picture.full_scale
    near = np.clip(np.stack([at - 0.5 / picture.full_scale, at + 0.5 / picture.full_scale]), 0, 1)
    slope = np.subtract(*picture.encoding.linear(near)[::-1])
    return np.maximum(mean + slope * found.shift, 0.0), spread + np.outer(slope, slope) * found.covariance


def _tiles(shape: tuple[int, ...], pixels: int) -> NDArray[np.uint16]:
    """Return the tile each pixel of an oblong lies in, row by row; spots of few pixels have fewer tiles."""
    many = int(np.clip(np.sqrt(pixels) / 4, 1, TILES))
    row, column = (np.arange(length) * many // length for length in shape)
    return np.add.outer(row * many, column).ravel().astype(np.uint16)


def _kept(channels: Pixels, tile: NDArray[np.uint16], full_scale: int) -> NDArray[np.bool_]:
    """Return which pixels, of shape (3, n), are the paint: in tiles alike, and not far from the middle of all."""
    counts = np.bincount(tile)
    tiles = np.flatnonzero(counts)
    # sorted by tile and value at once, so that the middle of each tile stands in its place
    by_tile = np.sort(tile * np.uint32(full_scale + 1) + channels, axis=1)
    medians = (by_tile[:, (np.cumsum(counts) - counts + counts // 2)[tiles]] & full_scale).T / full_scale
    lightness = medians.sum(axis=1)
    centre = _densest(lightness)
    core = np.abs(lightness - centre) <= max(_deviation(lightness - centre), 0.5 * EVEN_WITHIN * centre, 0.006)
    middle = _median(medians[core])
    allowed = np.maximum(FAR * _deviation(medians[core] - middle), np.maximum(EVEN_WITHIN * middle, 0.008))
    alike = (np.abs(medians - middle) <= allowed).all(axis=1)
    if not alike.any():
        return np.ones(channels.shape[1], bool)
    good = np.zeros(len(counts), bool)
    good[tiles[alike]] = True
    even = good[tile]
    those = np.flatnonzero(even)
    off = np.abs(channels.astype(np.int32) - upper_median(channels.take(those, axis=1)).astype(np.int32)[:, None])
    limit = np.maximum(FAR * 1.4826 * upper_median(off.take(those, axis=1)), 0.008 * full_scale)
    return np.asarray(even & (off <= limit[:, None]).all(axis=0))


def upper_median(values: NDArray[Any]) -> NDArray[Any]:
    """Return the median along the last axis: the upper one of an even number, which is quicker."""
    half = values.shape[-1] // 2
    return np.asarray(np.partition(values, half, axis=-1)[..., half])


def _median(values: Floats) -> Floats:
    """Return the median along the first axis, of few values quicker than NumPy's."""
    ordered = np.sort(values, axis=0)
    return np.asarray((ordered[(len(values) - 1) // 2] + ordered[len(values) // 2]) / 2)


def _densest(values: Floats) -> float:
    """Return the middle of the narrowest half of values: where they crowd, whatever the rest does.

    References
    ----------
    Robertson and Cryer, J. Am. Stat. Assoc. 69 (1974) 1012 (half-sample mode, one step); the median of that half.
    """
    ordered = np.sort(values)
    half = max(1, (len(ordered) + 1) // 2)
    starts = np.arange(len(ordered) - half + 1)
    widths = ordered[starts + half - 1] - ordered[starts]
    first = int(widths.argmin())
    return float(_median(ordered[first : first + half]))


def _deviation(off: Floats) -> Floats:
    """Return the robust standard deviation along the first axis: 1.4826 times the median distance."""
    return np.asarray(1.4826 * _median(np.abs(off)))


def _mean(linear: Floats, tile: NDArray[np.uint16]) -> tuple[Floats, Floats, float]:
    counts = np.bincount(tile)
    tiles = np.flatnonzero(counts)
    counts = counts[tiles]
    means = np.stack([np.bincount(tile, linear[:, i])[tiles] / counts for i in range(3)], axis=1)
    mean = linear.mean(axis=0)
    if len(tiles) < 4:
        spread = np.cov(linear.T) / max(len(linear), 1) if len(linear) > 3 else np.diag((0.02 * mean) ** 2)
        return mean, np.asarray(spread), 0.0
    off = means - mean
    weight = counts / counts.sum()
    between = (off * weight[:, None]).T @ off
    unevenness = float(np.sqrt(np.trace(between)) / max(np.linalg.norm(mean), 1e-6))
    return mean, np.asarray(between / (len(tiles) - 1)), unevenness
