"""Which recipe a batch was poured by."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from finishmatch.ledger.entries import RecipeEntry
from finishmatch.ledger.views import EntryView

NEAR = 0.05  # share of the batch's weight that may lie elsewhere than the recipe says («common practice»: no source)


def recipe_poured(parts: Sequence[tuple[str, float]], recipes: Iterable[EntryView]) -> int | None:
    """Return the number of the recipe a batch follows, or None when it follows none.

    Parameters
    ----------
    parts : sequence of (tint, grams)
        What was poured; a tint poured twice stands twice.
    recipes : iterable of EntryView
        The recipes of the job that have not been replaced.

    Notes
    -----
    Compared by share of weight, so that half a recipe is still that recipe. Of two as near, the better ranked. A batch
    may hold tints that were added later, but none of the recipe's may be missing.
    """
    poured = {tint for tint, grams in parts if grams > 0}
    nearest: tuple[float, int, int] | None = None
    for view in recipes:
        if isinstance(view.entry, RecipeEntry) and poured >= {tint for tint, _ in view.entry.parts}:
            candidate = (_moved(_shares(parts), _shares(view.entry.parts)), view.entry.rank, view.number)
            nearest = candidate if nearest is None else min(nearest, candidate)
    return nearest[2] if nearest is not None and nearest[0] <= NEAR else None


def _shares(parts: Sequence[tuple[str, float]]) -> dict[str, float]:
    total = sum(grams for _, grams in parts) or 1.0
    shares: dict[str, float] = {}
    for tint, grams in parts:
        shares[tint] = shares.get(tint, 0.0) + grams / total
    return shares


def _moved(one: dict[str, float], other: dict[str, float]) -> float:
    return sum(abs(one.get(tint, 0.0) - other.get(tint, 0.0)) for tint in one.keys() | other.keys()) / 2
