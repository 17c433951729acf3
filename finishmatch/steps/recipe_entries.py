"""A target and a recipe, as entries of the ledger."""

from __future__ import annotations

import re
from collections.abc import Sequence
from math import isclose
from pathlib import Path

from finishmatch import ledger  # a kind of entry is imported when something is recorded
from finishmatch.evidence.target import ColourTarget
from finishmatch.mix.recipe import Recipe
from finishmatch.optics import Bank
from finishmatch.readings import Reading
from finishmatch.readings.look_form import saw_document
from finishmatch.readings.target_file import upper_triangle

_PROGRAM_NAMED = re.compile(r"standard|spray-out|(sample|window) \d+")  # what nobody gave a name of its own


def target_entry(
    target: ColourTarget,
    tolerance: float,
    told: Reading | None = None,
    source: Path | None = None,
) -> ledger.TargetEntry:
    """Return a target as it is kept, with the reading it rests on, or with what its file says of its evidence.

    Where only the program named it, as what stood in a window of a photographed card, it is called by its file.
    """
    facts = None if told is None else told.target
    return ledger.TargetEntry(
        name=target.name if source is None else _called(target.name, source.stem),
        lab=target.labs[0].tolist(),
        light=target.lights[0],
        observer=target.observer,
        reflectance=None if target.reflectance is None else target.reflectance.tolist(),
        tolerance=tolerance,
        u95=None if facts is None else facts.u95,
        evidence=[] if facts is not None and facts.weighed else [target.name],
        covariance=None if facts is None or facts.covariance is None else upper_triangle(facts.covariance),
        u95_own=None if facts is None else facts.u95_own,
        pictures=() if facts is None else facts.pictures,
        camera_saw=[saw_document(one) for one in ([] if told is None else told.camera_saw)],
        geometry="" if told is None else told.geometry,
    )


def _called(name: str, file: str) -> str:
    """Return what a target is called: its own name, or where that is a window's or a number its file's."""
    if not _PROGRAM_NAMED.fullmatch(name) or not file.strip():
        return name
    return file if name == "standard" else f"{file}, {name}"


def recipe_entry(
    recipe: Recipe,
    rank: int,
    bank: Bank,
    target: ColourTarget,
    without: Sequence[str] = (),
    asked_g: float | None = None,
    scale_step_g: float | None = None,
) -> ledger.RecipeEntry:
    """Return a recipe as it is kept, with its bank, the tints it was to do without, and what it was to weigh, grams."""
    letdowns = recipe.letdowns if recipe.first_pour is None else recipe.first_pour.letdowns
    as_asked = asked_g is None or isclose(recipe.grams, asked_g, rel_tol=1e-3)  # to what a scale rounds
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
        first_share=None if recipe.first_pour is None else recipe.first_pour.share,
        without=list(without),
        asked_g=None if as_asked else asked_g,
        let_down=[one.tint for one in letdowns],
        scale_step_g=scale_step_g if letdowns else None,
    )
