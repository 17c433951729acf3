"""What is poured into a tin is held against its recipe, and recorded with the bank it was poured from."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import partial
from pathlib import Path

from finishmatch.errors import InputError
from finishmatch.ledger import (
    BatchEntry,
    CorrectionEntry,
    JobView,
    Ledger,
    Nth,
    RecipeEntry,
    TargetEntry,
    open_ledger,
)
from finishmatch.ledger.pouring import recipe_poured
from finishmatch.mix.weigh_out import is_off, summed, weights_of
from finishmatch.mix.weighing import Scale
from finishmatch.near_names import did_you_mean
from finishmatch.optics import Bank, Tint
from finishmatch.readings.part_of_tin import part_of_tin
from finishmatch.steps.bank import keep_fit, open_bank
from finishmatch.steps.bank_kept import remember_mixed_from
from finishmatch.steps.doubtful_pour import meant_size, pour_doubts, refuse_nothing
from finishmatch.steps.job.bank_poured_from import bank_poured_from
from finishmatch.steps.job.pour_again import record_again, with_again
from finishmatch.steps.job.poured_tin import AS_IT_LOOKS, PouredTin, PourRequest
from finishmatch.steps.matching import Parts, PartsLike, parts_of, refuse_empty, scale_of
from finishmatch.steps.planned_pour import AGAIN, Before, Meant, part_first
from finishmatch.steps.pour_meant import gone_on_with, what_is_meant
from finishmatch.steps.pours_of_job import LAST, NEW, JobPours, lots_poured
from finishmatch.steps.progress import Progress, quiet
from finishmatch.steps.record import NOTHING, InPlaceOf, RecordedOne, record_one
from finishmatch.steps.shelf import Shelf, count_stock, shelf_in, shelf_then
from finishmatch.steps.tin_size import check_fits, check_tin, fits_later
from finishmatch.steps.todays_tins import tins_in
from finishmatch.steps.untold_tints import untold_in, untold_said
from finishmatch.steps.way_back import WayBackRequest
from finishmatch.steps.weigh_out import SLIP_TOLERANCE, Bench, refuse_slip, way_back_due, weigh_out


@dataclass(frozen=True)
class _Inside:
    """The job a pour is of, its bank where that is known, and what is asked; `notes` is of the bank."""

    ledger: Ledger
    job: JobView
    pours: JobPours
    request: PourRequest
    scale: Scale
    progress: Progress
    bank: Bank | None
    folder: Path | None
    notes: tuple[str, ...]

    @property
    def tints(self) -> tuple[Tint, ...]:
        """Of the bank; none where that isn't known."""
        return () if self.bank is None else self.bank.tints

    def bench(self, shelf: Shelf) -> Bench:
        """Return bank, tins and stock, with the bank fitted."""
        assert self.folder is not None
        assert self.bank is not None
        fitted = open_bank(self.folder, self.progress)
        keep_fit(fitted)  # where it can't be kept it is made anew
        tins = tins_in(self.ledger, self.job, fitted)
        return Bench(tins.of_today(fitted), tins, shelf)


def pour(
    job: str,
    batch: PartsLike | None = None,
    request: PourRequest = AS_IT_LOOKS,
    *,
    in_place_of: InPlaceOf = NOTHING,
    progress: Progress = quiet,
) -> PouredTin:
    """Hold what was poured against its recipe, and record it in a job.

    Parameters
    ----------
    job : str
        A ref or an exact title.
    batch : PartsLike or None
        Grams by tint in the order poured, or a file of them, whose bytes are kept; None where `like` says it all, or
        where something is only set aside.
    request : PourRequest
    in_place_of : InPlaceOf
        The batch it replaces, and why.
    progress : Progress

    Raises
    ------
    InputError
        A tint that isn't known, weights that look like a slip; nothing is recorded then.
    """
    scale = scale_of(request.scale_step)
    check_tin(request.tin_l)
    with open_ledger(create=False) as ledger:
        found = ledger.find_job(job)
        bank = bank_poured_from(ledger, found, request.bank)
        views, request, batch = with_again(ledger.entries(found), request, batch, bank[0], in_place_of)
        inside = _Inside(ledger, found, JobPours(views), request, scale, progress, *bank)
        aside = _set_aside(inside)
        if batch is None and request.like is None:
            if aside is None:
                raise InputError("`batch`", "nothing is said to be poured", "give TINT=GRAMS, a file, or `like` N")
            return _only_set_aside(inside, aside, in_place_of)
        entered, sources = _entered(inside, batch)
        meant = _meant(inside, entered, aside, in_place_of, typed=not sources)
        return _poured(inside, meant, aside, in_place_of, sources)


def _entered(inside: _Inside, batch: PartsLike | None) -> tuple[Parts, tuple[Path, ...]]:
    """Return what was entered, (tint, grams) as typed or read, and the file it is from."""
    request = inside.request
    parts: Parts = ()
    sources: tuple[Path, ...] = ()
    if batch is not None and not (request.check and isinstance(batch, tuple) and not batch):  # an empty pan is one too
        known = None if inside.bank is None else inside.bank.densities
        parts, sources = parts_of(batch, known, beside=request.like is not None)
    if inside.bank is None and not request.anyway:
        _check_near(parts, inside.pours.tints)
    if request.like is None:
        if request.grams is not None:
            raise InputError("`grams`", "is said of a recipe, and none is named", "name it with `like` N")
        return parts, sources
    if request.running:
        raise InputError("`running`", "can't stand beside `like`", "give the weights of the parts that differ")
    plan = inside.pours.plan(request.like)
    refuse_nothing(plan, parts)
    if request.grams is not None:
        plan = meant_size(plan, request.grams, anyway=request.anyway)
        plan = plan if plan.size == 1 else part_first(plan, (), inside.scale)
    as_said = summed(plan.parts) | summed(parts)
    poured = tuple((tint, grams) for tint, grams in as_said.items() if grams > 0)
    refuse_empty(poured)
    return poured, sources


def _check_near(parts: Parts, known: Sequence[str]) -> None:
    """See that no tint is one of the job misspelt, where no bank says which there are."""
    for tint, _ in parts:
        near = did_you_mean(tint, known) if tint not in known else ""
        if near:
            mend = f"{near} With `anyway` it is taken as it is"
            raise InputError(f"{tint[:40]!r}", "is in no recipe of this job", mend)


def _set_aside(inside: _Inside) -> BatchEntry | None:
    """Return the part of a batch that is gone on with, where some of it is set aside."""
    request, text = inside.request, inside.request.set_aside
    if text is None:
        if request.aside_for:
            what, mend = "says what a part is meant for, and none is set aside", "say how much with `set_aside`"
            raise InputError("`aside_for`", what, mend)
        return None
    last = inside.pours.last_batch
    if last is None or request.to == NEW:
        raise InputError("`set_aside`", "there is no tin to set a part of aside", "record what is in it first")
    whole = inside.pours.batch(last.number if request.to in (None, LAST) else inside.pours.number(str(request.to)))
    share = 1 - part_of_tin("`set_aside`", text, whole.grams)
    entry = inside.pours.batch_entry(whole.number)
    parts = tuple((tint, round(grams * share, 6)) for tint, grams in whole.parts)
    meant = " ".join(request.aside_for.split())
    return BatchEntry(parts, entry.recipe, whole.number, share, entry.bank, request.tin_l, aside_for=meant)


def _only_set_aside(inside: _Inside, aside: BatchEntry, in_place_of: InPlaceOf) -> PouredTin:
    """Record that some of a tin is set aside, where nothing is poured."""
    if inside.request.check:
        raise InputError("`check`", "there is nothing to be checked", "leave it out: only a part is set aside")
    notes = (*inside.notes, *check_fits(aside.parts, inside.tints, aside.tin_l, anyway=inside.request.anyway))
    recorded = record_one(inside.ledger, inside.job, aside, in_place_of, warnings=notes)
    due = JobPours(inside.ledger.entries(inside.job)).open_correction()
    said = () if due is None or not due.of_this_part else (due.of_this_part,)
    shelf = None if inside.bank is None else shelf_in(inside.ledger, inside.bank)
    return PouredTin(inside.job, tuple(aside.parts), recorded, None, None, said, shelf, notes)


def _meant(inside: _Inside, entered: Parts, aside: BatchEntry | None, in_place_of: InPlaceOf, *, typed: bool) -> Meant:
    """Return what a pour is, from what was said and what the job knows."""
    request, pours = inside.request, inside.pours
    number, to = request.like if request.recipe is None else request.recipe, request.to
    replaced = next((view for view in pours.views if view.number == in_place_of.supersedes), None)
    if to is None and replaced is not None and isinstance(replaced.entry, BatchEntry):
        start = pours.gone_on_from(replaced.number)
        to = NEW if start is None else str(start)
        if start is not None:
            entered = gone_on_with(pours.batch(start), entered, inside.scale)
    if to is None and (aside is not None or (number is not None and pours.plan(number).kind == "correction")):
        to = LAST
    if request.running:
        last, there = pours.last_batch, 0.0
        if to != NEW and last is not None and entered and entered[0][1] >= pours.batch(last.number).grams:
            to, there = to or LAST, pours.batch(last.number).grams  # the tin with what was in it stands on the scale
        entered = weights_of(entered, there)
    found = what_is_meant(pours, entered, to, number, inside.scale, typed=typed)
    if aside is None:
        return found
    plan = found.plan
    if plan is not None and plan.kind == "correction":
        plan = plan.of_size(plan.size * aside.share)
    return replace(found, before=Before(found.before.number if found.before else 0, tuple(aside.parts)), plan=plan)


def _poured(
    inside: _Inside, meant: Meant, aside: BatchEntry | None, in_place_of: InPlaceOf, sources: Sequence[Path]
) -> PouredTin:
    """Check a pour, record it unless that isn't wanted, and return how it stands."""
    request, bank = inside.request, inside.bank
    slips = refuse_slip(meant, inside.scale, half_way=request.check, anyway=request.anyway)
    parts = (*(() if meant.before is None else meant.before.parts), *meant.poured)
    tin_l = request.tin_l
    if tin_l is None and meant.before is not None:
        tin_l = inside.pours.batch_entry(meant.before.number).tin_l
    fits = check_fits(parts, inside.tints, tin_l, anyway=request.anyway)
    stands, untold = None, untold_in(parts, bank)
    if meant.plan is not None:
        bench, tints = None, inside.tints
        if bank is not None:
            replaced = in_place_of.supersedes
            left = shelf_then(inside.ledger, bank, meant.poured, replaced, inside.pours.views)
            bench, tints = None if untold else partial(inside.bench, left), left.tints
        stands = weigh_out(meant, inside.scale, tints, bench, _way_back(inside))
        fits = (*fits, *fits_later(parts, (*stands.to_go, *stands.to_add), inside.tints, tin_l), *stands.not_there)
    recorded = recorded_aside = None
    if not request.check:
        entry = BatchEntry(
            parts=parts,
            recipe=_recipe(inside, meant, parts),
            continues=None if meant.before is None else meant.before.number,
            bank="" if bank is None else bank.name,
            tin_l=tin_l,
            from_lots=lots_poured(inside.pours, meant.poured, inside.tints, in_place_of.supersedes),
        )
        recorded, recorded_aside = _record(
            inside, entry, (aside, way_back_due(stands, entry.recipe)), in_place_of, sources
        )
    shelf = None if bank is None else shelf_in(inside.ledger, bank)
    doubts = pour_doubts(inside.pours, meant, inside.tints, inside.scale)
    low = () if shelf is None else (*shelf.warnings, *shelf.running_low({tint for tint, _ in meant.poured}))
    warnings = tuple(dict.fromkeys((*inside.notes, *slips, *fits, *untold_said(untold), *doubts, *low)))
    return PouredTin(inside.job, parts, recorded, recorded_aside, stands, meant.understood, shelf, warnings)


def _way_back(inside: _Inside) -> WayBackRequest:
    """Return how an overshoot is brought back: within the job's tolerance, and never more than that of a slip."""
    target = inside.ledger.latest(inside.job, TargetEntry)
    kept = target.entry.tolerance if target is not None and isinstance(target.entry, TargetEntry) else 0.0
    return WayBackRequest(tolerance=min(kept or SLIP_TOLERANCE, SLIP_TOLERANCE), max_growth=inside.request.max_growth)


def _recipe(inside: _Inside, meant: Meant, parts: Parts) -> int | None:
    """Return the number of the recipe that a tin was poured by."""
    pours, plan = inside.pours, meant.plan
    if inside.request.recipe is not None and pours.plan(inside.request.recipe).kind == "recipe":
        return inside.request.recipe
    if meant.before is not None:
        return pours.batch_entry(meant.before.number).recipe
    if plan is not None and plan.kind == "recipe":
        poured = summed(meant.poured)
        right = sum(not is_off(grams, poured.get(tint, 0.0), inside.scale) for tint, grams in plan.parts)
        if inside.request.like == plan.number or 2 * right >= len(plan.parts):
            return plan.number
    return recipe_poured(parts, [view for view in pours.current if isinstance(view.entry, RecipeEntry)])


def _record(
    inside: _Inside,
    entry: BatchEntry,
    along: tuple[BatchEntry | None, CorrectionEntry | None],
    in_place_of: InPlaceOf,
    sources: Sequence[Path],
) -> tuple[RecordedOne, RecordedOne | None]:
    """Record what is in the tin now; before it the part that was gone on with, after it what is due of an overshoot."""
    ledger, job, (aside, due) = inside.ledger, inside.job, along
    if inside.bank is not None:
        count_stock(ledger, inside.bank)
    recorded_aside = None
    after = () if due is None else (due,)
    if entry.recipe == AGAIN:
        recorded = record_again(ledger, job, inside.pours.views, entry, due, sources)
    elif aside is None:
        recorded = record_one(ledger, job, entry, in_place_of, sources=sources, along=after)
    else:
        if in_place_of != NOTHING:
            raise InputError("`supersedes`", "a batch isn't replaced by two", "set aside first, then replace")
        entries = [aside, replace(entry, continues=Nth(0)), *(replace(one, batch=Nth(1)) for one in after)]
        numbers = ledger.record_all(job, entries, sources={1: list(sources)})
        views = {view.number: view for view in ledger.entries(job, kind=BatchEntry)}
        recorded_aside, recorded = (RecordedOne(job, (views[number],)) for number in numbers[:2])
    if inside.bank is not None and inside.folder is not None:
        remember_mixed_from(ledger, job, inside.bank, inside.folder)
    return recorded, recorded_aside
