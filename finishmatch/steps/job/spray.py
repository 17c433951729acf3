"""A spray-out is recorded, and what it shows of the strength of its tins."""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from finishmatch.errors import InputError
from finishmatch.ledger import (
    SURFACES,
    BatchEntry,
    JobView,
    Ledger,
    Nth,
    SprayOutEntry,
    StrengthEntry,
    bank_of_job,
    open_ledger,
)
from finishmatch.mix.foretold import Foretold
from finishmatch.mix.weighing import Scale
from finishmatch.readings import Reading
from finishmatch.steps.bank import FittedBank, bank_meant, keep_fit
from finishmatch.steps.bank_kept import remember_mixed_from
from finishmatch.steps.bank_with_cards import BankWithCards, keep_today
from finishmatch.steps.blunders import refuse_blunder
from finishmatch.steps.by_its_card import OfJob
from finishmatch.steps.by_own_photograph import surely_read
from finishmatch.steps.card_build import check_card_build
from finishmatch.steps.colour_inputs import ReadingLike, check_gloss
from finishmatch.steps.entries import sources_of, spray_out_entry
from finishmatch.steps.from_job import FromJob, cards_apart, refuse_earlier_card
from finishmatch.steps.matching import scale_of
from finishmatch.steps.progress import Progress, quiet
from finishmatch.steps.record import InPlaceOf, RecordedOne, record_one, what_stood
from finishmatch.steps.shelf import count_stock
from finishmatch.steps.spray_out_strengths import (
    Poured,
    TinsShown,
    known_already,
    reading_kept,
    sprayed_card,
    strength_entry,
    tins_shown,
)
from finishmatch.steps.todays_tins import tins_in
from finishmatch.steps.told_before import told_before

_JUDGE_IT = "judge it, so that what it may be off by counts: finishmatch judge, best with a photograph of both"


@dataclass(frozen=True, kw_only=True)
class SprayRequest:
    """How a spray-out was made and read.

    Parameters
    ----------
    ground : str
        What it was sprayed over.
    coats : int or None
    build_um : float or None
        Dry film build, µm.
    surface : str or None
        "as sprayed" or "cut and polished"; None: as sprayed.
    batch : int or None
        The number of the batch that was sprayed; None: the last of the job.
    bank : Path, str or None
        The bank it was mixed from; None: the one the job was mixed from.
    scale_step : float
        Of the scale it was poured on, grams.
    gloss : float or None
        Of the film at 60°, gloss units.
    supersedes, why : int or None, str
        The number of the spray-out it replaces, and the reason: what isn't given anew is kept of it.
    anyway : bool
        Take a card that can't be of its batch as it is.
    """

    ground: str = ""
    coats: int | None = None
    build_um: float | None = None
    surface: str | None = None
    batch: int | None = None
    bank: Path | str | None = None
    scale_step: float = 0.1
    gloss: float | None = None
    supersedes: int | None = None
    why: str = ""
    anyway: bool = False


@dataclass(frozen=True)
class Learnt:
    """What a spray-out showed and is kept with it, or why it showed nothing.

    Parameters
    ----------
    warnings : tuple of str
    entries : tuple of StrengthEntry
    strengths : dict of str to (factor, sd), or None
        Of each tint of the batch, 1 is as characterised, and the SD of its logarithm.
    why_not : str or None
    fitted : FittedBank or None
        The bank, where it could be opened.
    bank : BankWithCards or None
        That bank with the cards of the record, this one among them.
    foretold : Foretold or None
        How far the card came from what was foretold of its batch.
    """

    warnings: tuple[str, ...]
    entries: tuple[StrengthEntry, ...] = ()
    strengths: dict[str, tuple[float, float]] | None = None
    why_not: str | None = None
    fitted: FittedBank | None = None
    bank: BankWithCards | None = None
    foretold: Foretold | None = None


@dataclass(frozen=True)
class Sprayed:
    """A spray-out as it was recorded, and what was learnt from it."""

    recorded: RecordedOne
    learnt: Learnt

    def as_dict(self) -> dict[str, Any]:
        """Return the JSON object of a spray-out."""
        learnt, known = self.learnt, None
        today = None if learnt.bank is None else learnt.bank.as_dict()
        if learnt.strengths is not None and learnt.fitted is not None:
            strengths = {name: {"factor": factor, "sd": sd} for name, (factor, sd) in learnt.strengths.items()}
            known = {"bank": learnt.fitted.bank.name, "strengths": strengths}
        return {
            **self.recorded.as_dict(),
            "learnt": known,
            "why_not_learnt": learnt.why_not,
            "foretold": None if learnt.foretold is None else learnt.foretold.as_dict(),
            "bank_today": today,
        }


def spray(
    job: str, readings: ReadingLike | None, request: SprayRequest = SprayRequest(), *, progress: Progress = quiet
) -> Sprayed:
    """Record a spray-out and its reading in a job, and what it shows of the strength of today's tins.

    Parameters
    ----------
    job : str
    readings : ReadingLike or None
        None is that of the spray-out it replaces.
    request : SprayRequest
    progress : Progress

    Raises
    ------
    InputError
        A reading, a batch or a bank that was named and can't be used, a card that can't be of its batch; nothing is
        recorded then.
    """
    check_gloss(request.gloss)
    scale = scale_of(request.scale_step)
    check_card_build("`build_um`", request.build_um, anyway=request.anyway)
    with open_ledger(create=False) as ledger:
        found = ledger.find_job(job)
        stood = what_stood(ledger, found, request.supersedes, SprayOutEntry)
        if stood is not None:
            request = _kept(request, stood)
        reading, made = _read(readings, stood)
        batch = request.batch
        if batch is None and (last := ledger.latest(found, BatchEntry)) is not None:
            batch = last.number
        entry = replace(
            made,
            batch=batch,
            ground=request.ground.strip(),
            coats=request.coats,
            build_um=request.build_um,
            surface=request.surface or SURFACES[0],
        )
        learnt = _learnt(_InJob(ledger, found, progress), reading, entry, scale, request)
        recorded = record_one(
            ledger,
            found,
            entry,
            InPlaceOf(request.supersedes, request.why),
            sources=sources_of(reading),
            warnings=learnt.warnings,
            along=learnt.entries,
        )
        fitted = learnt.fitted
        if fitted is not None and fitted.folder is not None:
            remember_mixed_from(ledger, found, fitted.bank, fitted.folder)
            count_stock(ledger, fitted.bank)
        if learnt.strengths is not None:
            learnt = _with_the_card(_InJob(ledger, found, progress), learnt, recorded.entries[0].number)
            recorded = replace(recorded, warnings=learnt.warnings)
    if fitted is not None:
        keep_fit(fitted)  # where it can't be kept it is made anew
    return Sprayed(recorded, learnt)


def _read(given: ReadingLike | None, stood: SprayOutEntry | None) -> tuple[Reading, SprayOutEntry]:
    """Return the reading that is given, else that of the spray-out which is replaced, and as it is kept."""
    if given is not None:
        reading = surely_read(given, ("D65", 10), "typed", _JUDGE_IT)
        entry = spray_out_entry(reading, None)
        return reading, entry if reading.source is not None else replace(entry, name="")
    if stood is None:
        raise InputError("`readings`", "are missing", "give a readings file, FILE@NAME or L,a,b")
    return reading_kept(stood), stood


def _kept(request: SprayRequest, stood: SprayOutEntry) -> SprayRequest:
    """Return how a spray-out was made, with what isn't said anew as it stood in the one it replaces."""
    return replace(
        request,
        ground=request.ground.strip() or stood.ground,
        coats=stood.coats if request.coats is None else request.coats,
        build_um=stood.build_um if request.build_um is None else request.build_um,
        surface=request.surface or stood.surface,
        batch=stood.batch if request.batch is None else request.batch,
    )


@dataclass(frozen=True)
class _InJob:
    ledger: Ledger
    job: JobView
    progress: Progress


def _learnt(inside: _InJob, reading: Reading, entry: SprayOutEntry, scale: Scale, request: SprayRequest) -> Learnt:
    """Return what a spray-out shows.

    A bank that was named has to serve; with one that is only remembered the spray-out is recorded in any case.
    """
    as_read = Learnt(reading.warnings)
    remembered = bank_of_job(inside.ledger, inside.job)
    if request.bank is None and remembered is None:
        return replace(as_read, why_not="no bank is known to this job; name it once with `bank` FOLDER")
    views = inside.ledger.entries(inside.job)
    batches = {view.number: view.entry.parts for view in views if isinstance(view.entry, BatchEntry)}
    poured = None if entry.batch is None else batches.get(entry.batch)
    sprayed = next((view for view in views if view.number == entry.batch), None)
    earlier = refuse_earlier_card(entry, sprayed, views, request.anyway, request.supersedes)
    earlier += cards_apart(entry, sprayed, [view for view in views if view.number != request.supersedes])
    try:
        fitted = bank_meant(request.bank, remembered, inside.progress)
        if poured is None:
            why = "it isn't known what was in the tin; record it first"
            return replace(as_read, why_not=why, fitted=fitted)
        tins = tins_in(
            inside.ledger, inside.job, fitted, reading=reading, replaced=request.supersedes, batch=entry.batch
        )
        of = Poured(tuple(poured), scale, tins.shown_before(poured))
        shown = tins_shown(fitted, reading, entry, of, request.gloss)
    except InputError as error:
        if request.bank is not None:
            raise
        return replace(as_read, why_not=f"{error.where}: {error.what}; {error.mend}")
    card = sprayed_card(fitted, reading, entry, of, request.gloss)
    doubted = (*earlier, *refuse_blunder(card, of.parts, f"the spray-out ({reading.name})", request.anyway, views))
    told, entries = None, list(tins.caught_up)
    if not doubted:
        today = tins.of_today(fitted)
        others = [view for view in views if view.number != request.supersedes]
        tin = OfJob(inside.job.ref, FromJob(inside.job, batch=sprayed), others, of.parts)
        seen_as = sprayed_card(today, reading, entry, of, request.gloss)
        told = told_before(tin, today, tins, seen_as, request.gloss, new=request.supersedes is None)
    if request.supersedes is not None or not known_already(shown, tins.found, tins.lots, views):
        entries.append(strength_entry(fitted.bank.name, shown, tins.lots, Nth(0), tins.number, told))
    before = () if tins.bank is None else tins.bank.warnings  # how the cards fit is told with this one among them
    of_tins = [warning for warning in tins.warnings if warning not in before]
    return Learnt(
        warnings=tuple(dict.fromkeys((*doubted, *reading.warnings, *shown.warnings, *of_tins))),
        entries=tuple(entries),
        strengths=_strengths(shown),
        fitted=fitted,
        foretold=told,
    )


def _with_the_card(inside: _InJob, learnt: Learnt, number: int) -> Learnt:
    """Return what a spray-out showed once it is in the record: a panel more of the bank, among all others."""
    assert learnt.fitted is not None
    assert learnt.strengths is not None
    with inside.progress("putting the card to the bank's panels"):
        after = tins_in(inside.ledger, inside.job, learnt.fitted)
    if after.bank is None or ("", number) not in after.spray_outs:
        return learnt  # of tins that are no longer in use
    keep_today(after.bank)
    strengths = learnt.strengths
    if after.prior is not None and set(strengths) <= set(after.prior.names):
        known = after.prior.chosen(tuple(strengths))
        of_each = zip(known.names, known.factors.tolist(), known.sd.tolist(), strict=True)
        strengths = {name: (factor, sd) for name, factor, sd in of_each}
    warnings = tuple(dict.fromkeys((*learnt.warnings, *after.bank.warnings)))
    return replace(learnt, strengths=strengths, bank=after.bank, warnings=warnings)


def _strengths(shown: TinsShown) -> dict[str, tuple[float, float]]:
    now = shown.posterior.chosen(shown.tints)
    known = zip(now.names, now.factors.tolist(), now.sd.tolist(), strict=True)
    return {name: (factor, sd) for name, factor, sd in known}
