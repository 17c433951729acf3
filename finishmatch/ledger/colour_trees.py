"""What lies in the trees of an index of colours: by which light each is put in, and in what order."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from finishmatch.colour import Floats, reflectance_to_lab
from finishmatch.ledger.kept_colours import KeptColour

Numbers = NDArray[np.int64]
_BITS = 10  # of each coordinate along the curve, in quarters of a unit


@dataclass(frozen=True, order=True)
class Tree:
    """The colours of one light: those whose spectrum is known, or those known as CIELAB in it alone."""

    spectral: bool
    light: str
    observer: int

    @property
    def name(self) -> str:
        """Of its table."""
        light = "".join(letter if letter.isalnum() else "_" for letter in self.light)
        return f"{'spectral' if self.spectral else 'lab'}_{light}_{self.observer}"


def kind_of(one: KeptColour) -> Tree:
    """Return by which a colour is counted: its own light, where no spectrum is known."""
    return Tree(True, "", 0) if one.reflectance is not None else Tree(False, one.light, one.observer)


def known_as_lab(colours: Sequence[KeptColour]) -> tuple[Numbers, Numbers, Floats]:
    return (
        np.array([one.number for one in colours], np.int64),
        np.array([one.job_id for one in colours], np.int64),
        np.array([one.lab for one in colours], float),
    )


def seen_in(spectra: Floats, tree: Tree) -> Floats:
    return reflectance_to_lab(spectra, tree.light, tree.observer)


def along_a_curve(labs: Floats) -> Numbers:
    """Return where colours, shape (n, 3), lie along a curve that fills CIELAB by steps to what is beside (Hilbert).

    References
    ----------
    Skilling 2004, Programming the Hilbert curve: coordinates are turned, half by half, into the bits of the place.
    """
    at = np.clip((labs + np.array([0.0, 128.0, 128.0])) * 4, 0, 2**_BITS - 1).astype(np.int64).T.copy()
    for bit in range(_BITS - 1, 0, -1):
        below = (1 << bit) - 1
        for axis in range(3):
            upper = (at[axis] >> bit & 1).astype(bool)
            swapped = np.where(upper, 0, (at[0] ^ at[axis]) & below)
            at[0] ^= np.where(upper, below, swapped)
            at[axis] ^= swapped
    at[1] ^= at[0]
    at[2] ^= at[1]
    turned = np.zeros_like(at[0])
    for bit in range(_BITS - 1, 0, -1):
        turned ^= np.where(at[2] >> bit & 1, (1 << bit) - 1, 0)
    at ^= turned
    place: Numbers = np.zeros_like(at[0])
    for bit in range(_BITS - 1, -1, -1):
        for axis in range(3):
            place = place << 1 | (at[axis] >> bit & 1)
    return place
