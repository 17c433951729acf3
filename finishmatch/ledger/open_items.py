"""What is open in a job: what the painter has begun and not yet closed, and what kind of entry closes it.

Work done by hand (pouring, spraying) is closed by what comes after it in the story; a judgement (a recipe for a
target, a verdict, a correction, a decision) must be newer than the facts as they now stand, so that a fact
replaced after it was judged is open again.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from typing import Any

from finishmatch.ledger.entries import (
    BatchEntry,
    CorrectionEntry,
    DecisionEntry,
    DefectEntry,
    PlanEntry,
    RecipeEntry,
    SprayOutEntry,
    StrengthEntry,
    TargetEntry,
    VerdictEntry,
)
from finishmatch.ledger.evidence_weighed import read_since
from finishmatch.ledger.pouring import divides, lacking_in, wanted_in
from finishmatch.ledger.views import EntryView

OUTCOME = "outcome"  # what closes a decision; all else is closed by an entry of the kind it needs
# where one of these is recorded, a reading is evidence that was weighed, or something else than evidence
_PAST_EVIDENCE = ("target", "recipe", "batch", "spray-out", "verdict", "coat", "film-layer", "defect")
PLANS_OPEN = ("law", "air", "angles")  # the plans whose no stands against the work


@dataclass(frozen=True)
class OpenItem:
    """Something open.

    Parameters
    ----------
    number : int
        The entry it hangs on.
    kind : str
        The kind of that entry.
    what : str
        What is lacking, in words.
    needs : str
        What closes it: the kind of the entry to come, or "outcome".
    tints : tuple of str
        Those that are to be poured, where a tin lacks them still.
    """

    number: int
    kind: str
    what: str
    needs: str
    tints: tuple[str, ...] = ()

    def as_dict(self) -> dict[str, Any]:
        """Return the fields of its JSON form that don't depend on the face."""
        return {"number": self.number, "kind": self.kind, "what": self.what}


def find_open(entries: Iterable[EntryView]) -> list[OpenItem]:
    """Return what is open in a job.

    Parameters
    ----------
    entries : iterable of EntryView
        All entries of the job, replaced ones included.

    Returns
    -------
    list of OpenItem
        What stands against the work (a paint that may not be sprayed) first, then in the order of the work: target,
        recipe, batch, spray-out, verdict, correction, defects, decisions.
    """
    everything = list(entries)
    current = sorted((view for view in everything if view.stands), key=lambda view: view.place)
    return [*_open_plans(current), *_open_colour(current, everything), *_open_defects(current, everything)]


def _of(current: Sequence[EntryView], kind: str) -> list[EntryView]:
    return [view for view in current if view.kind == kind]


def _last(current: Sequence[EntryView], kind: str) -> EntryView | None:
    found = _of(current, kind)
    return found[-1] if found else None


def _follows(current: Sequence[EntryView], fact: EntryView, *kinds: str) -> bool:
    """Return whether work of some kinds comes after a fact in the story."""
    return any(view.place > fact.place for view in current if view.kind in kinds)


def _judged(current: Sequence[EntryView], fact: EntryView, *kinds: str) -> bool:
    """Return whether a judgement of some kinds was made on a fact as it now stands."""
    return any(view.number > fact.number for view in current if view.kind in kinds)


def verdicts_of_cards(current: Iterable[EntryView]) -> list[EntryView]:
    """Return the verdicts on what was mixed, in order: of two survivors held against each other nothing is mixed."""
    views = list(current)
    poured = [view.place for view in views if isinstance(view.entry, BatchEntry)]
    goals = [view.entry for view in views if isinstance(view.entry, TargetEntry)]
    targets = {name for goal in goals for name in (goal.name, *(() if goal.weights else goal.evidence))}
    return [
        view
        for view in views
        if isinstance(view.entry, VerdictEntry)
        and (
            view.entry.spray_out is not None
            or view.entry.standard in targets
            or any(place < view.place for place in poured)
        )
    ]


def _best_recipe(current: Sequence[EntryView]) -> EntryView | None:
    """Return the best recipe of the last list."""
    found = _of(current, "recipe")
    best = [view for view in found if isinstance(view.entry, RecipeEntry) and view.entry.rank == 1]
    return best[-1] if best else found[-1] if found else None


def _open_plans(current: Sequence[EntryView]) -> list[OpenItem]:
    """Return the plans whose answer is no: a paint that may not be sprayed, air that won't do, a flop that is off.

    A ruling on a paint waits where that paint was decided on, and stands until it, or one judged together with it, is
    judged again. Air is of its day: what was sprayed since went another way.
    """
    plans = [(view, view.entry) for view in _of(current, "plan") if isinstance(view.entry, PlanEntry)]
    items = []
    for view, entry in plans:
        later = [one for other, one in plans if other.number > view.number and one.about == entry.about]
        if entry.verdict == "yes" or entry.about not in PLANS_OPEN:
            continue
        if entry.about == "law":
            if not _decided_on(view, (other for other, _ in plans)):
                continue
            later = [one for one in later if not entry.figures or set(one.figures) & set(entry.figures)]
        sprayed = entry.about == "air" and _follows(current, view, "spray-out", "coat")
        barred = f"may not be sprayed (plan #{view.number})" if entry.about == "law" else f"plan #{view.number}"
        if not later and not sprayed:
            items.append(OpenItem(view.number, view.kind, f"{barred}: {entry.answer}", f"plan {entry.about}"))
    return items


def _decided_on(law: EntryView, plans: Iterable[EntryView]) -> bool:
    """Return whether a paint that was judged is one that the work is planned with: another plan rests on its sheet.

    A ruling alone, as of a coating that is typed, only asks what would be allowed.
    """
    sheets = {name for name, _ in law.sources}
    others = (view for view in plans if isinstance(view.entry, PlanEntry) and view.entry.about != "law")
    return any(name in sheets for view in others for name, _ in view.sources)


def _open_colour(current: Sequence[EntryView], everything: Sequence[EntryView]) -> list[OpenItem]:
    items = []
    tin = _last(current, "batch")
    current = [view for view in current if not divides(view)]  # a part set aside leaves open what was open
    target, recipe, batch = _last(current, "target"), _best_recipe(current), _last(current, "batch")
    spray_out, correction = (_last(current, kind) for kind in ("spray-out", "correction"))
    verdict = next(reversed(verdicts_of_cards(current)), None)
    read = _of(current, "reading")
    if read and not any(_of(current, kind) for kind in _PAST_EVIDENCE):
        numbers = ", ".join(f"#{view.number}" for view in read)
        named = f"reading {numbers} is" if len(read) == 1 else f"readings {numbers} are"
        what = f"{named} not weighed for a target yet"
        items.append(OpenItem(read[-1].number, read[-1].kind, what, "target"))
    anew = [view for view in read if target and not batch and read_since(target, view)]
    if target and anew:
        what = f"reading #{anew[-1].number} was read again since target #{target.number} was found from it"
        items.append(OpenItem(anew[-1].number, anew[-1].kind, what, "target"))
    if target and not _judged(current, target, "recipe"):
        items.append(_item(target, "has no recipe yet", "recipe"))
    if recipe and not _follows(current, recipe, "batch"):
        items += _open_recipe(recipe, target, current, everything)
    due = correction is not None and bool(batch) and _open_correction_of(current, correction, batch)
    if batch and not due and not _follows(current, batch, "spray-out"):
        items.append(_open_batch(batch, everything))
    if spray_out and not _judged(current, spray_out, "verdict"):
        items.append(_item(spray_out, "is not judged yet", "verdict"))
    # evidence compared before there was a target, or a tin poured anew, leaves nothing to correct
    if (
        verdict
        and not _judged(current, verdict, "correction")
        and not _follows(current, verdict, "batch", "recipe", "target")
    ):
        assert isinstance(verdict.entry, VerdictEntry)
        if verdict.entry.verdict == "outside":
            items.append(_item(verdict, "is outside, and no correction is worked out", "correction"))
        elif tin and wanted_in(everything, tin) is not None:
            items.append(_item(tin, "is a part of its recipe, and how to pour the rest isn't worked out", "correction"))
    if correction and isinstance(correction.entry, CorrectionEntry):
        items += _open_correction(current, correction, correction.entry)
        items += _open_thin_card(current, correction, correction.entry)
    return items


def _open_recipe(
    recipe: EntryView, target: EntryView | None, current: Sequence[EntryView], everything: Sequence[EntryView]
) -> list[OpenItem]:
    """Return what a recipe that isn't poured yet waits for: to be poured, or, by what was found since, another."""
    stood = [view for view in everything if isinstance(view.entry, TargetEntry) and view.number < recipe.number]
    if stood and stood[-1].struck_by is not None:
        if target is not None and not _judged(current, target, "recipe"):
            return []  # that says it already
        gone = f"was made while target #{stood[-1].number} stood, which is struck"
        if target is None:
            return [_item(recipe, f"{gone}: the job has no target now", "target")]
        return [_item(recipe, f"{gone}: mix again, for target #{target.number}", "recipe")]
    tried = [view for view in _tried(current) if view.number > recipe.number]
    if tried:
        again = f"tried a tin after recipe #{recipe.number} was made: mix again, for the tin as it is"
        return [_item(tried[-1], again, "recipe")]
    return [_item(recipe, "is not poured yet", "batch")]


def _open_batch(batch: EntryView, everything: Sequence[EntryView]) -> OpenItem:
    """Return what a batch waits for that isn't sprayed yet: its card, or the tints that it lacks still."""
    lacking, number = lacking_in(everything, batch)
    if number is None:
        return _item(batch, "is not sprayed yet", "spray-out")
    by = next(view.kind for view in everything if view.number == number)
    return replace(_item(batch, f"lacks {', '.join(lacking)} of {by} #{number}", "batch"), tints=lacking)


def _tried(current: Sequence[EntryView]) -> list[EntryView]:
    """Return the strengths that were found by a letdown of a tin."""
    strengths = ((view, view.entry) for view in _of(current, "strength"))
    return [view for view, entry in strengths if isinstance(entry, StrengthEntry) and entry.letdown is not None]


def _open_correction_of(current: Sequence[EntryView], correction: EntryView, batch: EntryView | None) -> bool:
    """Return whether a batch waits for a correction before it is sprayed, as after a pour that came out too large."""
    assert isinstance(correction.entry, CorrectionEntry)
    of_it = batch is not None and correction.entry.batch == batch.number
    return of_it and bool(_open_correction(current, correction, correction.entry))


def _open_correction(current: Sequence[EntryView], view: EntryView, correction: CorrectionEntry) -> list[OpenItem]:
    if _follows(current, view, "batch", "recipe"):
        return []
    if not correction.reachable:
        return [_item(view, "found that adding can't bring it there: mix afresh", "recipe")]
    if correction.additions:
        return [_item(view, "is not poured yet", "batch")]
    return []


def _open_thin_card(current: Sequence[EntryView], view: EntryView, correction: CorrectionEntry) -> list[OpenItem]:
    """Return that a card is to be sprayed that hides, where by a thin one that is outside nothing is to be added."""
    card = next((one for one in current if one.number == correction.spray_out), None)
    verdict = next(reversed(verdicts_of_cards(current)), None)
    if (
        card is None
        or not isinstance(card.entry, SprayOutEntry)
        or card.entry.build_um is None
        or correction.additions
        or not correction.reachable
        or verdict is None
        or not isinstance(verdict.entry, VerdictEntry)
        or (verdict.entry.spray_out, verdict.entry.verdict) != (card.number, "outside")
        or _follows(current, view, "batch", "recipe", "spray-out")
    ):
        return []
    what = "is outside as it reads, and by what it would read if it hid nothing is to be added: spray one that hides"
    return [_item(card, what, "spray-out")]


def _open_defects(current: Sequence[EntryView], everything: Sequence[EntryView]) -> list[OpenItem]:
    decided = _newest_decisions(current, everything)
    items = []
    for view in _of(current, "defect"):
        assert isinstance(view.entry, DefectEntry)
        decision = decided.get(view.place)
        name = f"({view.entry.kind} on the {view.entry.panel})"
        if decision is None:
            items.append(_item(view, f"{name} has no decision yet", "decision"))
        elif decision < view.number:
            again = f"{name} was logged anew after decision #{decision}: decide again"
            items.append(_item(view, again, "decision"))
    for view in _of(current, "decision"):
        assert isinstance(view.entry, DecisionEntry)
        if not view.entry.outcome.strip():
            items.append(_item(view, f"({view.entry.chosen}) has no outcome yet", OUTCOME))
    return items


def _newest_decisions(current: Sequence[EntryView], everything: Sequence[EntryView]) -> dict[int, int]:
    """Return the number of the newest decision about each defect, by the defect's place in the story."""
    place = {view.number: view.place for view in everything}
    decided: dict[int, int] = {}
    for view in _of(current, "decision"):
        assert isinstance(view.entry, DecisionEntry)
        about = view.entry.defect
        if about is None:  # then it is about the last defect seen before it
            earlier = [defect.place for defect in _of(current, "defect") if defect.place < view.place]
            about = earlier[-1] if earlier else None
        if about is not None:
            decided[place[about]] = max(view.number, decided.get(place[about], 0))
    return decided


def _item(view: EntryView, what: str, needs: str) -> OpenItem:
    return OpenItem(view.number, view.kind, f"{view.kind} #{view.number} {what}", needs)
