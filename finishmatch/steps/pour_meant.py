"""What a pour is: a new tin, or what was due in the one there is, of a plan or of what a tin still lacks of one."""

from __future__ import annotations

import math
from dataclasses import replace

from finishmatch.mix.weigh_out import is_off, likely_size, pour_lines, summed
from finishmatch.mix.weighing import Scale
from finishmatch.steps.matching import Parts
from finishmatch.steps.planned_pour import ONLY_ENTERED, Before, Meant, PourPlan, part_first
from finishmatch.steps.pours_of_job import NEW, JobPours

SMALL = 0.25  # of what is in the tin: so little is likelier added to it than poured for another («common practice»)


def what_is_meant(
    pours: JobPours, entered: Parts, to: str | None, number: int | None, scale: Scale, *, typed: bool = True
) -> Meant:
    """Return what a pour is.

    Parameters
    ----------
    pours : JobPours
    entered : tuple of (tint, grams)
        The weights as entered: what was added, or all that is in the tin.
    to : str or None
        "new", "last" or the number of the batch that was added to; None is as it looks.
    number : int or None
        The recipe or correction it was poured by; None is as it looks.
    scale : Scale
    typed : bool
        Typed part by part: a little is likely an addition. A file has all that is in the tin.
    """
    plan = None if number is None else pours.plan(number)
    if to is not None:
        return _as_said(pours, entered, to, plan, scale)
    last = pours.last_batch
    if last is None or (plan is not None and plan.kind == "recipe"):
        return _new_tin(pours, entered, plan, scale)
    before, due = pours.batch(last.number), plan or pours.open_correction()
    if due is None:
        due = _lacking_of_recipe(pours, last.number, scale)
    if due is not None:
        meant = _added(before, entered, due, scale)
        if meant is not None:
            return meant
    if plan is None and typed and sum(grams for _, grams in entered) < SMALL * before.grams:
        small = _new_tin(pours, entered, None, scale)
        if small.plan is None or small.plan.size == 1 or small.plan.part:  # it is no small tin of a recipe
            said = f"taken as added to batch #{before.number}; say `to` {NEW} where it is another tin"
            return Meant(entered, before, None, (said,))
    if plan is None and tuple(entered[: len(before.parts)]) == before.parts and len(entered) > len(before.parts):
        said = f"taken as batch #{before.number} with what was added"
        return Meant(tuple(entered[len(before.parts) :]), before, None, (said,))
    return _new_tin(pours, entered, plan, scale)


def _as_said(pours: JobPours, entered: Parts, to: str, plan: PourPlan | None, scale: Scale) -> Meant:
    if to == NEW:
        return _new_tin(pours, entered, plan, scale)
    before = pours.batch(pours.number(to))
    if plan is not None:
        return Meant(entered, before, lacking_of(pours, plan, before.number, scale) or plan)
    due = pours.open_correction()
    if due is None:
        lacks = _lacking_of_recipe(pours, before.number, scale)
        due = lacks if lacks is not None and set(summed(entered)) <= set(summed(lacks.parts)) else None
    return Meant(entered, before, due)


def _new_tin(pours: JobPours, entered: Parts, plan: PourPlan | None, scale: Scale) -> Meant:
    if plan is None:
        plan = pours.fitting_recipe(entered, scale)
    elif plan.size == 1:
        plan = plan.of_size(likely_size(plan.parts, entered, scale))
    if plan is not None:
        plan = part_first(plan, entered, scale)
    said = [] if plan is None or plan.size == 1 else [f"{plan.name} in a size of {plan.percent} %"]
    if plan is not None and plan.part:
        said = [f"{plan.part} of {plan.name}, as it says to pour before the first card"]
    last = pours.last_batch
    if last is not None and summed(entered) == summed(pours.batch(last.number).parts):
        said.append(f"batch #{last.number} holds the same to the gram: taken as another tin; {ONLY_ENTERED}")
    return Meant(entered, None, plan, tuple(said))


def _lacking_of_recipe(pours: JobPours, number: int, scale: Scale) -> PourPlan | None:
    """Return what a batch still lacks of the recipe it was poured by, or None where it lacks nothing."""
    recipe = pours.batch_entry(number).recipe
    return None if recipe is None else lacking_of(pours, pours.plan(recipe), number, scale)


def lacking_of(pours: JobPours, plan: PourPlan, number: int, scale: Scale) -> PourPlan | None:
    """Return what a batch still lacks of the recipe or correction it was poured by.

    Parameters
    ----------
    pours : JobPours
    plan : PourPlan
        All of the recipe or correction.
    number : int
        Of the batch.
    scale : Scale

    Returns
    -------
    PourPlan or None
        Of the recipe in the size that was meant. None where the batch lacks nothing, was poured by something else, or
        was sprayed since.
    """
    poured = pours.poured_by(number, plan)
    if poured is None:
        return None
    if plan.kind == "recipe":
        plan = part_first(plan.of_size(likely_size(plan.parts, poured, scale)), poured, scale)
    lacking = [line for line in pour_lines(plan.parts, poured, scale) if line.to_go_g > 0]
    parts = tuple((line.tint, round(line.to_go_g, 6)) for line in lacking)
    begun = {line.tint for line in lacking if line.poured_g > 0}  # into the cup of a letdown goes all or nothing
    letdowns = tuple(one for one in plan.letdowns if one[0] not in begun)
    return replace(plan, parts=parts, letdowns=letdowns, of_recipe=None) if parts else None


def gone_on_with(before: Before, entered: Parts, scale: Scale) -> Parts:
    """Return what was added to a batch, of what was entered: all that is in the tin, or the additions alone."""
    more = _beyond(before, entered, scale)
    return entered if more is None else more


def _beyond(before: Before, entered: Parts, scale: Scale) -> Parts | None:
    """Return what a whole tin holds beyond what was in it before, or None when it can't be that tin."""
    there, whole = summed(before.parts), summed(entered)
    off = {tint: grams - there.get(tint, 0.0) for tint, grams in whole.items()}
    off = {tint: grams for tint, grams in off.items() if is_off(there.get(tint, 0.0), whole[tint], scale)}
    if not off or not set(there) <= set(whole) or any(grams < 0 for grams in off.values()):
        return None
    return tuple((tint, round(grams, 6)) for tint, grams in off.items())


def _added(before: Before, entered: Parts, due: PourPlan, scale: Scale) -> Meant | None:
    """Return a pour as what was due in the tin, entered by itself or as all that is in it; None when it is neither."""
    more, wanted = _beyond(before, entered, scale), set(summed(due.parts))
    written_on = tuple(entered[: len(before.parts)]) == before.parts  # a file that was added to
    if more is not None and (written_on or {tint for tint, _ in more} <= wanted):
        said = f"taken as all that is in the tin: batch #{before.number} with what was added"
        return Meant(more, before, due, (said,))
    named = {tint for tint, _ in entered}
    if named <= wanted - set(summed(before.parts)):  # what lacks altogether; none of it typed yet is no new tin either
        return Meant(entered, before, due, (f"taken as added to batch #{before.number}",) if entered else ())
    if not named & wanted or not _nearer(entered, due.parts, before.parts, by_part=wanted <= named):
        return None
    return Meant(entered, before, due, (f"taken as added to batch #{before.number}",))


def _nearer(entered: Parts, due: Parts, before: Parts, *, by_part: bool) -> bool:
    """Return whether a pour looks more like what is due than like the tin: part by part, or in all while parts lack."""
    if by_part:
        there, off_due, off_before = summed(entered), 0.0, 0.0
        for tint in {*there, *summed(due), *summed(before)}:
            off_due += abs(there.get(tint, 0.0) - summed(due).get(tint, 0.0))
            off_before += abs(there.get(tint, 0.0) - summed(before).get(tint, 0.0))
        return off_due <= off_before
    total, planned, filled = (max(sum(grams for _, grams in parts), 1e-9) for parts in (entered, due, before))
    return abs(math.log(total / planned)) <= abs(math.log(total / filled))
