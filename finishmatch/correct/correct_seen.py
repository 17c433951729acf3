"""A tin corrected by a difference that was seen: until it is inside what can be told, and no further."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

import numpy as np

from finishmatch.colour import cielab_delta, de00, difference_words
from finishmatch.colour.told_within import known_in_words, told_within
from finishmatch.correct.correct import correct_batch
from finishmatch.correct.correction import Correction
from finishmatch.correct.updated_tin import TinRecord
from finishmatch.correct.verdict import Verdict
from finishmatch.evidence.target import ColourTarget
from finishmatch.mix.weighing import Scale
from finishmatch.optics import Tint, TintOptics
from finishmatch.readings import Reading
from finishmatch.readings.seen import as_near_as_told, seen_de00, told_apart_from


def told_tolerances(tolerance: float, trial: Reading) -> dict[str, float]:
    """Return the ΔE00 a seen difference is corrected to in each light: the tolerance, or what it is known within.

    Whichever is more, to a hundredth, as it is shown and kept (`told_within`). A lamp's picture tells less than one in
    daylight; what daylight tells isn't let go for it.
    """
    return {one.light: max(tolerance, told_within(told_apart_from(one))) for one in trial.seen}


def correct_seen(
    target: ColourTarget,
    optics: TintOptics,
    tints: tuple[Tint, ...],
    batch: tuple[tuple[str, float], ...],
    trial: Reading,
    tolerance: float = 0.5,
    max_growth: float = 0.2,
    scale: Scale | None = None,
    record: TinRecord | None = None,
) -> Correction:
    """Return the smallest addition that brings a tin inside what a difference from its standard can tell.

    Parameters
    ----------
    target, optics, tints, batch, max_growth, scale, record
        As for `correct_batch`.
    trial : Reading
        The spray-out, with its differences from the standard (`Reading.seen`).
    tolerance : float
        ΔE00; where the difference isn't known within it in a light, what it is known within there counts.

    Raises
    ------
    InputError
        As `correct_batch`.
    """
    limits, seen = told_tolerances(tolerance, trial), seen_de00(trial)
    said = known_in_words({one.light: one.u95 for one in trial.seen})
    found = correct_batch(target, optics, tints, batch, trial, [*limits.values()], max_growth, scale, record)
    told = {one.light: max(tolerance, told_within(one.u95)) for one in trial.seen}
    if not found.reachable and told != limits:
        nearer = correct_batch(target, optics, tints, batch, trial, [*told.values()], max_growth, scale, record)
        if nearer.reachable:
            return _as_far_as_told(nearer, said)
    if found.additions or not found.reachable or (record is not None and record.since):
        return found
    if any(de > limits[light] for light, de in seen.items()):
        why = f"with what earlier cards showed it is likelier inside {said} than not: add nothing"
    elif as_near_as_told(trial):
        why = f"as near as this can tell: {said}; add nothing"
    else:
        why = f"inside the tolerance, as far as this can tell ({said}): add nothing"
    return replace(found, why=why)


def _as_far_as_told(found: Correction, said: str) -> Correction:
    """Return a correction to what a difference is known within, where adding can't take all away that is seen."""
    if found.additions:
        return replace(found, why=f"{found.why}; that is as near as adding brings it, and inside {said}", chance=None)
    return replace(found, why=f"as near as adding brings it, and inside what can be told, {said}: add nothing")


def verdict_seen(trial: Reading, tolerance: float) -> Verdict:
    """Return the verdict on a trial that was seen beside its standard.

    Parameters
    ----------
    trial : Reading
    tolerance : float
        ΔE00; where the difference isn't known within it in a light, what it is known within there counts.

    Notes
    -----
    The tolerance of the verdict is that of the light which is outside; of one that is inside in all, the widest.
    """
    first, lab = trial.seen[0], np.asarray(trial.lab)
    standard = lab - first.delta
    lights = seen_de00(trial)
    return Verdict(
        de00=float(de00(standard, lab)),
        de76=float(np.linalg.norm(first.delta)),
        delta=cielab_delta(standard, lab),
        lights=lights,
        metamerism=None,
        words=tuple(difference_words(standard, lab)),
        tolerance=told_tolerance(lights, tolerance, trial),
        standard_lab=standard,
        trial_lab=lab,
        observer=first.observer,
        warnings=trial.warnings,
        u95=first.u95,
    )


def told_tolerance(lights: Mapping[str, float], tolerance: float, trial: Reading) -> float:
    """Return the tolerance that a difference, ΔE00 in each light it was seen in, is outside of, or all are inside of.

    `trial` and `tolerance` are as for `verdict_seen`.
    """
    limits = told_tolerances(tolerance, trial)
    off = {light: de / limits[light] for light, de in lights.items()}
    worst = max(off, key=lambda light: off[light])
    return limits[worst] if off[worst] > 1 else max(limits.values())
