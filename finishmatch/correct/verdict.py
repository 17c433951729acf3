"""The verdict on a trial against its standard: difference, direction in words, inside or outside."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from finishmatch.colour import Floats, cielab_delta, de00, difference_words, metamerism_index
from finishmatch.colour.difference import CielabDelta
from finishmatch.errors import InputError
from finishmatch.readings import Reading
from finishmatch.readings.geometry_names import GLOSS_COUNTS


@dataclass(frozen=True)
class Verdict:
    """How a trial differs from its standard, trial minus standard.

    `de00`, `de76`, `delta` and `words` are taken in the reference light, the first of `lights`; `within` in the worst.
    `u95` is the ΔE00 that the difference is known within there 95 times in 100; None where nobody said.
    """

    de00: float
    de76: float
    delta: CielabDelta
    lights: dict[str, float]
    metamerism: float | None
    words: tuple[str, ...]
    tolerance: float
    standard_lab: Floats
    trial_lab: Floats
    observer: int
    warnings: tuple[str, ...] = ()
    u95: float | None = None

    @property
    def sure(self) -> bool:
        """Whether it stands whatever of its doubt is so: the difference is that far from the tolerance."""
        return self.u95 is None or abs(self.lights[self.worst_light] - self.tolerance) > self.u95

    @property
    def worst_light(self) -> str:
        """The light in which the difference is largest."""
        return max(self.lights, key=lambda light: self.lights[light])

    @property
    def within(self) -> bool:
        """Whether the difference is inside the tolerance in every light."""
        return self.lights[self.worst_light] <= self.tolerance


def judge(
    standard: Reading, trial: Reading, lights: tuple[str, ...], observer: int = 10, tolerance: float = 1.0
) -> Verdict:
    """Judge a trial against a standard.

    Parameters
    ----------
    standard, trial : Reading
    lights : tuple of str
        The lights to judge in, the reference first. Where only CIELAB is known of one of the two, the judgement is
        made in the light of that, and a warning says so.
    observer : int
        2 or 10.
    tolerance : float
        ΔE00, above 0.

    Returns
    -------
    Verdict

    Raises
    ------
    InputError
        For a tolerance that isn't above 0, or two CIELAB readings under different lights.
    """
    if not (np.isfinite(tolerance) and tolerance > 0):
        raise InputError("`tolerance`", f"{tolerance:g} is not a tolerance", "give a ΔE00 above 0")
    warnings = list(dict.fromkeys((*standard.warnings, *trial.warnings)))
    lights, observer, cost = _viewing(standard, trial, lights, observer)
    warnings += cost
    unlike = standard.geometry and trial.geometry and standard.geometry != trial.geometry
    if unlike and not any(GLOSS_COUNTS in warning for warning in warnings):
        warnings.append(f"the geometries differ ({standard.geometry}, {trial.geometry}): {GLOSS_COUNTS}")
    pairs = {light: (standard.lab_in(light, observer), trial.lab_in(light, observer)) for light in lights}
    one, two = pairs[lights[0]]
    delta = cielab_delta(one, two)
    metamerism = None
    if standard.reflectance is not None and trial.reflectance is not None and len(lights) > 1:
        metamerism = max(
            float(metamerism_index(standard.reflectance, trial.reflectance, lights[0], light, observer))
            for light in lights[1:]
        )
    return Verdict(
        de00=float(de00(one, two)),
        de76=float(delta.E),
        delta=delta,
        lights={light: float(de00(*pair)) for light, pair in pairs.items()},
        metamerism=metamerism,
        words=tuple(difference_words(one, two)),
        tolerance=tolerance,
        standard_lab=one,
        trial_lab=two,
        observer=observer,
        warnings=tuple(warnings),
    )


def _viewing(
    standard: Reading, trial: Reading, lights: tuple[str, ...], observer: int
) -> tuple[tuple[str, ...], int, list[str]]:
    """Return the lights and observer that both readings can be judged in, and what that costs."""
    typed = [reading for reading in (standard, trial) if not reading.is_spectral]
    if not typed:
        return lights, observer, []
    states = {(reading.light, reading.observer) for reading in typed}
    if len(states) > 1:
        both = " and ".join(f"{light}, {degrees}°" for light, degrees in sorted(states))
        raise InputError(
            trial.name, f"the two are Lab under different conditions ({both})", "give both under one light and observer"
        )
    light, degrees = states.pop()
    if (light,) == lights and degrees == observer:
        return lights, observer, []
    return (light,), degrees, [f"only Lab is known, so they are judged under {light}, {degrees}° alone"]
