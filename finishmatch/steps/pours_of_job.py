"""What a pour is held against: a recipe of the job or a correction of its tin; and what was in the tin before."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from itertools import islice

from finishmatch.errors import InputError
from finishmatch.ledger import BatchEntry, CorrectionEntry, EntryView, RecipeEntry
from finishmatch.ledger.open_items import find_open
from finishmatch.ledger.pouring import batches_of_tin, done_without
from finishmatch.mix.weigh_out import is_off, likely_size, pour_lines, summed
from finishmatch.mix.weighing import Scale
from finishmatch.optics import Tint
from finishmatch.readings.plain_number import counted
from finishmatch.steps.matching import Parts
from finishmatch.steps.planned_pour import Before, Meant, PourPlan, part_first

NEW, LAST = "new", "last"
SMALL = 0.25  # of what is in the tin: so little is likelier added to it than poured for another («common practice»)


@dataclass(frozen=True)
class CorrectedTin:
    """The tin that a correction is poured into.

    Parameters
    ----------
    number : int or None
        Of the batch that is added to; None where the job has none.
    share : float
        How much of the tin that the correction was worked out for that is.
    poured : EntryView or None
        The batch that it became with what was added first; None where nothing was added since.
    """

    number: int | None
    share: float = 1.0
    poured: EntryView | None = None


class JobPours:
    """The pours of a job, its recipes and corrections, as they stand."""

    def __init__(self, views: Sequence[EntryView]) -> None:
        self.views = views
        self.current = sorted((view for view in views if view.stands), key=lambda view: view.place)

    @property
    def last_batch(self) -> EntryView | None:
        """The last batch that stands."""
        batches = [view for view in self.current if isinstance(view.entry, BatchEntry)]
        return batches[-1] if batches else None

    @property
    def recipes(self) -> list[EntryView]:
        """The recipes that stand, the newest list first, its best first."""
        recipes = [view for view in self.current if isinstance(view.entry, RecipeEntry)]
        return sorted(recipes, key=lambda view: (-(view.number - _rank(view)), view.number))

    @property
    def tints(self) -> list[str]:
        """The names of all tints of its recipes and batches."""
        entries = (view.entry for view in self.current)
        parts = (entry.parts for entry in entries if isinstance(entry, RecipeEntry | BatchEntry))
        return list(dict.fromkeys(tint for one in parts for tint, _ in one))

    def number(self, to: str) -> int:
        """Return the number of the batch that was added to: of "5", "#5" or "last"."""
        if to == LAST:
            if self.last_batch is None:
                raise InputError("`to`", "there is no batch in this job yet", "leave it out: this is a new tin")
            return self.last_batch.number
        try:
            return counted(to.removeprefix("#"))
        except ValueError:
            raise InputError("`to`", f"{to[:20]!r} is not a batch", f"give its number, {LAST} or {NEW}") from None

    def batch_entry(self, number: int) -> BatchEntry:
        """Return the batch of a number as it was recorded."""
        view = self._entry(number)
        if not isinstance(view.entry, BatchEntry):
            raise InputError(f"#{number}", f"is a {view.kind}, not a batch", "name the batch that was added to")
        return view.entry

    def batch(self, number: int) -> Before:
        """Return what was in the tin of a batch."""
        return Before(number, tuple(self.batch_entry(number).parts))

    def gone_on_from(self, number: int) -> int | None:
        """Return the batch that a batch goes on from, struck ones passed over; None where it is a tin of its own."""
        before = islice(batches_of_tin(self._entry(number), self.views), 1, None)
        return next((view.number for view in before if view.struck_by is None), None)

    def plan(self, number: int) -> PourPlan:
        """Return what a recipe or correction says is to be poured, a correction for the part of its tin there is."""
        view = self._entry(number)
        if isinstance(view.entry, RecipeEntry):
            first, without = view.entry.first_share, tuple(view.entry.without)
            return PourPlan(number, "recipe", tuple(view.entry.parts), first_share=first, without=without)
        if isinstance(view.entry, CorrectionEntry):
            letdowns = tuple(view.entry.letdowns)
            without, _ = ((), None) if view.entry.batch is None else done_without(self.views, view.entry.batch)
            plan = PourPlan(number, "correction", tuple(view.entry.additions), letdowns=letdowns, without=without)
            return plan.of_size(self.corrected_tin(number).share)
        raise InputError(f"#{number}", f"is a {view.kind}, not a recipe or correction", "name what was poured by")

    def open_correction(self) -> PourPlan | None:
        """Return the correction that is not poured yet, for what of its tin wasn't set aside."""
        waiting = [item for item in find_open(self.views) if item.kind == "correction" and item.needs == "batch"]
        return self.plan(waiting[-1].number) if waiting else None

    def recipe_of(self, batch: EntryView) -> PourPlan | None:
        """Return the recipe a batch was poured by, in the size that was meant."""
        assert isinstance(batch.entry, BatchEntry)
        return None if batch.entry.recipe is None else self.plan(batch.entry.recipe)

    def fitting_recipe(self, poured: Parts, scale: Scale) -> PourPlan | None:
        """Return the recipe that a pour is likely of, or None where none of them shares enough with it."""
        best: tuple[tuple[int, int], PourPlan] | None = None
        for view in self.recipes:
            plan = self.plan(view.number)
            shared = set(summed(plan.parts)) & set(summed(poured))
            strangers = len(set(summed(poured)) - shared)
            if not shared or (strangers and len(shared) <= strangers):
                continue
            plan = plan.of_size(likely_size(plan.parts, poured, scale))
            off = sum(line.off for line in pour_lines(plan.parts, poured, scale))
            if best is None or (strangers, off) < best[0]:
                best = (strangers, off), plan
        return None if best is None else best[1]

    def _entry(self, number: int) -> EntryView:
        for view in self.views:
            if view.number == number:
                return view
        raise InputError(f"#{number}", "there is no such entry in this job", "see them with: finishmatch job show")

    def corrected_tin(self, number: int) -> CorrectedTin:
        """Return the tin that a correction is poured into: its batch, or what of it wasn't set aside."""
        view = self._entry(number)
        assert isinstance(view.entry, CorrectionEntry)
        batch, at = view.entry.batch, self.last_batch
        place = None if batch is None else self._entry(batch).place  # it may have been replaced since
        tin, share, poured = None if at is None else at.number, 1.0, None
        while at is not None and at.place != place:
            assert isinstance(at.entry, BatchEntry)
            before = at.entry.continues
            if before is not None and at.entry.share == 1 and at.place > view.place:
                tin, share, poured = before, 1.0, at  # what was set aside since is of the tin with what was added
            elif before is not None and at.entry.share < 1:
                tin, share = (at.number if share == 1 else tin), share * at.entry.share
            else:
                return CorrectedTin(tin, share, poured) if batch is None else CorrectedTin(batch)
            at = self._entry(before)
        return CorrectedTin(tin, share, poured)


def batch_found(
    views: Sequence[EntryView], parts: Parts, bank: str, scale: Scale, tints: Sequence[Tint] = ()
) -> BatchEntry:
    """Return what is in a tin as it is kept, where a command is given all of it: it may be the last batch, or that with
    what was added, so that nothing counts as poured twice.

    Parameters
    ----------
    views : sequence of EntryView
        The entries of the job.
    parts : tuple of (tint, grams)
    bank : str
        The name of the bank.
    scale : Scale
    tints : sequence of Tint
        Of the bank, for the lots that are open.
    """
    pours = JobPours(views)
    last = pours.last_batch
    if last is None:
        return BatchEntry(parts, bank=bank, from_lots=lots_of(parts, tints))
    before, lines = pours.batch(last.number), pour_lines(pours.batch(last.number).parts, parts, scale)
    if not any(line.off for line in lines):
        return BatchEntry(before.parts)  # says nothing new
    grown = tuple(parts[: len(before.parts)]) == before.parts or pours.open_correction() is not None
    if grown and all(line.poured_g > line.planned_g for line in lines if line.off):
        more = [(line.tint, line.poured_g - line.planned_g) for line in lines if line.off]
        return BatchEntry(parts, continues=last.number, bank=bank, from_lots=lots_of(more, tints))
    return BatchEntry(parts, bank=bank, from_lots=lots_of(parts, tints))


def lots_of(parts: Iterable[tuple[str, float]], tints: Sequence[Tint]) -> tuple[tuple[str, str], ...]:
    """Return (tint, lot) of what is poured from the tins that are open, where they have a lot."""
    poured = {tint for tint, grams in parts if grams > 0}
    return tuple((tint.name, tint.lot) for tint in tints if tint.lot and tint.name in poured)


def _rank(view: EntryView) -> int:
    return view.entry.rank if isinstance(view.entry, RecipeEntry) else 0


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
        due = _what_lacks(pours, last, scale)
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
    return Meant(entered, before, plan or pours.open_correction())


def _new_tin(pours: JobPours, entered: Parts, plan: PourPlan | None, scale: Scale) -> Meant:
    if plan is None:
        plan = pours.fitting_recipe(entered, scale)
    elif plan.size == 1:
        plan = plan.of_size(likely_size(plan.parts, entered, scale))
    if plan is not None:
        plan = part_first(plan, entered, scale)
    said = [] if plan is None or plan.size == 1 else [f"{plan.name} in a size of {100 * plan.size:.3g} %"]
    if plan is not None and plan.part:
        said = [f"{plan.part} of {plan.name}, as it says to pour before the first card"]
    last = pours.last_batch
    if last is not None and summed(entered) == summed(pours.batch(last.number).parts):
        said.append(f"batch #{last.number} holds the same to the gram: taken as another tin")
    return Meant(entered, None, plan, tuple(said))


def _what_lacks(pours: JobPours, last: EntryView, scale: Scale) -> PourPlan | None:
    """Return what a batch still lacks of its recipe, or None where it lacks nothing."""
    assert isinstance(last.entry, BatchEntry)
    recipe = pours.recipe_of(last)
    if recipe is None or any(view.kind == "spray-out" and view.place > last.place for view in pours.current):
        return None
    recipe = recipe.of_size(likely_size(recipe.parts, tuple(last.entry.parts), scale))
    lacking = [line for line in pour_lines(recipe.parts, tuple(last.entry.parts), scale) if line.to_go_g > 0]
    parts = tuple((line.tint, round(line.to_go_g, 6)) for line in lacking)
    return replace(recipe, parts=parts) if parts else None


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
