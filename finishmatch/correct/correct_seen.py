"""A tin corrected by a difference that was seen: until it is inside what can be told, and no further."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from finishmatch.colour import cielab_delta, de00, difference_words
from finishmatch.colour.told_within import told_within
from finishmatch.correct.correct import correct_batch
from finishmatch.correct.correction import Correction
from finishmatch.correct.updated_tin import TinRecord
from finishmatch.correct.verdict import Verdict
from finishmatch.evidence.target import ColourTarget
from finishmatch.mix.weighing import Scale
from finishmatch.optics import Tint, TintOptics
from finishmatch.readings import Reading
from finishmatch.readings.seen import known_within, seen_de00


def told_tolerance(tolerance: float, trial: Reading) -> float:
    """Return the ΔE00 a seen difference is corrected to: the tolerance, or what it is known within if that is more.

    To a hundredth, as it is shown and kept (`told_within`).
    """
    return max(tolerance, told_within(known_within(trial)))


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
        ΔE00; where the difference isn't known within it, what it is known within counts.

    Raises
    ------
    InputError
        As `correct_batch`.
    """
    limit = told_tolerance(tolerance, trial)
    found = correct_batch(target, optics, tints, batch, trial, limit, max_growth, scale, record)
    if found.additions or not found.reachable:
        return found
    known = known_within(trial)
    told = told_within(known)
    if max(found.before.values()) > limit:
        why = f"with what earlier cards showed it is likelier inside ±{told:g} than not: add nothing"
    elif max(found.before.values()) <= known:
        why = f"as near as this can tell: ±{told:g}; add nothing"
    else:
        why = f"inside the tolerance, as far as this can tell (±{told:g}): add nothing"
    return replace(found, why=why)


def verdict_seen(trial: Reading, tolerance: float) -> Verdict:
    """Return the verdict on a trial that was seen beside its standard.

    Parameters
    ----------
    trial : Reading
    tolerance : float
        ΔE00; where the difference isn't known within it, what it is known within counts.
    """
    first, lab = trial.seen[0], np.asarray(trial.lab)
    standard = lab - first.delta
    return Verdict(
        de00=float(de00(standard, lab)),
        de76=float(np.linalg.norm(first.delta)),
        delta=cielab_delta(standard, lab),
        lights=seen_de00(trial),
        metamerism=None,
        words=tuple(difference_words(standard, lab)),
        tolerance=told_tolerance(tolerance, trial),
        standard_lab=standard,
        trial_lab=lab,
        observer=first.observer,
        warnings=trial.warnings,
    )
