"""What could be poured in a job: the recipes that stand, and the last correction where nothing of it is poured."""

from __future__ import annotations

from collections.abc import Sequence

from finishmatch.ledger import CorrectionEntry, EntryView, RecipeEntry
from finishmatch.steps.matching import Parts
from finishmatch.steps.planned_pour import PourPlan
from finishmatch.steps.pours_of_job import JobPours


def plans_to_pour(pours: JobPours) -> tuple[tuple[int, str, str], ...]:
    """Return the recipes that stand, the newest list first, and before them the correction that can be poured.

    Parameters
    ----------
    pours : JobPours

    Returns
    -------
    tuple of (number, kind, what)
    """
    due = _correction_left(pours)
    found = [] if due is None else [(due, "correction", "")]
    for view in pours.recipes:
        assert isinstance(view.entry, RecipeEntry)
        found.append((view.number, "recipe", f"{view.entry.grams:g} g, {len(view.entry.parts)} tints"))
    return tuple(found)


def correction_to_pour(views: Sequence[EntryView]) -> int | None:
    """Return the number of the last correction that stands, where it says what to add; poured or not.

    Parameters
    ----------
    views : sequence of EntryView
        The entries of a job.
    """
    found = _last_correction(JobPours(views))
    return None if found is None else found.number


def whole_parts(plan: PourPlan | None, views: Sequence[EntryView]) -> Parts:
    """Return the parts of a whole recipe, where a plan is the part of it that is poured before its first card.

    Parameters
    ----------
    plan : PourPlan or None
    views : sequence of EntryView
        The entries of the job.
    """
    entry = next((view.entry for view in views if plan is not None and plan.part and view.number == plan.number), None)
    return tuple(entry.parts) if isinstance(entry, RecipeEntry) else ()


def _last_correction(pours: JobPours) -> EntryView | None:
    corrections = [view for view in pours.current if isinstance(view.entry, CorrectionEntry)]
    last = corrections[-1] if corrections else None
    if last is None or not isinstance(last.entry, CorrectionEntry):
        return None
    return last if last.entry.additions and last.entry.reachable else None


def _correction_left(pours: JobPours) -> int | None:
    """Return the last correction where nothing of it is poured, though a recipe was worked out since: its tin stays."""
    last = _last_correction(pours)
    if last is None:
        return None
    sprayed = any(view.kind == "spray-out" and view.place > last.place for view in pours.current)
    return None if sprayed or pours.corrected_tin(last.number).poured is not None else last.number
