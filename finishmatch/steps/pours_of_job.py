"""What a pour is held against: a recipe of the job or a correction of its tin; and what was in the tin before."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import islice

from finishmatch.errors import InputError
from finishmatch.ledger import BatchEntry, CorrectionEntry, EntryView, RecipeEntry
from finishmatch.ledger.open_items import find_open
from finishmatch.ledger.pouring import batches_of_tin, done_without
from finishmatch.mix.weigh_out import likely_size, pour_lines, summed
from finishmatch.mix.weighing import Scale
from finishmatch.optics import Tint
from finishmatch.readings.plain_number import counted
from finishmatch.steps.matching import Parts
from finishmatch.steps.planned_pour import Before, PourPlan

NEW, LAST = "new", "last"


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

    def sprayed_since(self, batch: EntryView) -> bool:
        """Return whether a card was sprayed after a batch."""
        return any(view.kind == "spray-out" and view.place > batch.place for view in self.current)

    def poured_by(self, number: int, plan: PourPlan) -> Parts | None:
        """Return what a batch holds that was poured by a recipe or correction; None where none was or it has a card."""
        entry, view = self.batch_entry(number), self._entry(number)
        if self.sprayed_since(view):
            return None
        if plan.kind == "recipe":
            return tuple(entry.parts) if entry.recipe == plan.number else None
        tin = self.corrected_tin(plan.number)
        if tin.number is None or tin.poured is None:
            return None
        chain = [at.number for at in batches_of_tin(view, self.views)]
        return tuple(entry.parts)[len(self.batch(tin.number).parts) :] if tin.poured.number in chain else None

    def plan(self, number: int) -> PourPlan:
        """Return what a recipe or correction says is to be poured, a correction for the part of its tin there is."""
        view = self._entry(number)
        if isinstance(view.entry, RecipeEntry):
            first, without = view.entry.first_share, tuple(view.entry.without)
            parts, again = tuple(view.entry.parts), view.entry.again
            of_recipe = view.entry if view.entry.let_down else None
            plan = PourPlan(number, "recipe", (), first_share=first, without=without, again=again, of_recipe=of_recipe)
            return plan.poured_as(parts)
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
        """Return the recipe that a pour is likely of, or None where none of them shares enough with it.

        The one that most of its weights are right by; an older one that happens to hold all of its tints, in other
        weights, would take a wrong tint for its own. Where several do as well, the newest.
        """
        best: tuple[tuple[int, int, int], PourPlan] | None = None
        there = summed(poured)
        for view in self.recipes:
            plan = self.plan(view.number)
            shared = set(summed(plan.parts)) & set(there)
            strangers = len(set(there) - shared)
            if not shared or (strangers and len(shared) <= strangers):
                continue
            plan = plan.of_size(likely_size(plan.parts, poured, scale))
            lines = pour_lines(plan.parts, poured, scale)
            right = sum(not line.off for line in lines if line.poured_g > 0)
            rank = (-right, strangers, sum(line.off for line in lines))
            if best is None or rank < best[0]:
                best = rank, plan
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


def lots_poured(
    pours: JobPours, parts: Parts, tints: Sequence[Tint], replaced: int | None
) -> tuple[tuple[str, str], ...]:
    """Return the same of what is poured into a tin; what the batch of the number replaced had already keeps its lot."""
    was = next((view.entry for view in pours.views if view.number == replaced), None)
    if not isinstance(was, BatchEntry):
        return lots_of(parts, tints)
    there = 0 if was.continues is None else len(pours.batch(was.continues).parts)
    had = tuple(was.parts)[there:]
    if len(parts) <= len(had) or tuple(parts[: len(had)]) != had:  # it isn't gone on with
        return lots_of(parts, tints)
    return tuple(dict.fromkeys((*was.from_lots, *lots_of(parts[len(had) :], tints))))


def _rank(view: EntryView) -> int:
    return view.entry.rank if isinstance(view.entry, RecipeEntry) else 0
