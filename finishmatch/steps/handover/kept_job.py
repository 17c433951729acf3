"""All that the record holds of a job, as it is handed over: what stands, the tints, the files, the seal."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any, TypeVar

from finishmatch.errors import InputError
from finishmatch.ledger import (
    BankTint,
    BatchEntry,
    CorrectionEntry,
    Entry,
    EntryView,
    JobView,
    Ledger,
    OpenItem,
    RecipeEntry,
    SprayOutEntry,
    StrikeEntry,
    TargetEntry,
    VerdictEntry,
    bank_of_job,
    find_open,
    open_ledger,
    seal_of,
    tints_of_bank,
)
from finishmatch.ledger.open_items import verdicts_of_cards
from finishmatch.ledger.parts_aside import PartAside, parts_aside
from finishmatch.ledger.pouring import divides, lots_in_tin, recipe_poured, totals
from finishmatch.optics.strength import StrengthPrior
from finishmatch.readings import read_bank
from finishmatch.readings.hazards import pigment_hazards
from finishmatch.steps.bank_kept import bank_tints
from finishmatch.steps.spray_outs_counted import tins_as_shown

Kind = TypeVar("Kind", bound=Entry)


@dataclass(frozen=True)
class FormulaPart:
    """A tint of a formula: its name, Colour Index name ("" where the record has none), grams, share of the weight."""

    tint: str
    colour_index: str
    grams: float
    share: float
    lot: str = ""
    hazards: tuple[str, ...] = ()
    hazards_by: str = ""

    def as_dict(self) -> dict[str, Any]:
        """Return the JSON object."""
        return {**vars(self), "hazards": list(self.hazards)}


@dataclass(frozen=True)
class Formula:
    """What makes the colour: the parts, the entry they are from ("batch" or "recipe"), and its number."""

    parts: tuple[FormulaPart, ...]
    kind: str
    number: int
    made_at: str
    bank: str

    @property
    def pairs(self) -> tuple[tuple[str, float], ...]:
        """Its parts as (tint, grams)."""
        return tuple((part.tint, part.grams) for part in self.parts)

    @property
    def grams(self) -> float:
        """What it weighs."""
        return sum(part.grams for part in self.parts)

    def as_dict(self) -> dict[str, Any]:
        """Return the JSON object."""
        named = {"kind": self.kind, "number": self.number, "bank": self.bank, "grams": self.grams}
        return {**named, "parts": [part.as_dict() for part in self.parts]}


@dataclass(frozen=True)
class KeptJob:
    """A job as it is handed over.

    Parameters
    ----------
    job : JobView
    views : tuple of EntryView
        What stands, in the order of the story.
    entries, set_aside : int
        How many there are in all, and how many of them were replaced, struck, or fell with what was.
    formula : Formula or None
    tints : mapping of str to BankTint
        Those of its bank, by name.
    bank : str
        The name of its bank, "" where none is known.
    seal : str
        The hash of the last entry, which holds all before it.
    open : tuple of OpenItem
    files : mapping of str to (name, bytes)
        Kept with its entries, by their hash; only those that were asked for.
    shown : StrengthPrior or None
        What its cards that count showed of its tins, by tint.
    aside : tuple of PartAside
        What of its tins stands aside.
    """

    job: JobView
    views: tuple[EntryView, ...]
    entries: int
    set_aside: int
    formula: Formula | None
    tints: Mapping[str, BankTint]
    bank: str
    seal: str
    open: tuple[OpenItem, ...]
    files: Mapping[str, tuple[str, bytes]]
    shown: StrengthPrior | None
    aside: tuple[PartAside, ...] = ()

    def all(self, kind: type[Kind]) -> list[tuple[EntryView, Kind]]:
        """Return the entries of a kind that stand, with their views."""
        return [(view, view.entry) for view in self.views if isinstance(view.entry, kind)]

    def last(self, kind: type[Kind]) -> tuple[EntryView, Kind] | None:
        """Return the last entry of a kind that stands, or None."""
        found = self.all(kind)
        return found[-1] if found else None

    @property
    def target(self) -> TargetEntry | None:
        """The colour to be matched."""
        found = self.last(TargetEntry)
        return None if found is None else found[1]

    @property
    def recipe(self) -> tuple[EntryView, RecipeEntry] | None:
        """The recipe that the formula is, or was poured by; None where it follows none that stands."""
        if self.formula is None:
            return None
        number: int | None = self.formula.number
        batch = next((entry for view, entry in self.all(BatchEntry) if view.number == number), None)
        if batch is not None:
            earlier = [view for view in self.views if view.number < self.formula.number]
            number = recipe_poured(batch.parts, earlier) if batch.recipe is None else batch.recipe
        return next(((view, entry) for view, entry in self.all(RecipeEntry) if view.number == number), None)

    @property
    def verdicts(self) -> list[tuple[EntryView, VerdictEntry]]:
        """How the cards came out, oldest first; a card that was judged again came out as it was judged last."""
        of_cards = {view.number for view in verdicts_of_cards(self.views)}
        found = [(view, entry) for view, entry in self.all(VerdictEntry) if view.number in of_cards]
        last = {(entry.spray_out, entry.standard): view.number for view, entry in found}
        return [
            (view, entry)
            for view, entry in found
            if entry.spray_out is None or last[entry.spray_out, entry.standard] == view.number
        ]

    @property
    def corrections(self) -> list[tuple[EntryView, CorrectionEntry]]:
        """What was advised to be added, oldest first; of a tin whose card was judged again what was found last."""
        found = self.all(CorrectionEntry)
        last = {entry.batch: view.number for view, entry in found}
        return [(view, entry) for view, entry in found
                if entry.additions and (entry.batch is None or last[entry.batch] == view.number)]  # fmt: skip

    @property
    def card(self) -> SprayOutEntry | None:
        """The last card that was sprayed."""
        found = self.last(SprayOutEntry)
        return None if found is None else found[1]


def kept_job(job: str, *, files: bool = True) -> KeptJob:
    """Return all that the record holds of a job.

    Parameters
    ----------
    job : str
        A ref or an exact title.
    files : bool
        Whether the files kept with its entries are read too.

    Raises
    ------
    InputError
        No ledger, no such job, or a damaged one.
    """
    with open_ledger(create=False) as ledger:
        return kept_in(ledger, ledger.find_job(job), files=files)


def kept_in(ledger: Ledger, job: JobView, *, files: bool = True) -> KeptJob:
    """Return all that an open ledger holds of a job; parameters as for `kept_job`."""
    entries = ledger.entries(job)
    standing = [view for view in entries if view.stands and not isinstance(view.entry, StrikeEntry)]
    standing.sort(key=lambda view: view.place)
    bank = _bank_named(ledger, job, standing)
    tints = tints_known(ledger, job, bank)
    kept: dict[str, tuple[str, bytes]] = {}
    for view in standing if files else ():
        for name, sha256 in view.sources:
            if sha256 not in kept:
                kept[sha256] = (name, ledger.source_bytes(sha256))
    return KeptJob(
        job=job,
        views=tuple(standing),
        entries=len(entries),
        set_aside=sum(not view.stands for view in entries),
        formula=formula_in(standing, tints, bank),
        tints=tints,
        bank=bank,
        aside=parts_aside(entries),
        seal=seal_of(ledger, job),
        open=tuple(find_open(entries)),
        files=kept,
        shown=tins_as_shown(entries),
    )


def _bank_named(ledger: Ledger, job: JobView, views: Iterable[EntryView]) -> str:
    known = bank_of_job(ledger, job)
    if known is not None:
        return known[0]
    named = [view.entry.bank for view in views if isinstance(view.entry, BatchEntry | RecipeEntry) and view.entry.bank]
    return named[-1] if named else ""


def tints_known(ledger: Ledger, job: JobView, bank: str) -> dict[str, BankTint]:
    """Return the tints of a job's bank by name: as they are recorded, or else as the bank's folder has them now."""
    known = tints_of_bank(ledger, bank)
    if known or not bank:
        return known
    lies = bank_of_job(ledger, job)
    try:
        found = None if lies is None or not lies[1].is_dir() else read_bank(Path(lies[1]))
    except InputError:  # a bank that can't be read any more is no reason to hand nothing over
        found = None
    return {} if found is None or found.name != bank else {tint.tint: tint for tint in bank_tints(found)}


def formula_in(views: Sequence[EntryView], tints: Mapping[str, BankTint], bank: str) -> Formula | None:
    """Return the formula of a job: what is in the tin last poured, or the best recipe where none was poured."""
    batches = [(view, view.entry) for view in views if isinstance(view.entry, BatchEntry) and view.entry.parts]
    if batches:
        whole = [pair for pair in batches if not divides(pair[0])]
        view, parts = batches[-1][0], (whole or batches)[-1][1].parts
        bank = batches[-1][1].bank or bank
    else:
        recipes = [(view, view.entry) for view in views if isinstance(view.entry, RecipeEntry) and view.entry.parts]
        if not recipes:
            return None
        newest = (
            max(pair[0].number for pair in recipes if pair[1].rank == 1)
            if any(pair[1].rank == 1 for pair in recipes)
            else recipes[-1][0].number
        )
        view, recipe = next(pair for pair in recipes if pair[0].number == newest)
        parts, bank = recipe.parts, recipe.bank
    grams = totals(parts)
    whole_g = sum(grams.values()) or 1.0
    found = [_part(tint, weight, weight / whole_g, tints.get(tint)) for tint, weight in grams.items()]
    if batches:  # those it was poured from, where they were told then, whatever is open now
        lots = lots_in_tin(views, view.number)
        found = [replace(part, lot=" and ".join(lots.get(part.tint, ()))) for part in found]
    return Formula(tuple(sorted(found, key=lambda part: -part.grams)), view.kind, view.number, view.made_at, bank)


def _part(tint: str, grams: float, share: float, known: BankTint | None) -> FormulaPart:
    if known is None:
        found = pigment_hazards(tint)  # a tint may be named by its pigment
        words = tuple(dict.fromkeys(word for held in found.values() for word in held))
        return FormulaPart(tint, "", grams, share, "", words, ", ".join(found))
    return FormulaPart(tint, known.colour_index, grams, share, known.lot, known.hazards, known.hazards_by)
