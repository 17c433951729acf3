"""Tints that a recipe was mixed without: they aren't added to its tin later either."""

from __future__ import annotations

from collections.abc import Sequence

from finishmatch.ledger import EntryView
from finishmatch.ledger.pouring import done_without
from finishmatch.optics import TintOptics
from finishmatch.steps.bank import FittedBank
from finishmatch.steps.matching import Match, Parts


def names_without(fitted: FittedBank, parts: Parts, without: Sequence[str]) -> tuple[str, ...]:
    """Return the usable tints of a bank less those that a recipe did without, unless they are in the tin already."""
    left_out = {*without} - {tint for tint, grams in parts if grams > 0}
    return tuple(name for name in fitted.usable_optics.names if name not in left_out)


def left_out(views: Sequence[EntryView], batch: EntryView | None) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """Return the tints that a batch was mixed without, and a note of it; `views` are the entries of its job."""
    without, recipe = ((), None) if batch is None else done_without(views, batch.number)
    note = f"recipe #{recipe} was mixed without {', '.join(without)}: not added here either"
    return without, (note,) if without else ()


def optics_allowed(matched: Match, views: Sequence[EntryView], parts: Parts) -> tuple[TintOptics, tuple[str, ...]]:
    """Return the optics of the tints that may be added to a tin, and a note of those that its recipe did without."""
    without, note = left_out(views, None if matched.taken is None else matched.taken.batch)
    return matched.fitted.usable_optics.chosen(names_without(matched.fitted, parts, without)), note
