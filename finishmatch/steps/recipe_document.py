"""A recipe as JSON."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from finishmatch.colour import WAVELENGTHS_NM
from finishmatch.mix.first_pour import FirstPour
from finishmatch.mix.metamers import risks_document
from finishmatch.mix.recipe import Recipe
from finishmatch.optics import Tint
from finishmatch.steps.correction_forms import letdowns_document
from finishmatch.steps.hazards import hazards_document, parts_document


def recipe_document(recipe: Recipe, harming: Sequence[Tint]) -> dict[str, Any]:
    """Return a recipe in its JSON form, with the tints of it that hold what harms."""
    return {
        "parts": parts_document(recipe.parts),
        "grams": recipe.grams,
        "predicted": {"wavelengths": WAVELENGTHS_NM, "reflectance": recipe.reflectance, "lab": recipe.lab},
        "lights": recipe.lights,
        "intervals": _ranges_document(recipe.intervals),
        "intervals_itself": _ranges_document(recipe.intervals_itself),
        "metamerism": recipe.metamerism,
        "metamerism_risk": risks_document(recipe.risks),
        "cost": recipe.cost,
        "sensitivity_de00_p95": recipe.sensitivity_de00_p95,
        "expected_de00": recipe.expected_de00,
        "greying": [list(pair) for pair in recipe.greying],
        "first_pour": _first_pour_document(recipe.first_pour),
        "letdowns": letdowns_document(recipe.letdowns),
        "hiding_build_um": recipe.hiding_build_um,
        "hides_within_de00": recipe.hides_within_de00,
        "contrast_ratio": recipe.contrast_ratio,
        "hazards": hazards_document(harming),
        "notes": list(recipe.notes),
    }


def _first_pour_document(pour: FirstPour | None) -> dict[str, Any] | None:
    if pour is None:
        return None
    ranges, letdowns = _ranges_document(pour.intervals), letdowns_document(pour.letdowns)
    return {**vars(pour), "parts": parts_document(pour.parts), "intervals": ranges, "letdowns": letdowns}


def _ranges_document(intervals: dict[str, tuple[float, float]]) -> dict[str, Any]:
    return {light: {"low": low, "high": high} for light, (low, high) in intervals.items()}
