"""What a step isn't given is taken from its job: target, bank, batch, card, and the weight of the last recipe."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from math import hypot
from pathlib import Path
from typing import Any

import numpy as np

from finishmatch.colour import de00
from finishmatch.errors import InputError
from finishmatch.ledger import (
    BatchEntry,
    EntryView,
    JobView,
    Ledger,
    RecipeEntry,
    SprayOutEntry,
    TargetEntry,
    bank_of_job,
    open_ledger,
    same_reading,
)
from finishmatch.ledger.pouring import divides
from finishmatch.readings import Reading
from finishmatch.steps.record import reading_of_target
from finishmatch.steps.spray_out_strengths import reading_kept
from finishmatch.steps.target_as_card import refuse_target

_STIRRED, _READ_TO = 0.5, 0.2  # ΔE00 between cards of one tin; of a reading by an instrument («common practice»)
_NAMES = {"target": "`target`", "bank": "`bank`", "grams": "`grams`", "batch": "`batch`", "card": "`sprayed`"}
_MENDS = {  # of each thing: what is said when the job lacks it
    "target": (
        "has no target yet",
        "give it as `target`, or record it first: finishmatch mix TARGET, or finishmatch evidence weigh EVIDENCE.csv",
    ),
    "bank": ("isn't known to be mixed from any bank", "name it once, it is remembered: `bank` FOLDER"),
    "grams": ("has no recipe yet whose weight could be taken", "say how much: `grams` G"),
    "batch": ("has no batch yet", "record what was poured: finishmatch job pour"),
    "card": ("has no spray-out yet", "give the card that was read"),
}


@dataclass(frozen=True)
class FromJob:
    """What was taken from a job; None each where it wasn't.

    Parameters
    ----------
    job : JobView
    target, batch, card, recipe : EntryView or None
        The entries: of the recipe its weight.
    bank, bank_name : Path or None, str
        The folder, and the name.
    """

    job: JobView
    target: EntryView | None = None
    bank: Path | None = None
    bank_name: str = ""
    recipe: EntryView | None = None
    batch: EntryView | None = None
    card: EntryView | None = None

    @property
    def in_tin(self) -> int | None:
        """The number of what is in the tin."""
        return None if self.batch is None else self.batch.number

    @property
    def reading(self) -> Reading | None:
        """The target, as its bank's instrument would have read it."""
        entry = None if self.target is None else self.target.entry
        return reading_of_target(entry) if isinstance(entry, TargetEntry) else None

    @property
    def grams(self) -> float | None:
        """What the recipe was to weigh: it may weigh more, so that its smallest part can be weighed."""
        entry = None if self.recipe is None else self.recipe.entry
        if not isinstance(entry, RecipeEntry):
            return None
        return entry.grams if entry.asked_g is None else entry.asked_g

    @property
    def parts(self) -> tuple[tuple[str, float], ...] | None:
        """What is in the tin, (tint, grams)."""
        entry = None if self.batch is None else self.batch.entry
        return tuple(entry.parts) if isinstance(entry, BatchEntry) else None

    @property
    def sprayed(self) -> Reading | None:
        """The reading of the card."""
        entry = None if self.card is None else self.card.entry
        return reading_kept(entry) if isinstance(entry, SprayOutEntry) else None

    @property
    def words(self) -> tuple[str, ...]:
        """What was taken, each in a few words."""
        taken = []
        if self.target is not None and isinstance(self.target.entry, TargetEntry):
            taken.append(f"target #{self.target.number} ({self.target.entry.name})")
        if self.bank is not None:
            taken.append(f"bank {self.bank_name}")
        if self.recipe is not None:
            taken.append(f"{self.grams:g} g, as recipe #{self.recipe.number} was to weigh")
        if self.batch is not None:
            taken.append(f"batch #{self.batch.number}")
        if self.card is not None:
            taken.append(f"card #{self.card.number}")
        return tuple(taken)

    def as_dict(self) -> dict[str, Any]:
        """Return its JSON form."""
        number = {name: getattr(self, name) for name in ("target", "recipe", "batch", "card")}
        return {
            "job": self.job.ref,
            **{name: None if view is None else view.number for name, view in number.items()},
            "bank": None if self.bank is None else str(self.bank),
        }


def given_or(given: Any, taken: Any) -> Any:
    """Return what was given, or else what was taken from the job: `from_job` has seen to it that there is one."""
    found = taken if given is None else given
    assert found is not None
    return found


def from_job(where: str, job: str | None, given: Mapping[str, object]) -> FromJob | None:
    """Return what a step isn't given, from its job.

    Parameters
    ----------
    where : str
        What the step is called in a message.
    job : str or None
        A ref or an exact title.
    given : mapping of str to object
        Of "target", "bank", "grams", "batch" and "card" those the step needs; None where one isn't given.

    Returns
    -------
    FromJob or None
        None when nothing is lacking.

    Raises
    ------
    InputError
        There is no job to take it from, or the job doesn't know it.
    """
    lacking = [name for name, value in given.items() if value is None]
    if not lacking:
        return None
    if job is None:
        mend = "give it, or put a job in use that knows it: finishmatch job use JOB"
        raise InputError(where, f"{_NAMES[lacking[0]]} is missing", mend)
    with open_ledger(create=False) as ledger:
        found = ledger.find_job(job)
        bank = _bank(ledger, found) if "bank" in lacking else None
        taken = FromJob(
            job=found,
            target=ledger.latest(found, TargetEntry) if "target" in lacking else None,
            bank=None if bank is None else bank[1],
            bank_name="" if bank is None else bank[0],
            recipe=ledger.latest(found, RecipeEntry) if "grams" in lacking else None,
            batch=ledger.latest(found, BatchEntry) if "batch" in lacking else None,
            card=ledger.latest(found, SprayOutEntry) if "card" in lacking else None,
        )
        for name in lacking:
            if getattr(taken, "recipe" if name == "grams" else name) is None:
                what, mend = _MENDS[name]
                raise InputError(f"job {found.ref}", what, mend)
        if taken.card is not None and taken.batch is not None:
            _check_card(taken.card, taken.batch, ledger.entries(found))
    return taken


def _bank(ledger: Ledger, job: JobView) -> tuple[str, Path] | None:
    """Return name and folder of a job's bank; one that is gone is refused, since it may lie elsewhere now."""
    kept = bank_of_job(ledger, job)
    if kept is None:
        return None
    name, folder = kept
    if not folder.is_dir():
        what = f"its bank, {name}, lay in {folder}, which isn't there"
        raise InputError(f"job {job.ref}", what, "say where it lies now: `bank` FOLDER")
    return kept


def _check_card(card: EntryView, batch: EntryView, views: Sequence[EntryView]) -> None:
    """Raise `InputError` for a card that was sprayed before something was added to the tin."""
    if not is_of_batch(card, batch, views):
        assert isinstance(card.entry, SprayOutEntry)
        what = f"is of batch #{card.entry.batch}, and batch #{batch.number} is in the tin now"
        raise InputError(f"the card of spray-out #{card.number}", what, "spray a card of the tin, and give its reading")


def is_of_batch(card: EntryView, batch: EntryView, views: Sequence[EntryView]) -> bool:
    """Tell whether a card may be of a batch as it is now: of it, or of what it was poured on to in proportion."""
    by_number = {view.number: view for view in views}
    same = {batch.place}
    while divides(batch) and isinstance(batch.entry, BatchEntry) and batch.entry.continues is not None:
        batch = by_number[batch.entry.continues]
        same.add(batch.place)
    assert isinstance(card.entry, SprayOutEntry)
    return card.entry.batch is None or by_number[card.entry.batch].place in same


def refuse_earlier_card(
    card: SprayOutEntry, batch: EntryView | None, views: Sequence[EntryView], anyway: bool, replaced: int | None = None
) -> tuple[str, ...]:
    """See that the very reading of a card isn't in the job already: as that of another batch, or of the target.

    Parameters
    ----------
    card : SprayOutEntry
        As it was read.
    batch : EntryView or None
        What it is said to be of; None where the job has none.
    views : sequence of EntryView
        The entries of the job.
    anyway : bool
        Take it as it is, with a warning.
    replaced : int or None
        The number of the spray-out that it is to replace.

    Raises
    ------
    InputError
        Names the spray-out and its batch, or the target.

    Notes
    -----
    A difference that was told in a few figures may well be told of two cards. So may L*, a* and b* to one decimal, but
    seldom: a line of the shell's history that is sent once more is likelier, so it is asked.
    """
    itself = refuse_target(card, views, anyway)
    told = bool(card.seen) and not any(one.get("pictures") for one in card.seen)
    if batch is None or told or itself:
        return itself
    kept = [view for view in views if view.stands and view.number != replaced and isinstance(view.entry, SprayOutEntry)]
    alike = [view for view in kept if isinstance(view.entry, SprayOutEntry) and same_reading(view.entry, card)]
    if not alike or any(is_of_batch(view, batch, views) for view in alike):
        return ()
    last = alike[-1]
    assert isinstance(last.entry, SprayOutEntry)
    what = f"is recorded as the card of batch #{last.entry.batch}, and batch #{batch.number} is meant now"
    which = f"{'a photograph' if card.seen else 'the reading'} of spray-out #{last.number}"
    if anyway:
        return (f"{which} {what}; it is taken as it is",)
    mend = "spray a card of the tin and read it; with `anyway` it is taken as it is"
    if card.reflectance is None and not card.seen:
        mend = "spray a card of the tin and read it; one that happens to read the same figures is taken with `anyway`"
    raise InputError(which, what, mend)


def cards_apart(card: SprayOutEntry, batch: EntryView | None, views: Sequence[EntryView]) -> tuple[str, ...]:
    """Return a warning where a card differs visibly from another of the same batch that was read alike.

    Parameters
    ----------
    card : SprayOutEntry
        As it was read.
    batch : EntryView or None
        What it is of; None where the job has none.
    views : sequence of EntryView
        The entries of the job.

    Notes
    -----
    Two cards of a stirred tin are taken to differ by ΔE00 0.5 at most beyond what each is known to («common practice»:
    no source).
    """

    def alike(one: SprayOutEntry) -> tuple[object, ...]:
        return one.light, one.observer, one.geometry, one.surface, one.ground, one.build_um, bool(one.seen)

    if batch is None:
        return ()
    for view in reversed(views):
        one = view.entry
        if not (view.stands and isinstance(one, SprayOutEntry) and one.batch is not None and alike(one) == alike(card)):
            continue
        if same_reading(one, card) or not is_of_batch(view, batch, views):
            continue
        apart, known = float(de00(np.array(one.lab), np.array(card.lab))), hypot(_known_to(one), _known_to(card))
        if apart > _STIRRED + known:
            what = f"spray-out #{view.number} is of the same tin, and differs from this card by ΔE00 {apart:.1f}"
            return (f"{what}: stir and spray another, and strike the one that it isn't like",)
    return ()


def _known_to(card: SprayOutEntry) -> float:
    return max((float(one["u95"]) for one in card.seen), default=_READ_TO)
