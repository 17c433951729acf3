"""How much is wanted of a tin into which only a part of its recipe was poured yet."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from finishmatch.errors import InputError
from finishmatch.ledger import BatchEntry, EntryView, RecipeEntry

_PART = 0.9  # of a recipe: what is less is a part of it, and its rest is still wanted
_MOST_G = 1e6


def check_wanted(grams: float | None) -> None:
    """See that what is wanted in a tin is a weight; None is what its recipe says."""
    if grams is not None and not (np.isfinite(grams) and 0 < grams <= _MOST_G):
        raise InputError("`fill_to`", f"{grams:g} g is no batch", "give what is wanted in the tin in the end, in grams")


def wanted_in(views: Sequence[EntryView], batch: EntryView) -> float | None:
    """Return the grams that are wanted in a tin, or None where nothing says that more is than what was poured.

    Parameters
    ----------
    views : sequence of EntryView
        The entries of the job.
    batch : EntryView
        What is in the tin.

    Notes
    -----
    More is wanted where its recipe told to pour a part before the first card, and a part is what was poured. Of a tin
    of which something was set aside nobody knows.
    """
    by_number = {view.number: view for view in views}
    entry = batch.entry
    assert isinstance(entry, BatchEntry)
    while entry.continues is not None:
        before = by_number[entry.continues].entry
        if entry.share < 1 or not isinstance(before, BatchEntry):
            return None
        entry = before
    recipe = None if entry.recipe is None else by_number[entry.recipe].entry
    if not isinstance(recipe, RecipeEntry) or recipe.first_share is None:
        return None
    poured = sum(grams for _, grams in entry.parts)
    return recipe.grams if poured < _PART * recipe.grams else None
