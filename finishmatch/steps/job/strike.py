"""An entry is struck: it stays in the history and is gone from all that counts; or a strike is struck, and restores."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from finishmatch.errors import InputError
from finishmatch.ledger import (
    BatchEntry,
    EntryView,
    JobView,
    ReadingEntry,
    SprayOutEntry,
    StrikeEntry,
    TargetEntry,
    open_ledger,
)
from finishmatch.steps.record import record_one


@dataclass(frozen=True)
class Struck:
    """What was struck or restored, and what that did to other entries.

    Parameters
    ----------
    job : JobView
    strike : EntryView
        As it was recorded.
    struck : EntryView
        The entry meant: it counts no more, or, where `restored`, it counts again.
    restored : bool
        Whether a strike was struck.
    fell, stand_again : tuple of EntryView
        Others that count no more, since they rest on it; others that count again, since it had replaced them.
    warnings : tuple of str
    """

    job: JobView
    strike: EntryView
    struck: EntryView
    restored: bool
    fell: tuple[EntryView, ...] = ()
    stand_again: tuple[EntryView, ...] = ()
    warnings: tuple[str, ...] = ()

    def as_dict(self) -> dict[str, Any]:
        """Return its JSON form."""
        return {
            "job": self.job.as_dict(),
            "recorded": self.strike.as_dict(),
            "struck": self.struck.as_dict(),
            "restored": self.restored,
            "fell": [view.number for view in self.fell],
            "stand_again": [view.number for view in self.stand_again],
            "warnings": list(self.warnings),
        }


def strike(job: str, number: int, why: str) -> Struck:
    """Strike an entry of a job, whatever its kind; striking a strike restores what it had struck.

    Parameters
    ----------
    job : str
        A ref or an exact title.
    number : int
        Of the entry.
    why : str
        The reason; needed.

    Raises
    ------
    InputError
        No reason, no such entry, one that was struck or replaced before; nothing is recorded then.
    """
    if not why.strip():
        raise InputError("`why`", "is missing: nothing is struck without a reason", 'say why: `why` "entered twice"')
    with open_ledger(create=False) as ledger:
        found = ledger.find_job(job)
        before = {view.number: view for view in ledger.entries(found)}
        recorded = record_one(ledger, found, StrikeEntry(number, why.strip()))
        after = {view.number: view for view in ledger.entries(found)}
    meant = before[number].entry
    restored = isinstance(meant, StrikeEntry)
    struck = after[meant.struck if isinstance(meant, StrikeEntry) else number]
    others = [view for view in after.values() if view.number in before and view.number not in (struck.number, number)]
    return Struck(
        job=found,
        strike=recorded.entries[0],
        struck=struck,
        restored=restored,
        fell=tuple(view for view in others if before[view.number].stands and not view.stands),
        stand_again=tuple(view for view in others if view.stands and not before[view.number].stands),
        warnings=(*_of_no_batch(struck, after), *_gone_on_with(struck, after), *_weighed_with(struck, after)),
    )


def _of_no_batch(struck: EntryView, views: Mapping[int, EntryView]) -> tuple[str, ...]:
    """Return a warning for each spray-out that stands, but whose batch was struck: it shows nothing of the tins now."""
    return tuple(
        f"spray-out #{view.number} was of batch #{struck.number}: record it anew for the batch that was sprayed"
        for view in views.values()
        if isinstance(view.entry, SprayOutEntry)
        and view.stands
        and struck.struck_by
        and view.entry.batch == struck.number
    )


def _gone_on_with(struck: EntryView, views: Mapping[int, EntryView]) -> tuple[str, ...]:
    """Return a warning for each batch that stands and goes on from one that was struck: it holds what it held."""
    return tuple(
        f"batch #{view.number} goes on from batch #{struck.number} and stands as it was recorded: where what was "
        f"poured then never was in the tin, record anew what is there, in place of #{view.number}"
        for view in views.values()
        if isinstance(view.entry, BatchEntry)
        and view.stands
        and struck.struck_by
        and view.entry.continues == struck.number
    )


def _weighed_with(struck: EntryView, views: Mapping[int, EntryView]) -> tuple[str, ...]:
    """Return a warning for each target that stands and rests on a reading that was struck: it isn't weighed anew."""
    if not isinstance(struck.entry, ReadingEntry) or struck.struck_by is None:
        return ()
    name, found = struck.entry.name, []
    for view in views.values():
        if not isinstance(view.entry, TargetEntry) or not view.stands or view.number < struck.number:
            continue
        share = dict(view.entry.weights).get(name)
        if share or (share is None and name in view.entry.evidence):
            counted = "" if share is None else f", which counts {share:.0%} in it,"
            found.append(
                f"target #{view.number} rests on {name}{counted} and stands as it was found: weigh the evidence anew "
                f"without it, and mix again"
            )
    return tuple(found)
