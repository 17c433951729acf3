"""A reading: one colour as it was measured or typed, with its repeats."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from pathlib import Path

import numpy as np

from finishmatch.colour import Floats, de00, reflectance_to_lab
from finishmatch.errors import InputError
from finishmatch.optics.camera_look import CameraSaw, PairLook
from finishmatch.readings.geometry_names import aspecular_deg


@dataclass(frozen=True)
class TargetFacts:
    """What is known of a target: tolerance and u95 in ΔE00, covariance of L*, a*, b* of shape (3, 3), each or None.

    Of a colour that was photographed also by which `pictures`, and as `u95_own` what of the u95 these don't share.
    """

    tolerance: float | None = None
    u95: float | None = None
    covariance: Floats | None = None
    u95_own: float | None = None
    pictures: tuple[str, ...] = ()

    @property
    def weighed(self) -> bool:
        """Whether evidence was weighed for it; else one reading is known to its u95."""
        return self.tolerance is not None or self.covariance is not None


@dataclass(frozen=True)
class DifferenceByBank:
    """A trial less its standard as a bank has it, by what a camera saw of both and by what was poured.

    Parameters
    ----------
    delta : ndarray, shape (3,)
        ΔL*, Δa*, Δb*.
    covariance : ndarray, shape (3, 3)
    u95 : float
        ΔE00 within which it is known 95 times in 100.
    """

    delta: Floats
    covariance: Floats
    u95: float


@dataclass(frozen=True)
class SeenDifference:
    """A trial less its standard, as the two were seen side by side in one light.

    Parameters
    ----------
    delta : ndarray, shape (3,)
        ΔL*, Δa*, Δb*.
    u95 : float
        ΔE00 within which it is known 95 times in 100.
    light : str
        "" is that of the standard.
    observer : int
    covariance : ndarray, shape (3, 3), or None
        Of the delta; None is as the u95 says, alike in all directions.
    pictures : int
        Photographs it is combined from; 0 when it was told.
    geometry : str
        In which the two were seen; "" when that isn't known.
    u95_more : float or None
        What four times as many would tell; None is half.
    standard : ndarray, shape (3,), or None
        CIELAB of the standard in this light, where it is known.
    standard_covariance : ndarray, shape (3, 3), or None
    marks : tuple of str
        By which a photograph of this card is known again, one of each photograph.
    alike_u95 : float or None
        Where photographs in several lights told it together, the ΔE00 it would be known within were the two of the same
        pigments: the rest of `u95` is what cameras make of other pigments, which the next picture repeats.
    by_itself : TargetFacts or None
        Where the trial was photographed by itself, what its own colour is known to: this is then its colour less that
        of the standard, `u95` holds the doubt of both, and the covariances are those of the trial's colour: what is
        its own, and, as that of the standard, what both are off by.
    moved : ndarray, shape (3,), or None
        By how much the standard's CIELAB is moved, in this light, as the bank has what the camera saw of it: neither
        it nor the trial's is moved here.
    looks : tuple of PairLook
        What the camera saw of the two, in each photograph by which it is known well enough.
    by_bank : DifferenceByBank or None
        What the difference was taken for, where a bank tells more of it than the photographs by themselves.
    alone_u95 : float or None
        Of a difference that is as a bank has it (`readings.seen.told_by_bank`), from how much on the photographs by
        themselves told it from none.
    """

    delta: Floats
    u95: float
    light: str = ""
    observer: int = 10
    covariance: Floats | None = None
    pictures: int = 0
    geometry: str = ""
    u95_more: float | None = None
    standard: Floats | None = None
    standard_covariance: Floats | None = None
    marks: tuple[str, ...] = ()
    alike_u95: float | None = None
    by_itself: TargetFacts | None = None
    moved: Floats | None = None
    looks: tuple[PairLook, ...] = ()
    by_bank: DifferenceByBank | None = None
    alone_u95: float | None = None

    @property
    def across_lights(self) -> bool:
        """Whether photographs in several lights told it together."""
        return self.alike_u95 is not None


@dataclass(frozen=True)
class Reading:
    """One colour, with the repeats it is the mean of.

    Parameters
    ----------
    name : str
    repeats : ndarray, shape (n, 31) or (n, 3)
        Reflectance factors on the house grid, or CIELAB, one row per repeat.
    light, observer
        What a CIELAB reading was taken under; for a spectrum the default in which its spread is given.
    geometry : str
        "di8", "de8", "45/0", "45as15" (lit at 45°, 15° off the gloss; ASTM E2194), or "" when it isn't known.
    source : Path or None
        The file it came from; None when typed.
    warnings : tuple of str
        What the painter should know of how it was read.
    views : tuple of Reading
        Every geometry the sample was read in, this one among them, when there are several; empty otherwise.
    conversion_sd : ndarray, shape (31,), or None
        Standard deviation of its reflectance, at all wavelengths together, when it was converted from another geometry.
    target : TargetFacts or None
        What a file says of it as a target: how near a match must come, how surely it is known.
    seen : tuple of SeenDifference
        Where only its difference from its standard was seen: that, in each light. Its CIELAB is then the standard's and
        the first of these.
    camera_saw : tuple of CameraSaw
        Of a colour that was read of photographs, what the camera saw besides; of one that was weighed from several
        samples, of each that was photographed.
    """

    name: str
    repeats: Floats
    light: str = "D65"
    observer: int = 10
    geometry: str = ""
    source: Path | None = None
    warnings: tuple[str, ...] = ()
    target: TargetFacts | None = None
    views: tuple[Reading, ...] = ()
    conversion_sd: Floats | None = None
    seen: tuple[SeenDifference, ...] = ()
    camera_saw: tuple[CameraSaw, ...] = ()

    @property
    def angles(self) -> dict[float, Reading]:
        """The readings at several angles, by the angle off the gloss in degrees, nearest to it first; may be empty."""
        found = {aspecular_deg(view.geometry): view for view in self.views}
        return {angle: found[angle] for angle in sorted(angle for angle in found if angle is not None)}

    def view(self, geometry: str) -> Reading:
        """Return the sample as it was read in a geometry.

        Raises
        ------
        InputError
            When it wasn't read so.
        """
        seen = {view.geometry: view for view in self.views or (self,)}
        if geometry not in seen:
            views = ", ".join(name or "an unknown geometry" for name in seen)
            raise InputError(self.name, f"was not read as {geometry}", f"it was read as {views}")
        return seen[geometry]

    @property
    def is_spectral(self) -> bool:
        """Whether a spectrum is known, or only CIELAB."""
        return bool(self.repeats.shape[1] != 3)

    @cached_property
    def reflectance(self) -> Floats | None:
        """Mean reflectance factor, shape (31,), or None."""
        return self.repeats.mean(axis=0) if self.is_spectral else None

    @cached_property
    def lab(self) -> Floats | None:
        """Mean CIELAB as given, shape (3,), or None when a spectrum is known."""
        return None if self.is_spectral else self.repeats.mean(axis=0)

    @cached_property
    def spread_de00(self) -> float | None:
        """Mean ΔE00 of the repeats from their mean, under `light` and `observer`; None for a single reading.

        The mean colour difference from the mean, as ASTM E2214 gives repeatability.
        """
        if len(self.repeats) < 2:
            return None
        labs = reflectance_to_lab(self.repeats, self.light, self.observer) if self.is_spectral else self.repeats
        return float(de00(self.lab_in(self.light, self.observer), labs).mean())

    def lab_in(self, light: str, observer: int) -> Floats:
        """Return CIELAB, shape (3,), under a light and observer.

        Raises
        ------
        InputError
            When only CIELAB under another light or observer is known.
        """
        if self.reflectance is not None:
            return reflectance_to_lab(self.reflectance, light, observer)
        if (light, observer) != (self.light, self.observer):
            raise InputError(
                self.name,
                f"only its Lab under {self.light}, {self.observer}° is known",
                f"measure a spectrum to judge it under {light}, {observer}°",
            )
        lab: Floats = np.asarray(self.lab, dtype=float)
        return lab
