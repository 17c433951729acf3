"""The last part of a weigh-out was entered wrong: it is taken back, and the tin stands as it was before it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from finishmatch.errors import InputError
from finishmatch.ledger import BatchEntry, CorrectionEntry, EntryView, open_ledger
from finishmatch.steps.job.pour import pour
from finishmatch.steps.job.poured_tin import PourRequest
from finishmatch.steps.job.strike import strike
from finishmatch.steps.pours_of_job import NEW, JobPours
from finishmatch.steps.record import InPlaceOf

WRONG = "entered wrong at the scale"


@dataclass(frozen=True)
class LastPart:
    """The part that was poured last into a tin.

    Parameters
    ----------
    batch : int
        Which holds it.
    tint : str
    grams : float
    due : int or None
        The correction that is due since that part was too much; it falls with it.
    """

    batch: int
    tint: str
    grams: float
    due: int | None = None


def last_part(pours: JobPours, tin: int | None, before: int | None, plan: EntryView) -> LastPart | None:
    """Return the part that was poured last, or None where none can be taken back.

    Parameters
    ----------
    pours : JobPours
    tin, before : int or None
        The batch that is being filled, and the one it goes on from.
    plan : EntryView
        The recipe or correction that is poured.

    Notes
    -----
    Before the first part of a way back the last part is the one that made it due. A tin that was sprayed since is as
    its card says.
    """
    due = None if tin is not None else plan.number
    number = before if tin is None else tin
    if number is None or (tin is None and not isinstance(plan.entry, CorrectionEntry)):
        return None
    views = {view.number: view for view in pours.views}
    poured = _poured(views, views[number])
    if not poured or any(view.kind == "spray-out" and view.place > views[number].place for view in pours.current):
        return None
    return LastPart(number, *poured[-1], due)


def take_back(job: str, last: LastPart, why: str = WRONG) -> tuple[str, ...]:
    """Take the last part of a tin back, and return what is to be said of it.

    Parameters
    ----------
    job : str
        A ref or an exact title.
    last : LastPart
    why : str
        The reason, as it is kept.

    Notes
    -----
    Where that part was recorded by itself its batch is struck: the one before it counts again. Where several were
    recorded at once, the others are in the tin still: a batch without the part takes its place.

    Raises
    ------
    InputError
        The tin isn't as it was known to be; nothing is recorded then.
    """
    with open_ledger(create=False) as ledger:
        views = {view.number: view for view in ledger.entries(ledger.find_job(job))}
    view = views.get(last.batch)
    if view is None or not view.stands or _poured(views, view)[-1:] != ((last.tint, last.grams),):
        raise InputError("the tin", "was changed meanwhile", "look at it again")
    entry = view.entry
    assert isinstance(entry, BatchEntry)
    poured, before = _poured(views, view), views.get(view.supersedes or 0)
    stood = before.entry.parts if before is not None and isinstance(before.entry, BatchEntry) else None
    if len(poured) == 1 or (stood is not None and tuple(stood) == tuple(entry.parts)[:-1]):
        struck = strike(job, last.batch, why)
        return (f"#{last.batch} is struck: what was in the tin before it stands", *struck.warnings)
    to = NEW if entry.continues is None else str(entry.continues)
    found = pour(
        job,
        poured[:-1],
        PourRequest(recipe=entry.recipe, to=to, anyway=True),
        in_place_of=InPlaceOf(last.batch, why),
    )
    assert found.recorded is not None
    if last.due is not None:
        strike(job, last.due, why)
    now = found.recorded.entries[0].number
    return (f"#{now} takes the place of #{last.batch}: {last.tint} {last.grams:g} g is taken back", *found.warnings)


def _poured(views: Mapping[int, EntryView], view: EntryView) -> tuple[tuple[str, float], ...]:
    """Return what was poured into a tin beyond the batch it goes on from, in the order poured."""
    entry = view.entry
    assert isinstance(entry, BatchEntry)
    before = None if entry.continues is None else views[entry.continues].entry
    there = len(before.parts) if isinstance(before, BatchEntry) else 0
    return tuple(entry.parts)[there:]
