"""By what a copy of a photograph is known that was turned, scaled or compressed anew: its light, and what is its noise.

A copy has the light of the first in every block of it to a tenth of a step of 255 or two; a camera that was held a
pixel elsewhere, or lit a thousandth otherwise, hasn't. Two exposures on a stand may have it, never their noise: where
the scene is flat, a small part departs from its surroundings by noise alone, and a copy of the same sides has that.
"""

from __future__ import annotations

import base64
import math
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property, lru_cache

import numpy as np
from numpy.typing import NDArray

from finishmatch.colour import Floats

Bools = NDArray[np.bool_]
BLOCKS, PARTS = (9, 12), (39, 52)  # rows and columns of a picture that lies: of its light, and of its noise
NOT_FLAT = -128
STEP, LIGHT_STEP = 0.05, 0.01  # of 255, in which they are kept
# «measured on rendered photographs», tests/photo/test_likeness.py: of 255, how far the light of a copy is off, root
# mean square and at most, of one that was made smaller and of one that has the sides of the first: of the latter also
# how far its noise goes with that of the first, where it is compressed otherwise, and where it is compressed alike
_SMALLER, _AS_LARGE = (0.3, 1.0), (0.1, 0.4)
_SAVED_ANEW, _ALIKE = 0.935, 0.955
_LEAST_PARTS = 150
_KEYED = 2.0  # of 255: photographs are looked up by mean and spread of their light, so far from step to step


@dataclass(frozen=True, eq=False)
class Likeness:
    """What is kept of a photograph to know a copy of it.

    Parameters
    ----------
    form : str
        Its sides in pixels, the longer first, and how its file is compressed, "4000x3000-9f3a11c2": pictures of one
        camera share it, and a copy that was made smaller, or saved anew, has another.
    stands : bool
        Whether it is higher than wide, and was laid on its side to be looked at.
    light : ndarray of uint16, shape `BLOCKS`
        Of its blocks, in `LIGHT_STEP`s.
    noise : ndarray of int8, shape `PARTS`
        By what parts depart from their surroundings, in `STEP`s; `NOT_FLAT` where the picture isn't.
    """

    form: str
    stands: bool
    light: NDArray[np.uint16]
    noise: NDArray[np.int8]

    def __str__(self) -> str:
        """Return it as text without blanks, commas and colons."""
        data = self.light.astype("<u2").tobytes() + self.noise.tobytes()
        return f"{self.form}.{'s' if self.stands else 'l'}.{base64.urlsafe_b64encode(data).decode()}"

    @cached_property
    def lies(self) -> tuple[tuple[Floats, Floats, Bools], ...]:
        """Light, noise, and where that is known, as it lies and turned round."""
        light, noise = self.light * np.float64(LIGHT_STEP), self.noise * np.float64(STEP)
        known: Bools = np.asarray(self.noise != NOT_FLAT)
        return (light, noise, known), (light[::-1, ::-1], noise[::-1, ::-1], known[::-1, ::-1])

    @property
    def keys(self) -> set[str]:
        """By what it is looked up: of two that are of one photograph at least one is the same."""
        light = self.lies[0][0]
        means, spreads = (_within(float(value)) for value in (light.mean(), light.std()))
        return {f"{mean}-{spread}" for mean in means for spread in spreads}

    @property
    def key(self) -> str:
        """That of its keys which its own light has."""
        light = self.lies[0][0]
        return f"{math.floor(light.mean() / _KEYED)}-{math.floor(light.std() / _KEYED)}"

    @property
    def sides(self) -> str:
        """In pixels, the longer first: "4000x3000"."""
        return self.form.partition("-")[0]

    def place(self, x: float, y: float, turned: bool) -> tuple[float, float]:
        """Return a place in pixels of the upright picture, as shares of its sides as it lies, or turned round."""
        longer, shorter = map(int, self.sides.split("x"))
        u, v = (y / longer, 1 - x / shorter) if self.stands else (x / longer, y / shorter)
        return (1 - u, 1 - v) if turned else (u, v)


def _within(value: float) -> set[int]:
    return {math.floor((value + off) / _KEYED) for off in (-_SMALLER[0], 0.0, _SMALLER[0])}


def turns_of(one: Likeness, other: Likeness) -> Iterator[bool]:
    """Yield how another file is to be turned as it lies, not at all or round, so that it is of the same photograph.

    Nothing where the two are of two photographs.
    """
    light, noise, known = one.lies[0]
    as_large = one.sides == other.sides
    needed, (mean, most) = _ALIKE if one.form == other.form else _SAVED_ANEW, _AS_LARGE if as_large else _SMALLER
    for turned, (its_light, its_noise, its_known) in zip((False, True), other.lies, strict=True):
        off = np.abs(light - its_light)
        if float(np.sqrt(np.mean(off**2))) > mean or float(off.max()) > most:
            continue
        both = known & its_known
        # of one that was made smaller its noise may be gone; no second exposure has its light, but on a stand
        if not as_large or _go_together(noise[both], its_noise[both]) > needed:
            yield turned


def _go_together(a: Floats, b: Floats) -> float:
    """Return the correlation of values; 0 of too few, and of such as are all alike."""
    if len(a) < _LEAST_PARTS:
        return 0.0
    a, b = a - a.mean(), b - b.mean()
    size = float(np.sqrt((a @ a) * (b @ b)))
    return float(a @ b) / size if size > 0 else 0.0


def same_photograph(one: Likeness | None, other: Likeness | None) -> bool:
    """Return whether two files are of one photograph, whichever way each is turned; of None nobody knows."""
    return one is not None and other is not None and any(True for _ in turns_of(one, other))


@lru_cache(maxsize=4096)
def likeness_kept(text: str) -> Likeness | None:
    """Return a likeness from its text; None where that is none."""
    form, _, coded = text.rpartition(".")
    form, _, lies = form.rpartition(".")
    size = 2 * BLOCKS[0] * BLOCKS[1]
    try:
        data = base64.urlsafe_b64decode(coded.encode())
    except ValueError:
        return None
    if len(data) != size + PARTS[0] * PARTS[1]:
        return None
    light = np.frombuffer(data[:size], "<u2").reshape(BLOCKS).astype(np.uint16)
    return Likeness(form, lies == "s", light, np.frombuffer(data[size:], np.int8).reshape(PARTS))
