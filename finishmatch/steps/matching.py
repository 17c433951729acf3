"""What mixing to a colour and correcting to it share: the target, the bank, the scale, today's tins, the record."""

from __future__ import annotations

import math
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from finishmatch.errors import InputError
from finishmatch.evidence.target import ColourTarget, colour_target
from finishmatch.ledger import Entry, StrengthEntry, open_ledger
from finishmatch.mix.weighing import SMALLEST_STEPS, Scale
from finishmatch.optics import Bank
from finishmatch.readings import Reading, read_batch
from finishmatch.readings.batch_file import GRAMS_MEND, LEAST_GRAMS, MAX_GRAMS, density_of, tint_of_bank
from finishmatch.readings.convert_geometry import Conversion
from finishmatch.readings.volumes import Volume
from finishmatch.steps.bank import FittedBank, open_bank
from finishmatch.steps.bank_with_cards import keep_today
from finishmatch.steps.by_own_photograph import is_by_itself
from finishmatch.steps.colour_inputs import (
    LIGHTS,
    ReadingLike,
    check_gloss,
    check_tolerance,
    conversions_document,
    geometry_doubt,
    light_list,
    reading_of,
    tolerance_of,
    viewing_of,
)
from finishmatch.steps.entries import sources_of
from finishmatch.steps.from_job import FromJob, given_or
from finishmatch.steps.piece_by_bank import PieceByBank, piece_by_bank
from finishmatch.steps.progress import Progress, quiet
from finishmatch.steps.record import check_job, record_to, remember
from finishmatch.steps.seen import SeenCard, seen_card_of
from finishmatch.steps.shelf import Shelf, count_stock, shelf_today
from finishmatch.steps.target_as_card import target_itself
from finishmatch.steps.todays_tins import TodaysTins, tins_asked_for, todays_tins
from finishmatch.steps.told_and_alike import told_and_alike

Parts = tuple[tuple[str, float], ...]
BankLike = FittedBank | Bank | Path | str
PartsLike = Mapping[str, float] | Iterable[tuple[str, float | Volume]] | Path | str
"""Grams by tint: a mapping, pairs in the order poured, or a batch file."""


@dataclass(frozen=True, kw_only=True)
class MatchRequest:
    """How a colour is matched.

    Parameters
    ----------
    tolerance : float or None
        ΔE00 that counts as reached in every light; None: the target's own, else the job's, else the usual.
    gloss : float or None
        Of the film at 60°, gloss units: a reading of another geometry than the bank's is converted.
    scale_step, smallest : float, float or None
        Step of the scale and smallest part worth weighing, grams; None is three steps.
    lights : sequence of str
        CIE lights the match is judged in, the reference first.
    observer : int
        2 or 10.
    fresh_tins : bool
        New tins were opened: what earlier spray-outs showed is left out.
    """

    tolerance: float | None = None
    gloss: float | None = None
    scale_step: float = 0.1
    smallest: float | None = None
    lights: str | Sequence[str] = LIGHTS
    observer: int = 10
    fresh_tins: bool = False


@dataclass(frozen=True)
class Match:
    """A target as it is matched with a bank.

    Parameters
    ----------
    standard : Reading
        As it was given.
    target : ColourTarget
    alike : Reading
        The target as the bank's instrument would have read it.
    told : Reading
        The same as it was told: where a photograph tells it, `alike` goes by what the camera sees of the bank's tints.
    piece : PieceByBank
        What that is.
    fitted : FittedBank
    tolerance : float
        ΔE00.
    scale : Scale
    tins : TodaysTins
    shelf : Shelf
        The stock that is left.
    conversions : tuple of Conversion
    warnings : tuple of str
        Of the tolerance.
    sprayed, sprayed_alike : Reading or None
        The spray-out, as given and as the bank's instrument would have read it.
    sprayed_files : sequence of Path
        What it is from.
    judged_as : Reading or None
        The spray-out, where it is known as CIELAB alone and so decides in which light the match is judged.
    taken : FromJob or None
        What wasn't given, and was taken from the job.
    """

    standard: Reading
    target: ColourTarget
    alike: Reading
    told: Reading
    piece: PieceByBank
    fitted: FittedBank
    tolerance: float
    scale: Scale
    tins: TodaysTins
    shelf: Shelf
    conversions: tuple[Conversion, ...]
    warnings: tuple[str, ...] = ()
    sprayed: Reading | None = None
    sprayed_alike: Reading | None = None
    judged_as: Reading | None = None
    taken: FromJob | None = None
    sprayed_files: Sequence[Path] = ()

    @property
    def told_target(self) -> ColourTarget:
        """The target as it was told, which is what is kept: what a bank makes of it changes as that learns."""
        return colour_target(self.told, (self.target.lights[0],), self.target.observer)

    def as_dict(self) -> dict[str, Any]:
        """Return what the JSON object of a recipe or correction says of the tins, the stock and conversions."""
        return {
            **self.tins.as_dict(),
            **self.shelf.as_dict(),
            "converted": conversions_document(self.conversions),
            "target_by_bank": self.piece.as_dict(),
            **({} if self.taken is None else {"from_job": self.taken.as_dict()}),
        }

    def record(
        self, job: str | None, entries: Sequence[Entry], sources: Mapping[int, Sequence[Path]]
    ) -> tuple[int, ...]:
        """Record entries, and before them what was caught up of the tins; the job then knows its bank."""
        if job is None:
            return ()
        if self.fitted.folder is not None:
            with open_ledger(create=False) as ledger:  # before a batch is recorded, which goes off what was counted
                count_stock(ledger, self.fitted.bank)
        caught_up = record_to(job, self.tins.caught_up)
        recorded = record_to(job, entries, sources)
        if self.fitted.folder is not None:
            remember(job, self.fitted.bank, self.fitted.folder)
        learnt = any(isinstance(entry, StrengthEntry) for entry in (*self.tins.caught_up, *entries))
        keep_today(todays_tins(job, replace(self.fitted, today=None)).bank if learnt else self.tins.bank)
        return (*caught_up, *recorded)


def match(
    target: ReadingLike | None,
    bank: BankLike | None,
    request: MatchRequest,
    usual: float,
    sprayed: ReadingLike | SeenCard | None = None,
    *,
    job: str | None = None,
    taken: FromJob | None = None,
    progress: Progress = quiet,
) -> Match:
    """Return a target as it is matched with a bank; all that can be seen to be wrong is refused before a fit is made.

    Parameters
    ----------
    target, bank : ReadingLike or None, BankLike or None
        None each where it is taken from the job.
    request : MatchRequest
    usual : float
        The tolerance where none is given and none is known, ΔE00.
    sprayed : ReadingLike, SeenCard or None
        The spray-out that is held against the target, or how it was seen beside it.
    job : str or None
    taken : FromJob or None
        What is taken from the job.
    progress : Progress
    """
    scale = _checked(request, job)
    lights, observer = light_list(request.lights), request.observer
    standard = reading_of(given_or(target, taken and taken.reading), lights[0], observer, "target")
    tolerance, warnings = tolerance_of(request.tolerance, standard, usual, job)
    trial, seen = _sprayed(taken, sprayed, standard, (lights[0], observer))
    judged_as = trial if trial is not None and standard.is_spectral and not trial.is_spectral else None
    by = (lights, observer) if judged_as is None else ((judged_as.light,), judged_as.observer)
    colour_target(standard, *by)  # what it can't be is refused before a fit is made
    fitted = open_bank(given_or(bank, taken and taken.bank), progress)
    wanted = viewing_of(fitted.bank, request.gloss, lights[0], observer)
    piece = piece_by_bank(standard, fitted.usable_optics, wanted)
    told, alike, conversions = told_and_alike(wanted, standard, piece, trial, seen)
    kept = piece.kept(trial if trial is None or (seen is None and not is_by_itself(trial)) else told[1])
    tins = _tins(job, fitted, request, taken, kept)
    return Match(
        standard=standard,
        target=piece.goal(colour_target(alike[0], *by)),
        alike=alike[0],
        told=told[0],
        piece=piece,
        fitted=tins.of_today(fitted),
        tolerance=tolerance,
        scale=scale,
        tins=tins,
        shelf=shelf_today(fitted.bank),
        conversions=tuple(conversions),
        warnings=(*target_itself(job, standard, trial), *warnings, *geometry_doubt(standard, wanted), *piece.said),
        sprayed=kept,
        sprayed_alike=None if trial is None else alike[1],
        judged_as=judged_as,
        taken=taken,
        sprayed_files=() if trial is None else sources_of(trial) if seen is None else seen.sources,
    )


def _checked(request: MatchRequest, job: str | None) -> Scale:
    """Return the scale of a request, whose other figures are possible, for a job that there is."""
    check_tolerance(request.tolerance)
    check_gloss(request.gloss)
    scale = scale_of(request.scale_step, request.smallest)
    check_job(job)
    return scale


def _tins(
    job: str | None, fitted: FittedBank, request: MatchRequest, taken: FromJob | None, card: Reading | None
) -> TodaysTins:
    """Return what is known of the tins: of those a card was poured from, else of those that are open."""
    batch = None if card is None or taken is None else taken.in_tin
    return tins_asked_for(job, fitted, request.fresh_tins, card, batch)


def _sprayed(
    taken: FromJob | None, sprayed: ReadingLike | SeenCard | None, standard: Reading, viewing: tuple[str, int]
) -> tuple[Reading | None, SeenCard | None]:
    """Return the spray-out's reading, and how it was seen where that is what is known of it; as given, else taken."""
    sprayed = taken.sprayed if sprayed is None and taken is not None else sprayed
    seen = seen_card_of(sprayed)
    if seen is not None:
        return seen.beside(standard, viewing), seen
    assert not isinstance(sprayed, SeenCard)
    return None if sprayed is None else reading_of(sprayed, *viewing, "spray-out"), None


def scale_of(step_g: float, smallest_g: float | None = None) -> Scale:
    """Return the painter's scale; without a smallest part it is three steps."""
    if not (math.isfinite(step_g) and step_g > 0):
        raise InputError("`scale_step`", f"{step_g:g} g is not the step of a scale", "give grams above 0")
    smallest = SMALLEST_STEPS * step_g if smallest_g is None else smallest_g
    if not (math.isfinite(smallest) and smallest >= step_g):
        raise InputError("`smallest`", f"{smallest:g} g can't be the smallest part", f"at least a step, {step_g:g} g")
    return Scale(step_g, smallest)


def typed_parts(
    parts: Mapping[str, float] | Iterable[tuple[str, float | Volume]],
    known: Collection[str] | None = None,
    where: str = "`batch`",
) -> Parts:
    """Return grams by tint as they were typed, none of them negative and each of a tint of the bank.

    `known` as in `read_batch`.
    """
    pairs: Iterable[tuple[str, float | Volume]] = parts.items() if isinstance(parts, Mapping) else parts
    checked = []
    for typed, amount in pairs:
        tint = typed if known is None else tint_of_bank(where, typed, known)
        grams = (
            amount.grams(f"'{tint[:40]}={amount.text}'", tint, density_of(tint, known))
            if isinstance(amount, Volume)
            else float(amount)
        )
        if not 0 <= grams <= MAX_GRAMS:
            raise InputError(where, f"{grams:g} g of {tint[:40]} is not possible", GRAMS_MEND)
        checked.append((str(tint), grams))
    return tuple(checked)


def parts_of(
    batch: PartsLike, known: Collection[str] | None = None, *, beside: bool = False
) -> tuple[Parts, tuple[Path, ...]]:
    """Return what is in a batch, (tint, grams) in the order poured, and the file it is from.

    `known` are the tints of the bank, as in `read_batch`; another name is refused. `beside` tells that the parts stand
    beside others, so that those that are typed may come to nothing.
    """
    if isinstance(batch, str | Path):
        return read_batch(Path(batch), known), (Path(batch),)
    parts = typed_parts(batch, known)
    if not beside:
        refuse_empty(parts)
    return parts, ()


def refuse_empty(parts: Parts) -> None:
    """See that something was poured."""
    if sum(grams for _, grams in parts) < LEAST_GRAMS:
        raise InputError("`batch`", "nothing was poured: the weights come to 0", "give what was weighed out")
