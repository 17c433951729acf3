"""What lies in the trees of an index of colours: by which light each is put in, and in what order."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from finishmatch.colour import Floats, reflectance_to_lab
from finishmatch.ledger.kept_colours import KeptColour

Numbers = NDArray[np.int64]


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


def along_a_curve(labs: Floats) -> NDArray[np.uint64]:
    """Return where colours, shape (n, 3), lie along a curve that fills CIELAB: the bits of each in turn (Morton)."""
    steps = np.clip((labs + np.array([0.0, 128.0, 128.0])) * 4, 0, 1023).astype(np.uint64)
    place = np.zeros(len(labs), np.uint64)
    for bit in range(10):
        for axis in range(3):
            place |= ((steps[:, axis] >> np.uint64(bit)) & np.uint64(1)) << np.uint64(3 * bit + axis)
    return place
