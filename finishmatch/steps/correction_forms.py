"""A correction as JSON, and as it is kept in a job."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict, astuple
from typing import Any

from finishmatch.correct.correction import Correction
from finishmatch.correct.fresh_batch import FreshBatch
from finishmatch.ledger import growth_words, share_words
from finishmatch.ledger.entries import CorrectionEntry
from finishmatch.mix.letdowns import Letdown
from finishmatch.steps.hazards import parts_document


def correction_document(found: Correction) -> dict[str, Any]:
    """Return what to add, and what that is expected to do, in its JSON form."""
    needed = found.scale_needed
    return {
        "reachable": found.reachable,
        "additions": parts_document(found.additions),
        "growth": found.growth,
        "lights": found.lights,
        "before": found.before,
        "growth_needed": found.growth_needed,
        "chance": found.chance,
        "intervals": {light: {"low": low, "high": high} for light, (low, high) in found.intervals.items()},
        "scale_needed": None if needed is None else {"step_g": needed.step_g, "smallest_g": needed.smallest_g},
        "trade": [{**vars(row), "additions": parts_document(row.additions)} for row in found.trade],
        "why": found.why,
    }


def growth_told(growth: float, fills_to: float | None) -> str:
    """Return what an addition does to the weight of a tin, in a painter's words."""
    return growth_words(growth, fills_to)


def share_told(share: float) -> str:
    """Return a share of a batch in a painter's words."""
    return share_words(share)


def letdowns_document(letdowns: Sequence[Letdown]) -> list[dict[str, Any]]:
    """Return how drops of strong tints are poured by a letdown, in its JSON form."""
    return [asdict(one) for one in letdowns]


def fresh_document(fresh: FreshBatch) -> dict[str, Any]:
    """Return what a fresh batch would need in its JSON form."""
    return {
        "parts": parts_document(fresh.recipe.parts),
        "lights": fresh.recipe.lights,
        "cost": fresh.recipe.cost,
        "additions_cost": fresh.additions_cost,
        "cheaper": fresh.cheaper,
    }


def correction_entry(correction: Correction, batch: int | None, spray_out: int | None = None) -> CorrectionEntry:
    """Return a correction as it is kept, with the numbers of the batch it is for and of its spray-out."""
    return CorrectionEntry(
        batch=batch,
        additions=list(correction.additions),
        letdowns=[astuple(one) for one in correction.letdowns],
        growth=correction.growth,
        fills_to=correction.fills_to,
        reachable=correction.reachable,
        lights=correction.lights,
        strengths=correction.strengths,
        why=correction.why,
        spray_out=spray_out,
    )
