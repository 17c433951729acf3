"""What is to be doubted of a pour: its size, and by a correction that its tin, or a tin on the shelf, is another."""

from __future__ import annotations

from collections.abc import Sequence

from finishmatch.errors import InputError
from finishmatch.ledger import CorrectionEntry, StrengthEntry
from finishmatch.mix.weigh_out import summed
from finishmatch.mix.weighing import Scale
from finishmatch.optics import Tint
from finishmatch.readings.batch_file import LEAST_GRAMS, MAX_GRAMS
from finishmatch.steps.job.pour_again import again_doubts
from finishmatch.steps.matching import Parts
from finishmatch.steps.planned_pour import ONLY_ENTERED, Meant, PourPlan
from finishmatch.steps.pours_of_job import JobPours
from finishmatch.steps.tins_of_day import tins_changed

_TIMES, _FEWER = 9.2, 92  # ten times and a hundredth, each less what a weight may miss them by


def refuse_nothing(plan: PourPlan, typed: Parts) -> None:
    """See that a correction is one, or parts are typed beside it.

    Raises
    ------
    InputError
        It found nothing to add.
    """
    if not plan.parts and not typed:
        raise InputError("`like`", f"{plan.name} found nothing to add", "leave it out, or give what was poured")


def meant_size(plan: PourPlan, grams: float, *, anyway: bool) -> PourPlan:
    """Return a plan in the weight that was meant of it.

    Raises
    ------
    InputError
        A weight that no batch has, or one so far from the plan's own that its point may have slipped.
    """
    if not LEAST_GRAMS <= grams <= MAX_GRAMS:
        raise InputError("`grams`", f"{grams:,.10g} g is no batch", f"give what it weighs, up to {MAX_GRAMS:,.0f} g")
    whole = sum(one for _, one in plan.parts)
    if not whole:
        raise InputError("`grams`", f"{plan.name} found nothing to add, in whatever size", "leave it out")
    times = grams / whole
    # a tenth of a recipe is a trial; ten times as much of it is seldom wanted
    if not 1 / _FEWER < times < _TIMES and not anyway:
        far = f"1 in {1 / times:,.0f} of" if times < 1 else f"{times:,.0f} times"
        what, mend = f"{grams:,.10g} g is {far} what {plan.name} has ({whole:g} g)", "see where its point stands"
        raise InputError("`grams`", what, f"{mend}; with `anyway` it is taken as it is")
    return plan.of_size(plan.size * times)


def pour_doubts(pours: JobPours, meant: Meant, tints: Sequence[Tint], scale: Scale) -> tuple[str, ...]:
    """Return warnings of what was poured by a correction, or as a batch was; nothing of what was poured by a recipe.

    Parameters
    ----------
    pours : JobPours
    meant : Meant
    tints : sequence of Tint
        Of the bank, with the lots that are open; empty where it isn't known.
    scale : Scale
    """
    plan = meant.plan
    if plan is not None and plan.again is not None:
        return again_doubts(pours.views, meant, tints, scale)
    if plan is None or plan.kind != "correction":
        return ()
    return (*_added_since(pours, plan, meant), *_other_tins(pours, plan, meant.poured, tints))


def _added_since(pours: JobPours, plan: PourPlan, meant: Meant) -> tuple[str, ...]:
    """Return a warning where what is added to isn't the tin that a correction was worked out for any more."""
    tin = pours.corrected_tin(plan.number)
    if meant.before is None or tin.poured is None or meant.before.number == tin.number:
        return ()
    was = f"{plan.name} was worked out before something was added to its tin (batch #{tin.poured.number})"
    added = pours.batch_entry(tin.poured.number).parts
    first = added[len(pours.batch(tin.number).parts) :] if tin.number is not None else added
    twice = f"; {ONLY_ENTERED}" if summed(tuple(first)) == summed(meant.poured) else ""
    return (f"{was}: spray a card of the tin as it is, and judge that{twice}",)


def _other_tins(pours: JobPours, plan: PourPlan, poured: Parts, tints: Sequence[Tint]) -> tuple[str, ...]:
    """Return a warning where a part was poured from another tin than the card showed that a correction is of."""
    found = next((view.entry for view in pours.views if view.number == plan.number), None)
    card = found.spray_out if isinstance(found, CorrectionEntry) else None
    lots: dict[str, str] = {}
    for view in pours.current:
        if isinstance(view.entry, StrengthEntry) and card is not None and view.entry.spray_out == card:
            lots = dict(zip(view.entry.tints, view.entry.lots, strict=True))
    names = {tint for tint, grams in poured if grams > 0}
    changed = ", ".join(tins_changed(lots, [tint for tint in tints if tint.name in names]))
    if not changed:
        return ()
    return (
        f"{changed} (tints.csv): {plan.name} was worked out for the tins its card was of; the next card tells more",
    )
