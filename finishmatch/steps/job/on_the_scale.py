"""A weigh-out, part by part: what is being poured, what is in the tin, and each part recorded as it is poured."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Any

from finishmatch.errors import InputError
from finishmatch.ledger import BatchEntry, CorrectionEntry, EntryView, RecipeEntry, open_ledger
from finishmatch.ledger.open_items import find_open
from finishmatch.mix.weigh_out import PourLine
from finishmatch.mix.weighing import Scale
from finishmatch.steps.job.plans_to_pour import plans_to_pour
from finishmatch.steps.job.pour import pour
from finishmatch.steps.job.poured_tin import PouredTin, PourRequest
from finishmatch.steps.job.taken_back import LastPart, last_part
from finishmatch.steps.matching import Parts, scale_of
from finishmatch.steps.pour_meant import lacking_of
from finishmatch.steps.pours_of_job import NEW, JobPours
from finishmatch.steps.progress import Progress, quiet
from finishmatch.steps.record import NOTHING, InPlaceOf
from finishmatch.steps.weigh_out import WeighOut

WENT_ON = "one more part was weighed"


@dataclass(frozen=True, kw_only=True)
class WeighRequest:
    """How a tin is weighed out.

    Parameters
    ----------
    scale_step : float
        Of the scale, grams.
    max_growth : float
        Most that may be added to come back from an overshoot, as a share of the tin.
    bank : Path, str or None
        The folder of the bank it is poured from; None is the one the job was mixed from.
    anyway : bool
        Take a weight that looks like a slip as it is.
    total : bool
        The weight is what the scale shows of all that is in the tin, not of the part alone.
    """

    scale_step: float = 0.1
    max_growth: float = 0.2
    bank: Path | str | None = None
    anyway: bool = False
    total: bool = False


USUAL = WeighRequest()


@dataclass(frozen=True)
class OnTheScale:
    """A weigh-out as it stands.

    Parameters
    ----------
    job : str
        Its ref.
    plan : int or None
        The recipe or correction that is poured; None where there is nothing to pour.
    tin : int or None
        The batch that is being filled; None before its first part.
    before : int or None
        The batch that the tin was before, where something is added to one.
    added : tuple of (tint, grams)
        What was poured by the plan so far, in the order poured.
    poured : PouredTin or None
        How the tin stands against its plan.
    plans : tuple of (number, kind, what)
        What else could be poured: the recipes that stand, and the last correction where nothing of it is poured.
    last : LastPart or None
        The part that was poured last, where it can be taken back.
    """

    job: str
    plan: int | None
    tin: int | None
    before: int | None
    added: Parts
    poured: PouredTin | None
    plans: tuple[tuple[int, str, str], ...] = ()
    last: LastPart | None = None

    @property
    def stands(self) -> WeighOut | None:
        """The tin against its plan."""
        return None if self.poured is None else self.poured.stands

    @property
    def lines(self) -> tuple[PourLine, ...]:
        """The parts of the plan as they were poured."""
        return () if self.stands is None else self.stands.lines

    @property
    def next(self) -> PourLine | None:
        """The part that comes next; None where nothing is left to pour."""
        return next((line for line in self.lines if line.to_go_g > 0), None)

    @property
    def done(self) -> int:
        """How many parts need nothing more."""
        return sum(line.to_go_g <= 0 for line in self.lines)

    @property
    def grams(self) -> float:
        """What is in the tin."""
        return 0.0 if self.stands is None else self.stands.grams

    @property
    def to_pour_g(self) -> float:
        """What is still to be poured by the plan."""
        return sum(line.to_go_g for line in self.lines)

    @property
    def to_pour_cost(self) -> float | None:
        """What that costs, in the shop's currency; None where the bank isn't known."""
        parts = tuple((line.tint, line.to_go_g) for line in self.lines if line.to_go_g > 0)
        return None if self.stands is None else self.stands.cost(parts)

    def as_dict(self) -> dict[str, Any]:
        """Return its JSON form."""
        stands, part = self.stands, self.next
        return {
            "job": self.job,
            "plan": None if stands is None else {"number": self.plan, "kind": stands.plan.kind},
            "tin": self.tin,
            "added_to": self.before,
            "next": None if part is None else {"tint": part.tint, "to_go": part.to_go_g, "planned": part.planned_g},
            "parts_done": self.done,
            "parts": len(self.lines),
            "grams": self.grams,
            "stands": None if stands is None else stands.as_dict(),
        }


def on_the_scale(job: str, plan: int | None = None, request: WeighRequest = USUAL) -> OnTheScale:
    """Return what is being poured in a job, and how it stands; nothing is recorded.

    Parameters
    ----------
    job : str
        A ref or an exact title.
    plan : int or None
        The recipe or correction that is poured; None is what the job waits for, or what was begun.
    request : WeighRequest

    Raises
    ------
    InputError
        No such job or plan.
    """
    with open_ledger(create=False) as ledger:
        found = ledger.find_job(job)
        views = ledger.entries(found)
    pours = JobPours(views)
    scale = scale_of(request.scale_step)
    number = _plan_due(pours, scale) if plan is None else plan
    others = plans_to_pour(pours)
    if number is None:
        return OnTheScale(found.ref, None, None, None, (), None, others)
    view = _plan_view(pours, number)
    tin, before = _tin_of(pours, view, scale)
    added: Parts = ()
    if tin is not None:
        assert isinstance(tin.entry, BatchEntry)
        there = 0 if before is None else len(pours.batch(before).parts)
        added = tuple(tin.entry.parts)[there:]
    recorded = NOTHING if tin is None else InPlaceOf(tin.number)  # and off the shelf already
    poured = pour(found.ref, added, _asked(request, number, before, check=True), in_place_of=recorded)
    filled = None if tin is None else tin.number
    beside = filled is None and before is not None and before != _corrected(pours, view)  # added to by something else
    last = None if beside else last_part(pours, filled, before, view)
    return OnTheScale(found.ref, number, filled, before, added, poured, others, last)


def pour_part(
    job: str,
    part: tuple[str, float],
    *,
    plan: int,
    tin: int | None,
    request: WeighRequest = USUAL,
    known: OnTheScale | None = None,
    progress: Progress = quiet,
) -> PouredTin:
    """Record that one more part was poured, in place of the batch as it was before that part.

    Parameters
    ----------
    job : str
        A ref or an exact title.
    part : (tint, grams)
    plan : int
        The recipe or correction that is poured.
    tin : int or None
        The batch as who poured it knew it; None where this is the first part.
    request : WeighRequest
    known : OnTheScale or None
        The weigh-out of that plan as it stands, where that was just found; None finds it.
    progress : Progress

    Raises
    ------
    InputError
        The tin isn't as it was known to be, or the weight looks like a slip; nothing is recorded then.
    """
    now = on_the_scale(job, plan, request) if known is None else known
    if now.tin != tin:
        is_now = "nothing is in it" if now.tin is None else f"it is batch #{now.tin} now"
        raise InputError("the tin", f"was changed meanwhile: {is_now}", "look at it, then record what you poured")
    if request.total:
        part = (part[0], _beyond(now, part[1]))
    in_place_of = NOTHING if now.tin is None else InPlaceOf(now.tin, WENT_ON)
    return pour(job, (*now.added, part), _asked(request, plan, now.before), in_place_of=in_place_of, progress=progress)


def _beyond(now: OnTheScale, total_g: float) -> float:
    """Return what a part weighs, from what the scale shows of all that is in the tin."""
    if total_g <= now.grams:
        what = f"{total_g:g} g is no more than was in the tin before ({now.grams:g} g)"
        raise InputError("`grams`", what, "is it the weight of this part alone?")
    return round(total_g - now.grams, 6)


def _asked(request: WeighRequest, plan: int, before: int | None, *, check: bool = False) -> PourRequest:
    return PourRequest(
        recipe=plan,
        to=NEW if before is None else str(before),
        bank=request.bank,
        scale_step=request.scale_step,
        max_growth=request.max_growth,
        check=check,
        anyway=request.anyway or check,
    )


def _plan_view(pours: JobPours, number: int) -> EntryView:
    view = next((view for view in pours.views if view.number == number), None)
    if view is None or not view.stands or not isinstance(view.entry, RecipeEntry | CorrectionEntry):
        raise InputError(f"#{number}", "is no recipe or correction that stands", "choose one that does")
    return view


def _tin_of(pours: JobPours, plan: EntryView, scale: Scale) -> tuple[EntryView | None, int | None]:
    """Return the batch that is being filled by a plan, and the batch it goes on from; None each where there is none."""
    last = pours.last_batch
    tin = pours.corrected_tin(plan.number) if isinstance(plan.entry, CorrectionEntry) else None
    if last is not None and tin is not None and tin.poured == last:
        return last, tin.number
    filled_up = None if last is None else _filled_up(pours, last, plan.number, scale)
    if filled_up is not None:
        return filled_up
    if tin is not None:
        return None, tin.number
    if last is None or last.place < plan.number or pours.sprayed_since(last):
        return None, None
    assert isinstance(last.entry, BatchEntry)
    follows = last.entry.recipe == plan.number and last.entry.continues is None
    return (last if follows else None), None


def _corrected(pours: JobPours, plan: EntryView) -> int | None:
    """Return the tin that a plan is poured into where it is a correction."""
    return pours.corrected_tin(plan.number).number if isinstance(plan.entry, CorrectionEntry) else None


def _filled_up(
    pours: JobPours, last: EntryView, number: int, scale: Scale
) -> tuple[EntryView | None, int | None] | None:
    """Return the same of a tin that was broken off and added to since; None where the last batch is none.

    Added to by what lacked it is the one that is filled; by something else, it is gone on from.
    """
    assert isinstance(last.entry, BatchEntry)
    before, plan = last.entry.continues, pours.plan(number)
    if before is None or last.entry.share < 1:
        return None
    lacked = lacking_of(pours, plan, before, scale)
    added = {tint for tint, _ in last.entry.parts[len(pours.batch(before).parts) :]}
    if lacked is not None and added <= {tint for tint, _ in lacked.parts}:
        return last, before
    return (None, last.number) if lacking_of(pours, plan, last.number, scale) and added else None


def _plan_due(pours: JobPours, scale: Scale) -> int | None:
    """Return what the job waits for to be poured, or what was begun last; None where there is neither."""
    due = pours.open_correction()
    if due is not None:
        return due.number
    waiting = [item.number for item in find_open(pours.views) if item.needs == "batch" and item.kind == "recipe"]
    if waiting:
        return waiting[-1]
    last = pours.last_batch
    if last is None or pours.sprayed_since(last):
        return None
    assert isinstance(last.entry, BatchEntry)
    if last.entry.continues is None:
        return last.entry.recipe if _stands(pours, last.entry.recipe) else None
    by = [
        view.number
        for view in pours.current
        if isinstance(view.entry, CorrectionEntry)
        and view.entry.additions
        and (pours.corrected_tin(view.number).poured == last or _filled_up(pours, last, view.number, scale))
    ]
    if by:
        return by[-1]
    recipe = last.entry.recipe if _stands(pours, last.entry.recipe) else None
    return recipe if recipe is not None and _filled_up(pours, last, recipe, scale) else None


def _stands(pours: JobPours, number: int | None) -> bool:
    return any(view.number == number and view.stands for view in pours.views)
