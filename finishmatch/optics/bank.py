"""A bank of tints and the panels it was characterised from, as plain data."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from finishmatch.colour import Floats
from finishmatch.optics.camera_look import CameraLook

ROLES = ("white", "black", "tint", "clear")


@dataclass(frozen=True)
class Tint:
    """One tin of the bank: what a painter weighs, and what of it stays in the dry film.

    `hazards` name what harms in it ("lead"), `hazards_by` what they are known by: the bank's file or a pigment's name.
    `lot` distinguishes one tin of a tint from the next; "" where the shop keeps none. `panels_lot` is the lot that the
    panels were drawn from; "" where that isn't known.
    """

    name: str
    role: str
    colour_index: str
    density_kg_l: float
    volume_solids: float
    price_per_kg: float
    stock_g: float
    hazards: tuple[str, ...] = ()
    hazards_by: str = ""
    lot: str = ""
    panels_lot: str = ""

    @property
    def dry_ml_per_g(self) -> float:
        """Dry film volume of a gram as weighed, mL/g."""
        return self.volume_solids / self.density_kg_l


@dataclass(frozen=True)
class SeenColour:
    """The colour of a panel of which no spectrum is known, as an eye or a camera saw it, without its gloss.

    Parameters
    ----------
    lab : ndarray, shape (3,)
        CIELAB (D65, 10°).
    covariance : ndarray, shape (3, 3)
        Of its own error.
    picture : str
        What else was seen with it; "" where nothing was.
    shared : ndarray, shape (3, 3)
        Covariance of what all that was seen in the picture is off by.
    of_camera, of_tint : ndarray, shape (3, 3), or None
        Covariance of what all panels are off by before the camera, and of what those of its tint are off by besides, in
        whichever picture; None is nothing.
    looks : tuple of CameraLook
        What cameras saw of it, where that is known: beside the colour it tells more of the spectrum.
    """

    lab: Floats
    covariance: Floats
    picture: str
    shared: Floats
    of_camera: Floats | None = None
    of_tint: Floats | None = None
    looks: tuple[CameraLook, ...] = ()


@dataclass(frozen=True)
class Panel:
    """A drawn-down panel: what was weighed into it, what it lies on, and its readings.

    `ground` and `build_um` are None for a panel that hides; `repeats` has shape (n, 31). Of a panel that was only
    `seen` they are a spectrum that stands for its colour.
    """

    name: str
    grams: tuple[tuple[str, float], ...]
    ground: str | None
    build_um: float | None
    repeats: Floats
    seen: SeenColour | None = None

    @property
    def hides(self) -> bool:
        """Whether the panel was read as one that hides its ground."""
        return self.ground is None

    @property
    def reflectance(self) -> Floats:
        """Mean reading, shape (31,)."""
        mean: Floats = self.repeats.mean(axis=0)
        return mean


@dataclass(frozen=True)
class Bank:
    """A bank of tints with its panels and grounds; `digest` is the hash of what it was read from."""

    name: str
    geometry: str
    binder_index: float
    tints: tuple[Tint, ...]
    panels: tuple[Panel, ...]
    grounds: tuple[tuple[str, Floats], ...]
    digest: str
    warnings: tuple[str, ...] = ()

    @property
    def tint_names(self) -> list[str]:
        """Names in the order of the bank."""
        return [tint.name for tint in self.tints]

    @property
    def densities(self) -> dict[str, float]:
        """Densities of the tints in kg/L, by name, in the order of the bank."""
        return {tint.name: tint.density_kg_l for tint in self.tints}

    def coloured(self, panel: Panel) -> tuple[tuple[str, float], ...]:
        """Return what makes colour in a panel: its parts (tint, grams) without the clears."""
        clears = {tint.name for tint in self.tints if tint.role == "clear"}
        return tuple((tint, grams) for tint, grams in panel.grams if grams > 0 and tint not in clears)

    def tint(self, name: str) -> Tint:
        """Return the tint of a name; KeyError when there is none."""
        for tint in self.tints:
            if tint.name == name:
                return tint
        raise KeyError(name)


def volume_fractions(grams: Floats, dry_ml_per_g: Floats) -> Floats:
    """Return the dry volume fraction of each tint in the film.

    Parameters
    ----------
    grams : ndarray, shape (..., n)
        As weighed.
    dry_ml_per_g : ndarray, shape (n,)
        Volume solids over density of each tint.

    Returns
    -------
    ndarray, shape (..., n)
        Summing to 1.
    """
    volume = np.asarray(grams, dtype=float) * np.asarray(dry_ml_per_g, dtype=float)
    fractions: Floats = volume / volume.sum(axis=-1, keepdims=True)
    return fractions
