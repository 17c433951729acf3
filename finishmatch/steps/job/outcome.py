"""How a decision came out is recorded."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from finishmatch.errors import InputError
from finishmatch.ledger import DecisionEntry, EntryView, JobView, open_ledger
from finishmatch.steps.record import InPlaceOf, RecordedOne, record_one


def outcome(job: str, text: str, *, decision: int | None = None, result: str | None = None) -> RecordedOne:
    """Record how a decision came out: it is entered again with its outcome, and the earlier form stays in the history.

    Parameters
    ----------
    job : str
        A ref or an exact title.
    text : str
        How it came out.
    decision : int or None
        The number of the decision; None is the one of the job that has no outcome yet.
    result : str or None
        "right", "failed" or "broke through"; None leaves it as it was.

    Raises
    ------
    InputError
        No text, no such decision, several that wait; nothing is recorded then.
    """
    if not text.strip():
        raise InputError("outcome", "is empty", "say how it came out")
    with open_ledger(create=False) as ledger:
        found = ledger.find_job(job)
        view = _decision_meant(ledger.entries(found, current_only=True, kind=DecisionEntry), decision, found)
        assert isinstance(view.entry, DecisionEntry)
        entry = replace(view.entry, outcome=text.strip(), result=result or view.entry.result)
        why = "the outcome was given anew" if view.entry.outcome else "the outcome is known"
        recorded = record_one(ledger, found, entry, InPlaceOf(view.number, why))
    if entry.result:
        return recorded
    unsaid = "later advice doesn't count it: say it with `result` right, failed or broke through, and `decision` {}"
    return replace(recorded, warnings=(*recorded.warnings, unsaid.format(recorded.entries[0].number)))


def _decision_meant(views: Sequence[EntryView], number: int | None, job: JobView) -> EntryView:
    if number is not None:
        for view in views:
            if view.number == number:
                return view
        standing = ", ".join(f"#{view.number}" for view in views) or "none"
        what = f"is not a standing decision of {job.ref}"
        raise InputError(f"`decision` {number}", what, f"those that stand: {standing}")
    waiting = [view for view in views if isinstance(view.entry, DecisionEntry) and not view.entry.outcome]
    if not waiting:
        mend = "name the one whose outcome has changed: `decision` N"
        raise InputError(f"job {job.ref}", "no decision waits for an outcome", mend)
    if len(waiting) > 1:
        which = ", ".join(f"#{view.number}" for view in waiting)
        what = f"{len(waiting)} decisions wait for an outcome ({which})"
        raise InputError(f"job {job.ref}", what, "say which: `decision` N")
    return waiting[0]
