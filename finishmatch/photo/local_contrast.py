"""Contrast that a phone adds where light meets dark: found in the areas of a photograph that are even, and taken out.

A phone sets a place off against what lies around it («common practice»: local tone mapping, unsharp masking). Patches
of the chart lie in a dark frame and samples on white paper, so it makes the one lighter and the other darker: with
three tenths of it added, colours of rendered photographs on the shop's card were read 2.1 off in the median that are
read 0.6 off without (docs/accuracy.md).

What gives it away is that a patch is one colour all over, and in the picture it isn't: its edge is set off more than
its middle, by as much as the blurred picture changes across it. How a light falls off is smooth over all patches.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from itertools import combinations
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from finishmatch.colour import Floats
from finishmatch.photo.correct.correction import score
from finishmatch.photo.open.picture import RAW, Picture
from finishmatch.photo.reference import ReferenceFit

# of the larger side, and how many at most: what a phone adds over any is near to a sum of two of these
RADII, MANY = tuple(1.5**k / 120 for k in range(7)), 2
LEAST = 0.05  # in each half of the patches; glare and uneven light show 0.045 at most in 48 rendered pictures
WORSE = 1.05  # where patches that are left out are missed by so much more without it, it isn't taken out
INNER, LEAST_PIXELS, COUNTED, LEAST_FLATS = 0.9, 30, 600, 8
SRGB_OFFSET = 0.055  # IEC 61966-2-1: a value and this go with a root of the light
SHOWN = (0.1, 0.97)  # of full scale: darker areas show noise, lighter ones are cut off
LOOKED_AT_PX, BLURRED_PX = 600, 3  # the larger side that it is looked for at; a blur's radius there
STRIP = 256  # rows

Light = NDArray[np.float32]


@dataclass(frozen=True)
class Evened:
    """A photograph whose patches are read as they are without what a phone added.

    Parameters
    ----------
    picture : Picture
        The photograph itself where nothing was found, or its chart would be read clearly worse without.
    fit : ReferenceFit
    added : float
        By how much of what sets a place off against its surroundings it was set off more; 0 where nothing is taken out.
    """

    picture: Picture
    fit: ReferenceFit
    added: float = 0.0

    @property
    def notes(self) -> list[str]:
        """What to say of it."""
        if not self.added:
            return []
        return [
            f"the camera set light and dark off against each other by some {100 * self.added:.0f} % more than they "
            "are: that is taken out; a raw file (DNG) has none of it"
        ]


def without_local_contrast(
    picture: Picture, fit: ReferenceFit, again: Callable[[Picture], ReferenceFit | None]
) -> Evened:
    """Return the correction by a photograph without the contrast that its camera added, where it had added any.

    Parameters
    ----------
    picture : Picture
    fit : ReferenceFit
        As the photograph is.
    again : callable
        Works the correction out for the photograph as it would be without.
    """
    as_it_is = Evened(picture, fit)
    if fit.reference.printed or picture.kind == RAW or picture.encoding.name == "linear":
        return as_it_is
    amounts = added_contrast(picture, fit.reference.quads)
    if amounts is None:
        return as_it_is
    evened = without(picture, amounts)
    found = again(evened)
    if found is None or score(found.correction.left_out) > WORSE * score(fit.correction.left_out):
        return as_it_is
    return Evened(evened, found, float(amounts.sum()))


def added_contrast(picture: Picture, flats: Sequence[Floats] | Floats) -> Floats | None:
    """Return how much contrast was added over each radius, shape (radii,); None where there is none to speak of.

    Parameters
    ----------
    picture : Picture
        In values as a screen shows them.
    flats : sequence of ndarray, shape (4, 2)
        Corners of areas of one colour each, pixels.

    Notes
    -----
    In an even area a value is (1 + Σ a) y − Σ a B, with B the picture blurred over a radius: so what a value changes by
    within areas, beyond a light that is a bent plane over all of them, is told by what the B change by. The areas
    by turns must both show it, or it is something else that lies over some of them.
    """
    light, parts = _light(picture), list[tuple[Floats, Floats]]()
    around = [_blurred(light, radius) for radius in RADII]
    for corners in flats:
        part = _within(np.asarray(corners) / _shrunk(picture), light, around)
        parts += [] if part is None else [part]
    if len(parts) < LEAST_FLATS or any(_amounts(parts[half::2]).sum() < LEAST for half in (0, 1)):
        return None
    return _amounts(parts)


def without(picture: Picture, amounts: Floats) -> Picture:
    """Return a photograph without the contrast that was added; what is cut off stays so.

    Parameters
    ----------
    picture : Picture
    amounts : ndarray, shape (radii,)
        As `added_contrast` returns them.
    """
    light, values, full = _light(picture), picture.values, picture.full_scale
    blurred = [amount * _blurred(light, radius) for amount, radius in zip(amounts, RADII, strict=True)]
    (width, height), whole = picture.size, 1 + float(amounts.sum())
    around = cv2.resize(np.sum(blurred, axis=0), (width, height), interpolation=cv2.INTER_LINEAR)
    around *= np.float32(full / whole)
    evened = np.empty_like(values)
    for top in range(0, height, STRIP):  # a large picture in floats all at once would be several times as large
        strip = values[top : top + STRIP]
        found = strip.astype(np.float32)
        change = cv2.transform(found, np.full((1, 3), (1 / whole - 1) / 3, np.float32))
        change += around[top : top + STRIP]
        found += cv2.merge([change] * 3)
        np.clip(np.rint(found, out=found), 1, full - 1, out=found)
        np.copyto(found, strip, where=(strip == 0) | (strip == full))
        evened[top : top + STRIP] = found
    return _with_values(picture, evened)


def _with_values(picture: Picture, values: NDArray[Any]) -> Picture:
    """Return a picture of other values, whose chroma is known as finely: all three channels were changed alike."""
    found = replace(picture, values=values)
    if "finer" in vars(picture):
        vars(found)["finer"] = picture.finer
    return found


def _shrunk(picture: Picture) -> int:
    """Return how many times smaller a picture is looked at."""
    times = max(1, round(max(picture.size) / LOOKED_AT_PX))
    return times + times % 2 if times > 2 else times  # halves of a picture are at hand


def _light(picture: Picture) -> Light:
    """Return how light a picture is, 0 to 1, shrunk to what it is looked for at."""
    small = picture.small(1 / _shrunk(picture)).astype(np.float32)
    return np.asarray(cv2.transform(small, np.full((1, 3), 1 / (3 * 255), np.float32)), np.float32)


def _blurred(light: Light, radius: float) -> Light:
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
    height, width = light.shape
    low = np.maximum(np.floor(corners.min(axis=0)).astype(int), 0)
    high = np.ceil(corners.max(axis=0)).astype(int) + 1
    here = slice(low[1], high[1]), slice(low[0], high[0])
    values, mask = light[here], np.zeros(light[here].shape, np.uint8)
    if not mask.size:
        return None
    middle = corners.mean(axis=0)
    cv2.fillConvexPoly(mask, np.rint(middle + INNER * (corners - middle) - low).astype(np.int32), 1)
    row, column = np.nonzero(mask)
    if len(row) < LEAST_PIXELS or not SHOWN[0] <= (mean := float(values[row, column].mean())) <= SHOWN[1]:
        return None
    x = (2 * (column + low[0]) - width) / max(light.shape)
    y = (2 * (row + low[1]) - height) / max(light.shape)
    bent = [(mean + SRGB_OFFSET) * each for each in (x, y, x * x, x * y, y * y)]
    columns = np.stack([*(-one[here][row, column] for one in around), *bent], axis=1)
    counts = np.sqrt(min(len(row), COUNTED) / len(row))
    of_light = values[row, column].astype(float)
    return counts * (columns - columns.mean(axis=0)), counts * (of_light - of_light.mean())


def _amounts(parts: Sequence[tuple[Floats, Floats]]) -> Floats:
    """Return the amounts, none below 0, that tell best what values change by within areas.

    All choices of `MANY` radii are tried: more at once take noise for contrast, and stray further from its sum.
    """
    columns, values = (np.concatenate(both) for both in zip(*parts, strict=True))
    bent, _ = np.linalg.qr(columns[:, len(RADII) :])
    around, values = (each - bent @ (bent.T @ each) for each in (columns[:, : len(RADII)], values))
    products, told = around.T @ around, around.T @ values
    best, most = np.zeros(len(RADII)), 0.0
    for many in range(1, MANY + 1):
        for chosen in map(list, combinations(range(len(RADII)), many)):
            found = np.linalg.lstsq(products[np.ix_(chosen, chosen)], told[chosen])[0]
            if (found >= 0).all() and (explained := float(told[chosen] @ found)) > most:
                best, most = np.zeros(len(RADII)), explained
                best[chosen] = found
    return best
