"""How much contrast a phone added where light meets dark, told by areas of one colour and by what patches are.

Within an area of one colour a value is (1 + Σ a) y − Σ a B, with B the picture blurred over a radius: so what a value
changes by within areas, beyond a light that is a bent plane over all of them, is told by what the B change by. That
tells narrow radii well; what is added over wide ones hardly changes within an area. It sets one patch of the chart off
more than another, though, and what these should be to the camera is known (`told_of_changes`). Both are sums of
squares, and added.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations

import cv2
import numpy as np
from numpy.typing import NDArray

from finishmatch.colour import Floats
from finishmatch.photo.correct.plain_camera import told_of_changes
from finishmatch.photo.open.picture import Picture
from finishmatch.photo.reference import ReferenceFit

# of the larger side, and how many at most: what a phone adds over any is near to a sum of two of these
RADII, MANY = tuple(1.5**k / 120 for k in range(7)), 2
USUAL = 0.3  # a phone's amounts are of that size («chosen»)
# How much it must be; by how much, in variances, it must lower the sum of squares, and by how much that within areas:
# by its patches alone a real phone's chart, off for other reasons, would show five times its contrast. Glare, uneven
# light, a shadow's soft edge, tones, livelier colours, tube light and charts 6 % off came to 0.041 and 7.2 at most in
# 384 rendered pictures, strong tones with livelier colours to 0.063 and 16 (two of 24 pass); a tenth added comes to
# 0.042 and 6.6 and more, mostly to 0.09 and a hundred.
LEAST, SURE, WITHIN = 0.03, 10.0, 0.5
LEAST_WITHIN = 0.05  # in each half of the patches, where what they are to the camera isn't known
# What changes within an area isn't noise of each pixel by itself (a JPEG's blocks, a light that bends): its sum of
# squares counts as much less (chosen on rendered pictures of the card and the sheet; 1 to 100 differ little).
ALIKE = 10.0
WIDER, INNER = 1.4, 0.9  # than what of a patch is read: near its edge more was added
LEAST_PIXELS, COUNTED, LEAST_FLATS = 30, 600, 8
SRGB_OFFSET = 0.055  # IEC 61966-2-1: a value and this go with a root of the light
SHOWN = (0.1, 0.97)  # of full scale: darker areas show noise, lighter ones are cut off
LOOKED_AT_PX, BLURRED_PX = 600, 3  # the larger side that it is looked for at; a blur's radius there
_STEP = 1e-3  # of full scale

Light = NDArray[np.float32]


@dataclass(frozen=True)
class ContrastTold:
    """What is known of the amounts over each radius: a' normal a − 2 pull' a is least where they are likeliest.

    Parameters
    ----------
    normal : ndarray, shape (radii, radii)
    pull : ndarray, shape (radii,)
    """

    normal: Floats
    pull: Floats

    def __add__(self, other: ContrastTold) -> ContrastTold:
        return ContrastTold(self.normal + other.normal, self.pull + other.pull)

    def saves(self, amounts: Floats) -> float:
        """Return by how much amounts lower the sum of squares, in variances."""
        return float(2 * self.pull @ amounts - amounts @ self.normal @ amounts)

    @property
    def amounts(self) -> Floats:
        """The likeliest amounts, none below 0, shape (radii,).

        All choices of `MANY` radii are tried: more at once take noise for contrast, and stray further from its sum.
        """
        best, most = np.zeros(len(RADII)), 0.0
        for many in range(1, MANY + 1):
            for chosen in map(list, combinations(range(len(RADII)), many)):
                found = np.linalg.lstsq(self.normal[np.ix_(chosen, chosen)], self.pull[chosen])[0]
                if (found >= 0).all() and (explained := float(self.pull[chosen] @ found)) > most:
                    best, most = np.zeros(len(RADII)), explained
                    best[chosen] = found
        return best


def added_contrast(
    picture: Picture, flats: Sequence[Floats] | Floats, fit: ReferenceFit | None = None
) -> Floats | None:
    """Return how much contrast was added over each radius, shape (radii,); None where there is none to speak of.

    Parameters
    ----------
    picture : Picture
        In values as a screen shows them.
    flats : sequence of ndarray, shape (4, 2)
        Corners of areas of one colour each, pixels: well inside their edges, as patches are read.
    fit : ReferenceFit or None
        The correction by the chart as the picture is, which tells of wide radii too.

    Notes
    -----
    Without a fit areas by turns must both show it, or it is something else that lies over some of them.
    """
    light = light_of(picture)
    around = [blurred(light, radius) for radius in RADII]
    parts = list[tuple[Floats, Floats]]()
    for corners in flats:
        middle = np.mean(corners, axis=0)
        part = _within((middle + WIDER * (corners - middle)) / shrunk(picture), light, around)
        parts += [] if part is None else [part]
    if len(parts) < LEAST_FLATS:
        return None
    told = _told_within(parts)
    by_patches = None if fit is None else _told_by_patches(picture, fit, light, around)
    if by_patches is None:
        halves = (_told_within(parts[half::2]).amounts for half in (0, 1))
        return told.amounts if all(amounts.sum() >= LEAST_WITHIN for amounts in halves) else None
    both = told + by_patches + ContrastTold(np.eye(len(RADII)) / USUAL**2, np.zeros(len(RADII)))
    amounts = both.amounts
    is_there = amounts.sum() >= LEAST and both.saves(amounts) >= SURE and told.saves(amounts) >= WITHIN
    return amounts if is_there else None


def shrunk(picture: Picture) -> int:
    """Return how many times smaller a picture is looked at."""
    times = max(1, round(max(picture.size) / LOOKED_AT_PX))
    return times + times % 2 if times > 2 else times  # halves of a picture are at hand


def light_of(picture: Picture) -> Light:
    """Return how light a picture is, 0 to 1, shrunk to what it is looked for at."""
    small = picture.small(1 / shrunk(picture)).astype(np.float32)
    return np.asarray(cv2.transform(small, np.full((1, 3), 1 / (3 * 255), np.float32)), np.float32)


def blurred(light: Light, radius: float) -> Light:
    """Return a picture blurred over a radius, of its larger side; a wide blur is worked out small."""
    sigma = radius * max(light.shape)
    times = max(1, int(sigma / BLURRED_PX))
    if times == 1:
        return np.asarray(cv2.GaussianBlur(light, (0, 0), sigma), np.float32)
    height, width = light.shape
    size = (max(1, round(width / times)), max(1, round(height / times)))
    small = cv2.GaussianBlur(cv2.resize(light, size, interpolation=cv2.INTER_AREA), (0, 0), sigma / times)
    return np.asarray(cv2.resize(small, (width, height), interpolation=cv2.INTER_LINEAR), np.float32)


def _within(corners: Floats, light: Light, around: Sequence[Light]) -> tuple[Floats, Floats] | None:
    """Return of an area by what its surroundings and a bent light change, shape (n, columns), and its values, (n,).

    Both about their means; None where it is too small, too dark or cut off.
    """
    at = _inside(corners, light.shape)
    if at is None:
        return None
    of_light = light[at].astype(float)
    if len(of_light) < LEAST_PIXELS or not SHOWN[0] <= (mean := float(of_light.mean())) <= SHOWN[1]:
        return None
    (row, column), (height, width) = at, light.shape
    x = (2 * column - width) / max(light.shape)
    y = (2 * row - height) / max(light.shape)
    bent = [(mean + SRGB_OFFSET) * each for each in (x, y, x * x, x * y, y * y)]
    columns = np.stack([*(-one[at] for one in around), *bent], axis=1)
    counts = np.sqrt(min(len(row), COUNTED) / len(row))
    return counts * (columns - columns.mean(axis=0)), counts * (of_light - of_light.mean())


def _inside(corners: Floats, shape: tuple[int, ...]) -> tuple[NDArray[np.intp], NDArray[np.intp]] | None:
    """Return rows and columns of the pixels inside four corners; None where none lies in the picture."""
    low = np.maximum(np.floor(corners.min(axis=0)).astype(int), 0)
    high = np.minimum(np.ceil(corners.max(axis=0)).astype(int) + 1, shape[1::-1])
    if (high <= low).any():
        return None
    mask, middle = np.zeros((high - low)[::-1], np.uint8), corners.mean(axis=0)
    cv2.fillConvexPoly(mask, np.rint(middle + INNER * (corners - middle) - low).astype(np.int32), 1)
    row, column = np.nonzero(mask)
    return (row + low[1], column + low[0]) if len(row) else None


def _told_within(parts: Sequence[tuple[Floats, Floats]]) -> ContrastTold:
    """Return what areas tell by what changes within them."""
    columns, values = (np.concatenate(both) for both in zip(*parts, strict=True))
    bent, _ = np.linalg.qr(columns[:, len(RADII) :])
    around, values = (each - bent @ (bent.T @ each) for each in (columns[:, : len(RADII)], values))
    products, told = around.T @ around, around.T @ values
    left = float(values @ values - told @ np.linalg.lstsq(products, told)[0])
    variance = ALIKE * max(left, 1e-9) / sum(min(len(of_light), COUNTED) for _, of_light in parts)
    return ContrastTold(products / variance, told / variance)


def _told_by_patches(picture: Picture, fit: ReferenceFit, light: Light, around: Sequence[Light]) -> ContrastTold | None:
    """Return what the chart tells by what its patches are to a plain camera; None where their spectra aren't known."""
    paints, spectra = fit.correction.paints, fit.reference.chart.spectra
    if paints is None or spectra is None:
        return None
    numbers = np.array(fit.patches) - 1
    set_off, shown = list[list[float]](), list[Floats]()
    small = picture.small(1 / shrunk(picture))
    for corners in fit.reference.quads[numbers]:
        at = _inside(np.asarray(corners) / shrunk(picture), light.shape)
        if at is None:
            return None
        set_off.append([float((light[at] - one[at]).mean()) for one in around])
        shown.append(small[at].mean(axis=0) / 255)
    values, encoding = np.array(shown), fit.picture.encoding
    steep = (encoding.linear(values + _STEP) - encoding.linear(values - _STEP)) / (2 * _STEP)
    changes = -steep[:, :, None] * np.array(set_off)[:, None, :]
    return ContrastTold(*told_of_changes(fit.known, spectra[numbers], paints.priors, paints.camera, changes))
