"""A batch whose card was inside is poured again, in any size: as a recipe of its own, with what its card showed."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from finishmatch.colour.told_within import told_within
from finishmatch.correct.fresh_batch import cost_of
from finishmatch.errors import InputError
from finishmatch.ledger import (
    BatchEntry,
    CorrectionEntry,
    EntryView,
    JobView,
    Ledger,
    Nth,
    RecipeEntry,
    SprayOutEntry,
    VerdictEntry,
)
from finishmatch.ledger.pouring import done_without, lots_in_tin
from finishmatch.ledger.strengths import new_tins_at
from finishmatch.mix.letdowns import MOST_LETDOWNS, letdowns_of_recipe
from finishmatch.mix.weigh_out import summed
from finishmatch.mix.weighing import PARTS, Scale
from finishmatch.optics import Bank, Tint
from finishmatch.readings.batch_file import LEAST_GRAMS
from finishmatch.steps.from_job import is_of_batch
from finishmatch.steps.job.poured_tin import PourRequest
from finishmatch.steps.matching import Parts, PartsLike
from finishmatch.steps.planned_pour import AGAIN, Meant
from finishmatch.steps.pours_of_job import NEW
from finishmatch.steps.record import NOTHING, InPlaceOf, RecordedOne
from finishmatch.steps.tins_of_day import tins_changed

_ROUNDED = 0.05  # share of a part that a step of the scale may take or add unsaid («common practice»: no source)


@dataclass(frozen=True)
class _Right:
    """A batch whose card was judged: its entry, its last card that was, and the verdict on that."""

    view: EntryView
    batch: BatchEntry
    card: SprayOutEntry
    judged: EntryView
    how: VerdictEntry


def with_again(
    views: Sequence[EntryView],
    request: PourRequest,
    batch: PartsLike | None,
    bank: Bank | None,
    in_place_of: InPlaceOf = NOTHING,
) -> tuple[Sequence[EntryView], PourRequest, PartsLike | None]:
    """Return the entries of a job, what is asked and what is poured, where that is a batch again: as by a recipe of it.

    The recipe stands among the entries as number `AGAIN` until it is recorded. Where nothing but a recipe or a
    correction is named, all is as it was. What is only to be checked begins with an empty pan.

    Parameters
    ----------
    views : sequence of EntryView
        The entries of the job.
    request : PourRequest
    batch : PartsLike or None
        What was entered.
    bank : Bank or None
        That it is poured from.
    in_place_of : InPlaceOf

    Raises
    ------
    InputError
        Its card was outside, or wasn't judged; it can't be poured so.
    """
    named = next((view for view in views if view.number == request.like), None)
    if named is None or not isinstance(named.entry, BatchEntry):
        return views, request, batch
    if request.set_aside or request.to not in (None, NEW) or request.recipe is not None or in_place_of != NOTHING:
        what = f"batch #{named.number} is poured again into a tin of its own"
        raise InputError("`like`", what, "record a part that is set aside, or an addition, by itself")
    recipe = recipe_again(views, named, request, bank)
    view = EntryView(AGAIN, "recipe", "", recipe, None, None, "", (), AGAIN)
    if request.check:
        return (*views, view), replace(request, like=None, recipe=AGAIN, grams=None), () if batch is None else batch
    return (*views, view), replace(request, like=AGAIN, grams=None), batch


def recipe_again(views: Sequence[EntryView], named: EntryView, request: PourRequest, bank: Bank | None) -> RecipeEntry:
    """Return a batch as a recipe, of the weight that is asked for, with what its card showed.

    Parameters
    ----------
    views : sequence of EntryView
        The entries of its job.
    named : EntryView
        Of the batch.
    request : PourRequest
        Its weight, the step of the scale, and whether it is poured again though its card was outside.
    bank : Bank or None

    Raises
    ------
    InputError
        No batch, its card was outside or wasn't judged, a weight that can't be weighed out.
    """
    if not isinstance(named.entry, BatchEntry):
        raise InputError(f"#{named.number}", f"is a {named.kind}, and no batch", "name a batch: finishmatch job show")
    if not named.stands:
        mend = "name the one that stands: finishmatch job show"
        raise InputError(f"batch #{named.number}", "was replaced or struck", mend)
    return _recipe(_judged(views, named, named.entry, request.anyway), views, request, bank)


def batch_was_right(views: Sequence[EntryView], named: EntryView) -> VerdictEntry | None:
    """Return the verdict on a batch's last card that was judged, where that was inside, or None."""
    if not (named.stands and isinstance(named.entry, BatchEntry)):
        return None
    right = _last_judged(views, named, named.entry)
    return right.how if right is not None and right.how.verdict == "within" else None


def _last_judged(views: Sequence[EntryView], named: EntryView, batch: BatchEntry) -> _Right | None:
    """Return a batch with its last card that was judged; None where none was."""
    cards = {
        view.number: view.entry
        for view in views
        if view.stands and isinstance(view.entry, SprayOutEntry) and view.entry.batch is not None
        if is_of_batch(view, named, views)
    }
    how = [
        (view, view.entry)
        for view in views
        if view.stands and isinstance(view.entry, VerdictEntry) and view.entry.spray_out in cards
    ]
    if not how or how[-1][1].spray_out is None:
        return None
    judged, verdict = how[-1]
    return _Right(named, batch, cards[how[-1][1].spray_out], judged, verdict)


def _judged(views: Sequence[EntryView], named: EntryView, batch: BatchEntry, anyway: bool) -> _Right:
    """Return a batch with its last card that was judged; refused where that wasn't inside."""
    right, where = _last_judged(views, named, batch), f"batch #{named.number}"
    if right is None:
        mend = "judge a card of it first: finishmatch judge"
        raise InputError(where, "has no card that was judged, so what it comes out as isn't known", mend)
    if not anyway and right.how.verdict != "within":
        what = f"had a card outside {right.how.tolerance:g} (verdict #{right.judged.number})"
        mend = "correct it, and pour again the batch that is right; with `anyway` it is poured again as it is"
        raise InputError(where, what, mend)
    return right


def _recipe(right: _Right, views: Sequence[EntryView], request: PourRequest, bank: Bank | None) -> RecipeEntry:
    """Return a batch as a recipe of the weight that is wanted, in steps of the scale, with what its card showed."""
    whole, card, how = summed(right.batch.parts), right.card, right.how
    there = sum(whole.values())
    grams = there if request.grams is None else request.grams
    if not (math.isfinite(grams) and grams >= LEAST_GRAMS):
        raise InputError("`grams`", f"{grams:g} g is no batch", "give what it weighs, in grams")
    step = request.scale_step
    exact = {tint: of * grams / there for tint, of in whole.items() if of > 0}
    let_down = _let_down(exact, step)
    steps = {tint: step / PARTS if tint in let_down else step for tint in exact}
    parts = [(tint, round(round(of / steps[tint]) * steps[tint], 6)) for tint, of in exact.items()]
    lost = [tint for tint, weight in parts if weight <= 0]
    if lost:
        least = math.ceil(there * max(step / whole[tint] for tint in lost))
        what = f"{grams:g} g of batch #{right.view.number} takes less {' and '.join(lost)} than a step of the scale"
        raise InputError("`grams`", what, f"pour {least} g or more, or weigh on a finer scale (`scale_step`)")
    weighs = round(round(sum(weight for _, weight in parts) / step) * step, 6)
    known = bank is not None and {tint for tint, _ in parts} <= {tint.name for tint in bank.tints}
    return RecipeEntry(
        bank=right.batch.bank or ("" if bank is None else bank.name),
        bank_digest="" if bank is None else bank.digest,
        grams=weighs,
        parts=parts,
        lights=dict(how.lights),
        metamerism=how.metamerism,
        cost=cost_of(tuple(parts), bank.tints) if known and bank is not None else None,
        sensitivity_de00_p95=None,
        rank=1,
        lab=tuple(card.lab),
        light=card.light,
        observer=card.observer,
        reflectance=card.reflectance,
        without=done_without(views, right.view.number)[0],
        asked_g=None if math.isclose(grams, weighs, rel_tol=1e-3) else grams,
        again=right.view.number,
        let_down=let_down,
        scale_step_g=step if let_down else None,
    )


def _let_down(exact: dict[str, float], step_g: float) -> list[str]:
    """Return the tints of which a step of the scale is plainly more or less than their share: the smallest parts.

    None in a tin too small to fill a cup from.
    """
    small = sorted((grams, tint) for tint, grams in exact.items() if step_g > _ROUNDED * grams)
    tints = [tint for grams, tint in small[:MOST_LETDOWNS] if grams < max(exact.values())]
    return tints if letdowns_of_recipe(tuple(exact.items()), tints, step_g) else []


def again_doubts(views: Sequence[EntryView], meant: Meant, tints: Sequence[Tint], scale: Scale) -> tuple[str, ...]:
    """Return what is to be expected of a batch that is poured again, and what may make it another colour.

    Parameters
    ----------
    views : sequence of EntryView
        The entries of its job.
    meant : Meant
    tints : sequence of Tint
        Of the bank, with the lots that are open; empty where it isn't known.
    scale : Scale
    """
    plan = meant.plan
    named = None if plan is None else next((view for view in views if view.number == plan.again), None)
    if plan is None or named is None or not isinstance(named.entry, BatchEntry):
        return ()
    right, batch = _judged(views, named, named.entry, anyway=True), f"batch #{named.number}"
    wanted = {tint for tint, _ in plan.parts}
    mine = [tint for tint in tints if tint.name in wanted]
    return (
        _expected(right, batch),
        *_other_tins(views, right, batch, mine),
        *_small(right, plan.parts, scale, batch),
    )


def _expected(right: _Right, batch: str) -> str:
    how = right.how
    known = {str(one["light"]): float(one["u95"]) for one in right.card.seen}
    off = "  ".join(
        f"{light} {de:.2f}" + (f" ±{told_within(known[light]):g}" if light in known else "")
        for light, de in how.lights.items()
    )
    side = "inside" if how.verdict == "within" else "outside"
    return (
        f"the card of {batch} came to ΔE00 {off} from {how.standard}, {side} {how.tolerance:g}: expect as much of this"
    )


def _other_tins(views: Sequence[EntryView], right: _Right, batch: str, mine: Sequence[Tint]) -> tuple[str, ...]:
    """Return a warning where a tint is of another tin than the batch was, or where that can't be known."""
    advice = "spray a card before the car"
    was = lots_in_tin(views, right.view.number)
    several = {tint: of for tint, of in was.items() if len(of) > 1}
    changed = tins_changed({tint: of[0] for tint, of in was.items() if len(of) == 1}, mine)
    opened = new_tins_at(views, right.batch.bank) > right.view.number
    said = [*changed, *(f"{tint} of {batch} was of the lots {' and '.join(of)}" for tint, of in several.items())]
    if said:
        return (f"{', '.join(said)} (tints.csv): it may come out another colour; {advice}",)
    if opened:
        return (f"new tins were opened since {batch} was poured: it may come out another colour; {advice}",)
    unmarked = ", ".join(tint.name for tint in mine if tint.name not in was)
    if unmarked:
        return (f"no lot in tints.csv says whether the tins are those of {batch} ({unmarked}): {advice}",)
    return ()


def _small(right: _Right, parts: Parts, scale: Scale, batch: str) -> tuple[str, ...]:
    """Return a warning of parts that a step of the scale makes plainly more or less than their share."""
    whole = summed(right.batch.parts)
    share = sum(grams for _, grams in parts) / sum(whole.values())
    found = []
    for tint, grams in parts:
        exact = whole.get(tint, 0.0) * share
        if exact > 0 and abs(grams - exact) > _ROUNDED * exact:
            found.append(f"{tint} {grams:g} g, where {exact:.2g} g is its share")
    if not found:
        return ()
    return (f"the scale's step of {scale.step_g:g} g makes it another mixture than {batch}: {', '.join(found)}",)


def record_again(
    ledger: Ledger,
    job: JobView,
    views: Sequence[EntryView],
    entry: BatchEntry,
    due: CorrectionEntry | None,
    sources: Sequence[Path],
) -> RecordedOne:
    """Record the recipe that a batch is again, that it was poured, and what is due of an overshoot; all or none."""
    recipe = next(view.entry for view in views if view.number == AGAIN)
    entries = [recipe, replace(entry, recipe=Nth(0)), *(() if due is None else (replace(due, batch=Nth(1)),))]
    numbers = ledger.record_all(job, entries, sources={1: list(sources)})
    kept = {view.number: view for view in ledger.entries(job, kind=BatchEntry)}
    return RecordedOne(job, (kept[numbers[1]],))
