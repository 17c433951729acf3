"""What to add to a poured tin to bring it to its target."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

from finishmatch.correct.blunders import SprayedCard
from finishmatch.correct.correct import correct_batch
from finishmatch.correct.correct_seen import correct_seen, verdict_seen
from finishmatch.correct.correction import Correction
from finishmatch.correct.fresh_batch import fresh_batch
from finishmatch.correct.limits import check_wanted
from finishmatch.correct.verdict import Verdict, judge
from finishmatch.ledger.entries import Entry, Nth, SprayOutEntry
from finishmatch.ledger.views import EntryView
from finishmatch.readings import Reading
from finishmatch.steps.bank import keep_fit
from finishmatch.steps.blunders import refuse_blunder
from finishmatch.steps.by_own_photograph import doubt_between, said_of_card
from finishmatch.steps.card_build import check_card_build
from finishmatch.steps.card_in_hand import card_of, lab_only, record_of_tin
from finishmatch.steps.cards_of_tin import card_kept
from finishmatch.steps.colour_inputs import ReadingLike, itself_unknown
from finishmatch.steps.corrected import TOLERANCE, Corrected, CorrectRequest
from finishmatch.steps.correction_forms import (
    correction_entry,
)
from finishmatch.steps.entries import spray_out_entry, verdict_entry
from finishmatch.steps.exchanged import look_first
from finishmatch.steps.from_job import cards_apart, from_job, given_or, refuse_earlier_card
from finishmatch.steps.ground_shows import ShownGround, ground_shows
from finishmatch.steps.left_out import optics_allowed
from finishmatch.steps.matching import BankLike, Match, Parts, PartsLike, match, parts_of
from finishmatch.steps.metamerism import risks_of_tin
from finishmatch.steps.pair_by_bank import pair_by_bank
from finishmatch.steps.photographs_known import doubted_photographs
from finishmatch.steps.pours_of_job import batch_found
from finishmatch.steps.progress import Progress, quiet
from finishmatch.steps.record import entries_in
from finishmatch.steps.seen import SeenCard
from finishmatch.steps.spray_out_strengths import (
    Poured,
    known_already,
    new_tins_entry,
    strength_entry,
    tins_shown,
)
from finishmatch.steps.told_before import told_of


def correct(
    target: ReadingLike | None,
    bank: BankLike | None,
    batch: PartsLike | None,
    sprayed: ReadingLike | SeenCard | None,
    request: CorrectRequest = CorrectRequest(),
    *,
    job: str | None = None,
    progress: Progress = quiet,
) -> Corrected:
    """Return the smallest addition that brings a poured tin to its target; nothing is ever taken out.

    Parameters
    ----------
    target : ReadingLike or None
    bank : BankLike or None
        The bank the tin was mixed from.
    batch : PartsLike or None
        What was poured.
    sprayed : ReadingLike, SeenCard or None
        The spray-out of it, or how it was seen beside its standard. What is None is what the job has.
    request : CorrectRequest
    job : str or None
        Where batch, spray-out, verdict and correction are recorded, and what the spray-out shows of the tins.
    progress : Progress

    Raises
    ------
    InputError
        A tint of the batch that the bank doesn't know, a reading that can't be used, a card that can't be of the batch;
        nothing is recorded then.
    """
    taken = from_job("correct", job, {"target": target, "bank": bank, "batch": batch, "card": sprayed})
    check_card_build("`build_um`", request.build_um, anyway=request.anyway)
    check_wanted(request.fill_to)
    matched = match(target, bank, request, TOLERANCE, sprayed, job=job, taken=taken, progress=progress)
    fitted, goal, tolerance = matched.fitted, matched.target, matched.tolerance
    (poured, files), views = _in_tin(batch, matched), () if job is None else entries_in(job)
    (optics, left), tints = optics_allowed(matched, views, poured), matched.shelf.tints
    card, binder = _sprayed_card(matched, poured, request), fitted.bank.binder_index
    first = look_first(sprayed, card, poured, matched.standard, matched.piece, binder, request.anyway)
    doubted = (*first, *_doubted(matched, poured, views, request, job))
    matched = pair_by_bank(matched, card, poured)
    trial = matched.sprayed_alike
    assert trial is not None
    with progress("looking for the smallest addition"):
        by, scale = correct_seen if trial.seen else correct_batch, replace(matched.scale, letdowns=request.letdowns)
        record = record_of_tin(matched, views, poured, request.gloss, request.fill_to)
        shown = ground_shows(fitted, poured, _sprayed_as(matched, request), card)
        found = by(goal, optics, tints, poured, shown.reading or trial, tolerance, request.max_growth, scale, record)
        fresh = fresh_batch(found, goal, optics, tints, poured, tolerance, matched.scale, record.wanted)
    warnings = [*doubted, *left, *matched.warnings, *found.warnings, *matched.shelf.warnings, *matched.tins.warnings]
    warnings += [*lab_only(matched), *shown.warnings, *_known_apart(matched)]
    verdict, risks = _verdict(matched), risks_of_tin(matched, (*poured, *found.additions))
    told = None if job is None or doubted else told_of(job, matched, card, poured, views, request.gloss)
    found = _as_it_reads(found, verdict, shown)
    corrected = Corrected(matched, verdict, found, fresh, poured, tuple(warnings), risks, told, look_first=first)
    if job is not None:
        corrected = replace(corrected, recorded=_recorded(job, corrected, files, request))
    return replace(corrected, warnings=(*warnings, *keep_fit(fitted)))


def _sprayed_as(matched: Match, request: CorrectRequest) -> SprayOutEntry:
    """Return how the spray-out was sprayed: as the job has it, else as it is said now."""
    return matched.tins.kept_spray_out or _card_entry(matched, request, None)


def _as_it_reads(found: Correction, verdict: Verdict, shown: ShownGround) -> Correction:
    """Return a correction that is worked out by what the card would hide at with how far it is off as it reads."""
    if shown.reading is None:
        return found
    return replace(found, before=dict(verdict.lights), why=f"if it hid: {found.why}")


def _verdict(matched: Match) -> Verdict:
    """Return how the spray-out stands to its target."""
    goal, trial = matched.target, matched.sprayed_alike
    assert trial is not None
    if trial.seen:
        return verdict_seen(trial, matched.tolerance)
    found = judge(matched.alike, trial, goal.lights, goal.observer, matched.tolerance)
    weighed = matched.alike.target is not None and matched.alike.target.weighed  # its tolerance is what that defends
    return found if weighed else replace(found, u95=doubt_between(matched.alike, trial))


def _known_apart(matched: Match) -> tuple[str, ...]:
    """Return what is to be said of a target and a card of which one or both were photographed apart from the other."""
    trial = matched.sprayed_alike
    assert trial is not None
    if trial.seen:
        return said_of_card(matched.alike, trial)
    return itself_unknown(matched.alike, matched.tolerance)


def _in_tin(batch: PartsLike | None, matched: Match) -> tuple[Parts, tuple[Path, ...]]:
    """Return what is in the tin, and the file it is from."""
    return parts_of(given_or(batch, matched.taken and matched.taken.parts), matched.fitted.bank.densities)


def _doubted(
    matched: Match, poured: Parts, views: Sequence[EntryView], request: CorrectRequest, job: str | None
) -> tuple[str, ...]:
    """See that a card can be of its batch, and isn't recorded as that of another; a warning where it is so anyway."""
    assert matched.sprayed_alike is not None
    meant, given = (None, True) if (taken := matched.taken) is None else (taken.batch, taken.card is None)
    entry = _card_entry(matched, request, None)
    card, where = _sprayed_card(matched, poured, request), f"the spray-out ({matched.sprayed_alike.name})"
    of, doubts = (matched.sprayed_files, meant), tuple[str, ...]()
    if given:
        doubts = doubted_photographs(entry, job, views, request.anyway, of=of)
    return (
        *doubts,
        *refuse_earlier_card(entry, meant, views, request.anyway),
        *cards_apart(entry, meant, views),
        *refuse_blunder(card, poured, where, request.anyway, views),
    )


def _sprayed_card(matched: Match, poured: Parts, request: CorrectRequest) -> SprayedCard:
    return card_of(matched, poured, _sprayed_as(matched, request), request.gloss)


def _trial(matched: Match) -> Reading:
    """Return the spray-out as it was given."""
    assert matched.sprayed is not None
    return matched.sprayed


def _card_entry(matched: Match, request: CorrectRequest, batch: int | None) -> SprayOutEntry:
    """Return a spray-out as it is kept, with how it was sprayed."""
    return replace(
        spray_out_entry(_trial(matched), batch),
        ground=request.ground.strip(),
        coats=request.coats,
        build_um=request.build_um,
        surface=request.surface,
    )


def _recorded(job: str, corrected: Corrected, files: tuple[Path, ...], request: CorrectRequest) -> tuple[int, ...]:
    """Record batch and spray-out, where these aren't the job's own already, and the judgements made of them."""
    matched, tins, bank = corrected.match, corrected.match.tins, corrected.match.fitted.bank.name
    taken, trial = matched.taken, _trial(matched)
    entries: list[Entry] = []
    sources: dict[int, Sequence[Path]] = {}
    if taken is not None and taken.batch is not None:
        batch = taken.batch.number
    else:
        batch = Nth(len(entries))
        sources[batch] = files
        entries.append(batch_found(entries_in(job), corrected.poured, bank, matched.scale, corrected.tints))
    film = _sprayed_as(matched, request)
    if taken is not None and taken.card is not None:
        card = taken.card.number
    else:
        meant = _card_entry(matched, request, batch)
        kept = card_kept(entries_in(job), meant)
        card = Nth(len(entries)) if kept is None else kept
        if kept is None:
            sources[card] = matched.sprayed_files
            entries.append(meant)
    entries.append(verdict_entry(matched.standard, trial, corrected.verdict, card))
    entries.append(correction_entry(corrected.found, batch, card))
    before = tins.number
    if tins.forgotten:
        before = Nth(len(entries))
        entries.append(new_tins_entry(bank))
    poured = Poured(corrected.poured, matched.scale, tins.shown_before(corrected.poured))
    shown = tins_shown(matched.fitted, trial, film, poured, request.gloss)
    if tins.forgotten or not known_already(shown, tins.found, tins.lots, entries_in(job)):
        entries.append(strength_entry(bank, shown, tins.lots, card, before, corrected.foretold))
    return matched.record(job, entries, sources)
