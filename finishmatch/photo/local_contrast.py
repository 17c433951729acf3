"""Contrast that a phone adds where light meets dark: found in the areas of a photograph that are even, and taken out.

A phone sets a place off against what lies around it («common practice»: local tone mapping, unsharp masking). Patches
of the chart lie in a dark frame and samples on white paper, so it makes the one lighter and the other darker: with
three tenths of it added, colours of rendered photographs on the shop's card were read 2.1 off in the median that are
read 0.6 off without (docs/accuracy.md).

What gives it away is that a patch is one colour all over, and in the picture it isn't: its edge is set off more than
its middle, by as much as the blurred picture changes across it (`added_contrast`). How a light falls off is smooth over
all patches.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from finishmatch.colour import Floats
from finishmatch.photo.added_contrast import RADII, added_contrast, blurred, light_of
from finishmatch.photo.correct.correction import Correction, score
from finishmatch.photo.open.picture import RAW, Picture
from finishmatch.photo.reference import ReferenceFit

WORSE = 1.05  # where patches left out, and a plain camera, are off by so much more without it, it isn't taken out
STRIP = 256  # rows


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
    amounts = added_contrast(picture, fit.reference.quads, fit)
    if amounts is None:
        return as_it_is
    evened = without(picture, amounts)
    found = again(evened)
    if found is None or _is_worse(found.correction, fit.correction):
        return as_it_is
    return Evened(evened, found, float(amounts.sum()))


def _is_worse(found: Correction, before: Correction) -> bool:
    """Return whether a correction explains its chart worse than one before it.

    Patches left out alone don't say so: once a plain camera explains the chart, its paints serve, which are judged on
    patches that aren't paints.
    """
    if score(found.left_out) <= WORSE * score(before.left_out):
        return False
    if found.paints is None or before.paints is None:
        return True
    return found.paints.camera.misfit > WORSE * before.paints.camera.misfit


def without(picture: Picture, amounts: Floats) -> Picture:
    """Return a photograph without the contrast that was added; what is cut off stays so.

    Parameters
    ----------
    picture : Picture
    amounts : ndarray, shape (radii,)
        As `added_contrast` returns them.
    """
    light, values, full = light_of(picture), picture.values, picture.full_scale
    each = [amount * blurred(light, radius) for amount, radius in zip(amounts, RADII, strict=True)]
    (width, height), whole = picture.size, 1 + float(amounts.sum())
    around = cv2.resize(np.sum(each, axis=0), (width, height), interpolation=cv2.INTER_LINEAR)
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
