"""What the commands found, as entries of the ledger."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from finishmatch.ledger import (
    CorrectionEntry,
    ReadingEntry,
    RecipeEntry,
    SprayOutEntry,
    TargetEntry,
    VerdictEntry,
)

if TYPE_CHECKING:
    from finishmatch.correct.correct import Correction
    from finishmatch.correct.verdict import Verdict
    from finishmatch.evidence.target import ColourTarget
    from finishmatch.mix.recipe import Recipe
    from finishmatch.optics import Bank
    from finishmatch.readings import Reading
    from finishmatch.readings.reading import TargetFacts


def sources_of(*readings: Reading) -> list[Path]:
    """Return the files the readings came from, each once."""
    return list(dict.fromkeys(reading.source for reading in readings if reading.source is not None))


def reading_entry(reading: Reading, role: str) -> ReadingEntry:
    """Return a reading as it is kept: its mean, how many repeats, and their spread."""
    return ReadingEntry(
        role=role,
        name=reading.name,
        lab=reading.lab_in(reading.light, reading.observer).tolist(),
        light=reading.light,
        observer=reading.observer,
        geometry=reading.geometry,
        reflectance=None if reading.reflectance is None else reading.reflectance.tolist(),
        repeats=len(reading.repeats),
        spread_de00=reading.spread_de00,
    )


def target_entry(target: ColourTarget, tolerance: float, facts: TargetFacts | None = None) -> TargetEntry:
    """Return a target as it is kept, with the reading it rests on, or with what its file says of its evidence."""
    from finishmatch.readings.target_file import upper_triangle

    return TargetEntry(
        name=target.name,
        lab=target.labs[0].tolist(),
        light=target.lights[0],
        observer=target.observer,
        reflectance=None if target.reflectance is None else target.reflectance.tolist(),
        tolerance=tolerance,
        u95=None if facts is None else facts.u95,
        evidence=[target.name] if facts is None else [],
        covariance=None if facts is None or facts.covariance is None else upper_triangle(facts.covariance),
    )


def recipe_entry(recipe: Recipe, rank: int, bank: Bank, target: ColourTarget) -> RecipeEntry:
    """Return a recipe as it is kept, with the bank it was made on."""
    return RecipeEntry(
        bank=bank.name,
        bank_digest=bank.digest,
        grams=recipe.grams,
        parts=list(recipe.parts),
        lights=recipe.lights,
        metamerism=recipe.metamerism,
        cost=recipe.cost,
        sensitivity_de00_p95=recipe.sensitivity_de00_p95,
        rank=rank,
        lab=recipe.lab.tolist(),
        light=target.lights[0],
        observer=target.observer,
        reflectance=recipe.reflectance.tolist(),
    )


def spray_out_entry(reading: Reading, batch: int | None) -> SprayOutEntry:
    """Return a spray-out that hides as it is kept."""
    return SprayOutEntry(
        batch=batch,
        lab=reading.lab_in(reading.light, reading.observer).tolist(),
        reflectance=None if reading.reflectance is None else reading.reflectance.tolist(),
        name=reading.name,
        light=reading.light,
        observer=reading.observer,
        geometry=reading.geometry,
        repeats=len(reading.repeats),
        spread_de00=reading.spread_de00,
    )


def verdict_entry(standard: Reading, trial: Reading, verdict: Verdict) -> VerdictEntry:
    """Return a verdict as it is kept."""
    return VerdictEntry(
        standard=standard.name,
        trial=trial.name,
        de00=verdict.de00,
        de76=verdict.de76,
        lights=verdict.lights,
        metamerism=verdict.metamerism,
        words=list(verdict.words),
        tolerance=verdict.tolerance,
        verdict="within" if verdict.within else "outside",
    )


def correction_entry(correction: Correction, batch: int | None) -> CorrectionEntry:
    """Return a correction as it is kept."""
    return CorrectionEntry(
        batch=batch,
        additions=list(correction.additions),
        growth=correction.growth,
        reachable=correction.reachable,
        lights=correction.lights,
        strengths=correction.strengths,
        why=correction.why,
    )
