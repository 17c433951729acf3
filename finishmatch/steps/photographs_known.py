"""Photographs the record knows already: for another light, which can't be, of another job, a letdown or a reading."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from finishmatch.errors import InputError
from finishmatch.ledger import EntryView, JobView, ReadingEntry, SprayOutEntry, StrengthEntry, open_ledger
from finishmatch.ledger.photograph_marks import copied, same_mark
from finishmatch.ledger.photographs_known import photographed_before, readings_photographed
from finishmatch.ledger.strengths import marks_of

_DAYLIGHTS = ("D65", "D50")  # a photograph in daylight may be read for either


def doubted_photographs(
    card: SprayOutEntry,
    job: str | None,
    views: Sequence[EntryView],
    anyway: bool,
    *,
    of: tuple[Sequence[Path], EntryView | None] = ((), None),
) -> tuple[str, ...]:
    """See that the photographs of a card that is given can be of it; warnings where the record knows them already.

    Parameters
    ----------
    card : SprayOutEntry
        As it was seen.
    job : str or None
        The ref or exact title of the job that it is given in; None is no job.
    views : sequence of EntryView
        The entries of the job.
    anyway : bool
        Take it as it is, with a warning.
    of : (sequence of Path, EntryView or None)
        The photographs it was seen in, and the batch that it is of, where that is recorded.

    Raises
    ------
    InputError
        As `refuse_other_light`.
    """
    photographs, batch = of
    of_readings = () if batch is None or not card.seen else said_of_readings(photographs, job, before=batch)
    lit = refuse_other_light(card, views, anyway)
    return (*lit, *said_of_copies(card, views), *said_of_others(card, job), *of_readings)


def said_of_copies(card: SprayOutEntry, views: Sequence[EntryView]) -> tuple[str, ...]:
    """Return a warning where a photograph is a copy of one that the job has, turned, made smaller or saved anew.

    Parameters
    ----------
    card : SprayOutEntry
        As it was seen.
    views : sequence of EntryView
        The entries of the job.
    """
    for view in views:
        if view.stands and isinstance(view.entry, SprayOutEntry):
            its = marks_of(view.entry)
            if any(copied(mark, other) for mark in marks_of(card) for other in its):
                return (
                    f"a photograph of spray-out #{view.number} is given again as a copy that was turned, made smaller "
                    "or saved anew: the two are one photograph, and count as it is read now; what a messenger sends "
                    "tells less than the file as the camera made it",
                )
    return ()


def refuse_other_light(card: SprayOutEntry, views: Sequence[EntryView], anyway: bool) -> tuple[str, ...]:
    """See that no photograph of a card was recorded for another light: one picture was taken under one.

    Parameters
    ----------
    card : SprayOutEntry
        As it was seen.
    views : sequence of EntryView
        The entries of the job.
    anyway : bool
        Take it as it is, with a warning.

    Raises
    ------
    InputError
        Names the spray-out and the two lights.

    Notes
    -----
    Which lamp a picture was taken under it doesn't tell by itself: a camera balances its white, and a chart in daylight
    is read for the light of a filament lamp as well as one that was photographed under it.
    """
    now = _lights(card)
    for view in views:
        if not view.stands or not isinstance(view.entry, SprayOutEntry):
            continue
        for mark, light in _lights(view.entry).items():
            given = next((its for other, its in now.items() if same_mark(mark, other)), light)
            if given == light or {given, light} <= set(_DAYLIGHTS):
                continue
            which, what = (
                f"a photograph of spray-out #{view.number}",
                f"is recorded for {light} and given for {given} now",
            )
            if anyway:
                return (f"{which} {what}; it is taken as it is",)
            mend = "photograph the two under that lamp; with `anyway` it is taken as it is"
            raise InputError(which, what, mend)
    return ()


def said_of_others(card: SprayOutEntry, job: str | None, *, letdown: bool = False) -> tuple[str, ...]:
    """Return a warning where a photograph is recorded in another job, or as of something else; a job may be begun anew.

    Parameters
    ----------
    card : SprayOutEntry
        As it was seen.
    job : str or None
        The ref or exact title of the job that it is given in; None is no job.
    letdown : bool
        Whether it is given as a letdown that a tin is tried by, not as a card.
    """
    marks = _lights(card)
    if job is None or not marks:
        return ()
    with open_ledger(create=False) as ledger:
        own, known = ledger.find_job(job), photographed_before(ledger, marks)
    # a card of the job that is seen once more, or a letdown of it, is known elsewhere
    found = [(other, view) for other, view in known if other.id != own.id or _is_letdown(view) != letdown]
    if not found:
        return ()
    other, view = found[-1]
    given = "a letdown" if letdown else "a card"
    here = f"{given} of this job too" if other.id != own.id and _is_letdown(view) == letdown else f"{given} now"
    return (f"a photograph of {called_in(other, view, own)} is given as {here}; it is taken as it is",)


def said_of_readings(
    photographs: Sequence[Path], job: str | None, *, before: EntryView | None = None
) -> tuple[str, ...]:
    """Return a warning where a photograph of a card or a letdown is recorded as that of a reading.

    Parameters
    ----------
    photographs : sequence of Path
    job : str or None
        The ref or exact title of the job that they are given in; None is no job.
    before : EntryView or None
        The batch that the card is of: it can't be in a photograph that was read before that was poured. One that was
        read since may show it beside its standard. None is a letdown.
    """
    if job is None or not photographs:
        return ()
    with open_ledger(create=False) as ledger:
        own, known = ledger.find_job(job), readings_photographed(ledger, photographs)
    found = [(other, view) for other, view in known if before is None or view.number < before.place]
    if not found:
        return ()
    given = "a letdown now" if before is None else f"a card of batch #{before.number}, which was poured after that"
    return (f"a photograph of {called_in(*found[-1], own)} is given as {given}; it is taken as it is",)


def _is_letdown(view: EntryView) -> bool:
    return isinstance(view.entry, StrengthEntry)


def called_in(job: JobView, view: EntryView, own: JobView) -> str:
    """Return what an entry that has a photograph is called, with its job where that isn't one's own."""
    name = f"the letdown of strength #{view.number}" if _is_letdown(view) else f"spray-out #{view.number}"
    if isinstance(view.entry, ReadingEntry):
        name = f"reading #{view.number} ({view.entry.name})"
    return name if job.id == own.id else f"{name} of {job.ref} {job.title}"


def _lights(card: SprayOutEntry) -> dict[str, str]:
    """Return the light that each photograph of a card was given for, by its mark."""
    return {str(mark): str(one["light"]) for one in card.seen for mark in one.get("marks") or ()}
