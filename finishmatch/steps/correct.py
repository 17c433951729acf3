"""What to add to a poured tin to bring it to its target."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from finishmatch.correct.blunders import SprayedCard
from finishmatch.correct.correct import correct_batch
from finishmatch.correct.correct_seen import correct_seen, verdict_seen
from finishmatch.correct.correction import Correction
from finishmatch.correct.fresh_batch import FreshBatch, fresh_batch
from finishmatch.correct.limits import check_wanted
from finishmatch.correct.updated_tin import TinRecord
from finishmatch.correct.verdict import Verdict, judge
from finishmatch.ledger.entries import Entry, Nth, SprayOutEntry
from finishmatch.ledger.pouring import wanted_in
from finishmatch.ledger.views import EntryView
from finishmatch.mix.metamers import LightRisk, risks_document
from finishmatch.optics import Tint
from finishmatch.readings import Reading
from finishmatch.steps.bank import keep_fit
from finishmatch.steps.blunders import refuse_blunder
from finishmatch.steps.card_build import check_card_build
from finishmatch.steps.cards_of_tin import card_kept, earlier_cards
from finishmatch.steps.colour_inputs import ReadingLike
from finishmatch.steps.correction_forms import (
    correction_document,
    correction_entry,
    fresh_document,
    letdowns_document,
)
from finishmatch.steps.entries import spray_out_entry, verdict_entry
from finishmatch.steps.from_job import cards_apart, from_job, refuse_earlier_card
from finishmatch.steps.hazards import cautions_for, harmful, hazards_document
from finishmatch.steps.matching import BankLike, Match, MatchRequest, Parts, PartsLike, match, parts_of
from finishmatch.steps.metamerism import risks_of_tin
from finishmatch.steps.pours_of_job import batch_found
from finishmatch.steps.progress import Progress, quiet
from finishmatch.steps.record import entries_in
from finishmatch.steps.seen import SeenCard, refuse_other_piece, seen_document
from finishmatch.steps.spray_out_strengths import (
    Poured,
    known_already,
    new_tins_entry,
    sprayed_card,
    strength_entry,
    tins_shown,
)

TOLERANCE = 0.5  # ΔE00 to reach where none is given and none is known


@dataclass(frozen=True, kw_only=True)
class CorrectRequest(MatchRequest):
    """How a tin is corrected; see `MatchRequest` for the rest.

    Parameters
    ----------
    max_growth : float
        Most that the tin may outgrow what is wanted in it by, as a share of that.
    letdowns : bool
        Whether drops of strong tints may be poured by a letdown, where that pays.
    fill_to : float or None
        Grams that are wanted in the tin in the end; None is what the job's recipe says, where a part of it was poured.
    anyway : bool
        Take a card that can't be of the batch as it is.
    ground, coats, build_um, surface : str, int or None, float or None, str
        How the card was sprayed, as in `SprayRequest`; kept with it.
    """

    max_growth: float = 0.2
    letdowns: bool = True
    fill_to: float | None = None
    anyway: bool = False
    ground: str = ""
    coats: int | None = None
    build_um: float | None = None
    surface: str = "as sprayed"


@dataclass(frozen=True)
class Corrected:
    """What to add, and what else could be done.

    Parameters
    ----------
    match : Match
    verdict : Verdict
        On the spray-out.
    found : Correction
    fresh : FreshBatch or None
        What a fresh batch would need, where that is worth a thought.
    poured : tuple of (tint, grams)
    warnings : tuple of str
    risks : tuple of LightRisk
        How the tin, with what is added, may part in further lights from a target of which only CIELAB is known.
    recorded : tuple of int
        The numbers of the entries, where they were recorded.
    """

    match: Match
    verdict: Verdict
    found: Correction
    fresh: FreshBatch | None
    poured: Parts
    warnings: tuple[str, ...]
    risks: tuple[LightRisk, ...] = ()
    recorded: tuple[int, ...] = ()

    @property
    def reachable(self) -> bool:
        """Whether adding reaches the tolerance."""
        return self.found.reachable

    @property
    def additions(self) -> Parts:
        """What to add, (tint, grams), largest first."""
        return self.found.additions

    @property
    def seen(self) -> dict[str, Any] | None:
        """How the card was seen beside its standard, in its JSON form; None where it was read by itself."""
        return None if self.match.sprayed is None else seen_document(self.match.sprayed)

    @property
    def tints(self) -> tuple[Tint, ...]:
        """The tints of the bank."""
        return self.match.fitted.bank.tints

    @property
    def harmful(self) -> tuple[Tint, ...]:
        """The tints to be weighed, whichever way is taken, that hold what harms."""
        return harmful(self._to_be_weighed(), self.tints)

    @property
    def cautions(self) -> tuple[str, ...]:
        """The cautions that bear on what is added, and on what is in the tin that is stirred."""
        at_hand = [*self._to_be_weighed(), *(tint for tint, grams in self.poured if grams > 0)]
        return cautions_for(at_hand, self.tints)

    def _to_be_weighed(self) -> list[str]:
        found, fresh = self.found, self.fresh
        ways = [found.additions, found.additions_needed, *(row.additions for row in found.trade)]
        if fresh is not None:
            ways.append(fresh.recipe.parts)
        return [tint for parts in ways for tint, _ in parts]

    def as_dict(self) -> dict[str, Any]:
        """Return the JSON object of a correction."""
        return {
            **correction_document(self.found),
            "letdowns": letdowns_document(self.found),
            "fills_to": self.found.fills_to,
            "strengths": self.found.strengths,
            "seen": self.seen,
            "metamerism_risk": risks_document(self.risks),
            "fresh_batch": None if self.fresh is None else fresh_document(self.fresh),
            "hazards": hazards_document(self.harmful),
            "warnings": list(self.warnings),
            "cautions": list(self.cautions),
            **self.match.as_dict(),
        }


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
    given = {"target": target, "bank": bank, "batch": batch, "card": sprayed}
    taken = from_job("correct", job, given)
    check_card_build("`build_um`", request.build_um, anyway=request.anyway)
    check_wanted(request.fill_to)
    matched = match(target, bank, request, TOLERANCE, sprayed, job=job, taken=taken, progress=progress)
    fitted, goal, tolerance = matched.fitted, matched.target, matched.tolerance
    trial, judged_as = matched.sprayed_alike, matched.judged_as
    assert trial is not None
    optics, tints = fitted.usable_optics, matched.shelf.tints
    poured, files = _in_tin(batch, matched)
    views = () if job is None else entries_in(job)
    doubted = refuse_other_piece(sprayed, matched.standard, fitted.bank.binder_index, request.anyway)
    doubted += _doubted(matched, poured, views, request)
    with progress("looking for the smallest addition"):
        by = correct_seen if trial.seen else correct_batch
        scale, record = replace(matched.scale, letdowns=request.letdowns), _record_of(matched, views, poured, request)
        found = by(goal, optics, tints, poured, trial, tolerance, request.max_growth, scale, record)
        fresh = fresh_batch(found, goal, optics, tints, poured, tolerance, matched.scale, record.wanted)
    warnings = [*doubted, *matched.warnings, *found.warnings, *matched.shelf.warnings, *matched.tins.warnings]
    if judged_as is not None and not trial.seen:
        seen = f"{judged_as.light}, {judged_as.observer}°"
        warnings.append(f"the spray-out is Lab only, so the tin is judged under {seen} alone")
    verdict, risks = _verdict(matched), risks_of_tin(matched, (*poured, *found.additions))
    corrected = Corrected(matched, verdict, found, fresh, poured, tuple(warnings), risks)
    if job is not None:
        corrected = replace(corrected, recorded=_recorded(job, corrected, files, request))
    return replace(corrected, warnings=(*warnings, *keep_fit(fitted)))


def _record_of(matched: Match, views: Sequence[EntryView], poured: Parts, request: CorrectRequest) -> TinRecord:
    """Return what the record knows of a tin before the spray-out in hand, and what is wanted of it."""
    kept = matched.tins.kept_spray_out
    before = earlier_cards(matched.fitted, views, poured, matched.scale, but=kept, gloss=request.gloss)
    wanted, taken = request.fill_to, matched.taken
    if wanted is None and taken is not None and taken.batch is not None:
        wanted = wanted_in(views, taken.batch)
    return TinRecord(matched.tins.prior, before, wanted or 0.0)


def _verdict(matched: Match) -> Verdict:
    """Return how the spray-out stands to its target."""
    goal, trial = matched.target, matched.sprayed_alike
    assert trial is not None
    if trial.seen:
        return verdict_seen(trial, matched.tolerance)
    return judge(matched.alike, trial, goal.lights, goal.observer, matched.tolerance)


def _in_tin(batch: PartsLike | None, matched: Match) -> tuple[Parts, tuple[Path, ...]]:
    """Return what is in the tin, and the file it is from."""
    kept = None if matched.taken is None else matched.taken.parts
    in_tin = kept if batch is None else batch
    assert in_tin is not None
    return parts_of(in_tin, matched.fitted.bank.densities)


def _doubted(matched: Match, poured: Parts, views: Sequence[EntryView], request: CorrectRequest) -> tuple[str, ...]:
    """See that a card can be of its batch, and isn't recorded as that of another; a warning where it is so anyway."""
    assert matched.sprayed_alike is not None
    meant = None if matched.taken is None else matched.taken.batch
    card, where = _sprayed_card(matched, poured, request), f"the spray-out ({matched.sprayed_alike.name})"
    entry = _card_entry(matched, request, None)
    return (
        *refuse_earlier_card(entry, meant, views, request.anyway),
        *cards_apart(entry, meant, views),
        *refuse_blunder(card, poured, where, request.anyway, views),
    )


def _sprayed_card(matched: Match, poured: Parts, request: CorrectRequest) -> SprayedCard:
    """Return the spray-out as what it can be of is judged; with a build it is taken as a film that may not hide."""
    assert matched.sprayed_alike is not None
    prior, tints = matched.tins.prior, matched.shelf.tints
    if request.build_um is None:
        return SprayedCard(matched.sprayed_alike, matched.fitted.usable_optics, tints, matched.scale, prior)
    film = _card_entry(matched, request, None)
    return sprayed_card(matched.fitted, _trial(matched), film, Poured(poured, matched.scale, prior), request.gloss)


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
        entries.append(batch_found(entries_in(job), corrected.poured, bank, matched.scale))
    film = tins.kept_spray_out or _card_entry(matched, request, None)
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
        entries.append(strength_entry(bank, shown, tins.lots, card, before))
    return matched.record(job, entries, sources)
