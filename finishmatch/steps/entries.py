"""What the steps found, as entries of the ledger."""

from __future__ import annotations

from pathlib import Path

from finishmatch import ledger  # a kind of entry is imported when something is recorded
from finishmatch.correct.verdict import Verdict
from finishmatch.evidence.target import ColourTarget
from finishmatch.mix.recipe import Recipe
from finishmatch.optics import Bank
from finishmatch.readings import Reading
from finishmatch.readings.reading import TargetFacts
from finishmatch.readings.target_file import upper_triangle
from finishmatch.steps.seen_kept import kept_seen


def sources_of(*readings: Reading) -> list[Path]:
    """Return the files the readings came from, each once."""
    return list(dict.fromkeys(reading.source for reading in readings if reading.source is not None))


def reading_entry(reading: Reading, role: str) -> ledger.ReadingEntry:
    """Return a reading as it is kept: its mean, how many repeats, and their spread."""
    return ledger.ReadingEntry(
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


def spray_out_entry(reading: Reading, batch: int | None) -> ledger.SprayOutEntry:
    """Return a spray-out that hides as it is kept."""
    return ledger.SprayOutEntry(
        batch=batch,
        lab=reading.lab_in(reading.light, reading.observer).tolist(),
        reflectance=None if reading.reflectance is None else reading.reflectance.tolist(),
        name=reading.name,
        light=reading.light,
        observer=reading.observer,
        geometry=reading.geometry,
        repeats=len(reading.repeats),
        spread_de00=reading.spread_de00,
        seen=kept_seen(reading),
    )


def verdict_entry(
    standard: Reading, trial: Reading, verdict: Verdict, spray_out: int | None = None
) -> ledger.VerdictEntry:
    """Return a verdict as it is kept, with the number of the spray-out that was judged, where it is one."""
    return ledger.VerdictEntry(
        standard=standard.name,
        trial=trial.name,
        de00=verdict.de00,
        de76=verdict.de76,
        lights=verdict.lights,
        metamerism=verdict.metamerism,
        words=list(verdict.words),
        tolerance=verdict.tolerance,
        verdict="within" if verdict.within else "outside",
        spray_out=spray_out,
    )


def target_entry(target: ColourTarget, tolerance: float, facts: TargetFacts | None = None) -> ledger.TargetEntry:
    """Return a target as it is kept, with the reading it rests on, or with what its file says of its evidence."""
    return ledger.TargetEntry(
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


def recipe_entry(recipe: Recipe, rank: int, bank: Bank, target: ColourTarget) -> ledger.RecipeEntry:
    """Return a recipe as it is kept, with the bank it was made on."""
    return ledger.RecipeEntry(
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
