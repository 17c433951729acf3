"""More of a paint that was right: its batch as a recipe in another size, which is then weighed out like any."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from finishmatch.errors import InputError
from finishmatch.ledger import BatchEntry, EntryView, open_ledger
from finishmatch.mix.weigh_out import summed
from finishmatch.steps.job.bank_poured_from import bank_poured_from
from finishmatch.steps.job.pour_again import batch_was_right, recipe_again
from finishmatch.steps.job.poured_tin import PourRequest
from finishmatch.steps.matching import scale_of
from finishmatch.steps.record import RecordedOne, record_one


@dataclass(frozen=True)
class RightBatch:
    """A batch whose last card that was judged was inside.

    Parameters
    ----------
    number : int
    grams : float
    lights : dict of str to float
        ΔE00 of the card by light.
    tolerance : float
        That it was inside.
    """

    number: int
    grams: float
    lights: dict[str, float]
    tolerance: float


def right_batches(views: Sequence[EntryView]) -> tuple[RightBatch, ...]:
    """Return the batches of a job that were right, the newest first."""
    found = []
    for view in reversed(views):
        how = batch_was_right(views, view)
        if how is not None and isinstance(view.entry, BatchEntry):
            weighs = sum(summed(view.entry.parts).values())
            found.append(RightBatch(view.number, weighs, dict(how.lights), how.tolerance))
    return tuple(found)


def more_of_it(job: str, number: int, grams: float | None = None, scale_step: float = 0.1) -> RecordedOne:
    """Record a batch as a recipe of a weight, to be weighed out part by part.

    Parameters
    ----------
    job : str
        A ref or an exact title.
    number : int
        Of the batch.
    grams : float or None
        What is wanted; as much as the batch where it isn't said.
    scale_step : float
        Of the scale that is poured on, grams.

    Raises
    ------
    InputError
        No such batch, one whose card was outside or wasn't judged, a weight that can't be weighed out.
    """
    scale_of(scale_step)
    with open_ledger(create=False) as ledger:
        found = ledger.find_job(job)
        views = ledger.entries(found)
        named = next((view for view in views if view.number == number), None)
        if named is None:
            raise InputError(f"#{number}", f"isn't in {found.ref}", "name a batch: finishmatch job show")
        bank, _, notes = bank_poured_from(ledger, found, None)
        request = PourRequest(like=number, grams=grams, scale_step=scale_step)
        return record_one(ledger, found, recipe_again(views, named, request, bank), warnings=notes)
