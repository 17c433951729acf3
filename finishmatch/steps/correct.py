"""What to add to a poured tin to bring it to its target."""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from finishmatch.correct.blunders import SprayedCard
from finishmatch.correct.correct import Correction, correct_batch
from finishmatch.correct.fresh_batch import FreshBatch, fresh_batch
from finishmatch.correct.verdict import judge
from finishmatch.ledger.entries import BatchEntry, CorrectionEntry, Entry, Nth
from finishmatch.optics import Tint
from finishmatch.steps.bank import keep_fit
from finishmatch.steps.blunders import refuse_blunder
from finishmatch.steps.colour_inputs import ReadingLike
from finishmatch.steps.entries import sources_of, spray_out_entry, verdict_entry
from finishmatch.steps.hazards import cautions_for, harmful, hazards_document, parts_document
from finishmatch.steps.matching import BankLike, Match, MatchRequest, Parts, PartsLike, match, parts_of
from finishmatch.steps.progress import Progress, quiet
from finishmatch.steps.record import entries_in
from finishmatch.steps.spray_out_strengths import Poured, known_already, new_tins_entry, strength_entry, tins_shown

TOLERANCE = 0.5  # ΔE00 to reach where none is given and none is known


@dataclass(frozen=True, kw_only=True)
class CorrectRequest(MatchRequest):
    """How a tin is corrected; see `MatchRequest` for the rest.

    Parameters
    ----------
    max_growth : float
        Most that may be added, as a share of the tin.
    anyway : bool
        Take a card that can't be of the batch as it is.
    """

    max_growth: float = 0.2
    anyway: bool = False


@dataclass(frozen=True)
class Corrected:
    """What to add, and what else could be done.

    Parameters
    ----------
    match : Match
    found : Correction
    fresh : FreshBatch or None
        What a fresh batch would need, where that is worth a thought.
    poured : tuple of (tint, grams)
    warnings : tuple of str
    recorded : tuple of int
        The numbers of the entries, where they were recorded.
    """

    match: Match
    found: Correction
    fresh: FreshBatch | None
    poured: Parts
    warnings: tuple[str, ...]
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
            "strengths": self.found.strengths,
            "fresh_batch": None if self.fresh is None else _fresh_document(self.fresh),
            "hazards": hazards_document(self.harmful),
            "warnings": list(self.warnings),
            "cautions": list(self.cautions),
            **self.match.as_dict(),
        }


def correction_document(found: Correction) -> dict[str, Any]:
    """Return what to add, and what that is expected to do, in its JSON form."""
    needed = found.scale_needed
    return {
        "reachable": found.reachable,
        "additions": parts_document(found.additions),
        "growth": found.growth,
        "lights": found.lights,
        "before": found.before,
        "growth_needed": found.growth_needed,
        "chance": found.chance,
        "intervals": {light: {"low": low, "high": high} for light, (low, high) in found.intervals.items()},
        "scale_needed": None if needed is None else {"step_g": needed.step_g, "smallest_g": needed.smallest_g},
        "trade": [{**vars(row), "additions": parts_document(row.additions)} for row in found.trade],
        "why": found.why,
    }


def _fresh_document(fresh: FreshBatch) -> dict[str, Any]:
    return {
        "parts": parts_document(fresh.recipe.parts),
        "lights": fresh.recipe.lights,
        "cost": fresh.recipe.cost,
        "additions_cost": fresh.additions_cost,
        "cheaper": fresh.cheaper,
    }


def correct(
    target: ReadingLike,
    bank: BankLike,
    batch: PartsLike,
    sprayed: ReadingLike,
    request: CorrectRequest = CorrectRequest(),
    *,
    job: str | None = None,
    progress: Progress = quiet,
) -> Corrected:
    """Return the smallest addition that brings a poured tin to its target; nothing is ever taken out.

    Parameters
    ----------
    target : ReadingLike
    bank : BankLike
        The bank the tin was mixed from.
    batch : PartsLike
        What was poured.
    sprayed : ReadingLike
        The spray-out of it.
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
    matched = match(target, bank, request, TOLERANCE, sprayed, job=job, progress=progress)
    fitted, goal, tolerance = matched.fitted, matched.target, matched.tolerance
    trial, judged_as = matched.sprayed_alike, matched.judged_as
    assert trial is not None
    optics, tints = fitted.usable_optics, matched.shelf.tints
    poured, files = parts_of(batch, fitted.bank.densities)
    card = SprayedCard(trial, optics, tints, matched.scale, matched.tins.prior)
    views = () if job is None else entries_in(job)
    doubted = refuse_blunder(card, poured, f"the spray-out ({trial.name})", request.anyway, views)
    with progress("looking for the smallest addition"):
        found = correct_batch(
            goal, optics, tints, poured, trial, tolerance, request.max_growth, matched.scale, matched.tins.prior
        )
        fresh = fresh_batch(found, goal, optics, tints, poured, tolerance, matched.scale)
    warnings = [*doubted, *matched.warnings, *found.warnings, *matched.shelf.warnings, *matched.tins.warnings]
    if judged_as is not None:
        seen = f"{judged_as.light}, {judged_as.observer}°"
        warnings.append(f"the spray-out is Lab only, so the tin is judged under {seen} alone")
    corrected = Corrected(matched, found, fresh, poured, tuple(warnings))
    if job is not None:
        corrected = replace(corrected, recorded=_recorded(job, corrected, files, request.gloss))
    return replace(corrected, warnings=(*warnings, *keep_fit(fitted)))


def _recorded(job: str, corrected: Corrected, files: tuple[Path, ...], gloss: float | None) -> tuple[int, ...]:
    matched, tins, bank = corrected.match, corrected.match.tins, corrected.match.fitted.bank.name
    trial, trial_alike, goal = matched.sprayed, matched.sprayed_alike, matched.target
    assert trial is not None
    assert trial_alike is not None
    verdict = judge(matched.alike, trial_alike, goal.lights, goal.observer, matched.tolerance)
    poured = Poured(corrected.poured, matched.scale, tins.prior)
    shown = tins_shown(matched.fitted, trial, tins.kept_spray_out, poured, gloss)
    entries: list[Entry] = [
        BatchEntry(parts=list(corrected.poured)),
        spray_out_entry(trial, Nth(0)),
        verdict_entry(matched.standard, trial, verdict, Nth(1)),
        correction_entry(corrected.found, Nth(0), Nth(1)),
    ]
    before = tins.number
    if tins.forgotten:
        before = Nth(len(entries))
        entries.append(new_tins_entry(bank))
    if tins.forgotten or not known_already(shown, tins.found, tins.lots, entries_in(job)):
        entries.append(strength_entry(bank, shown, tins.lots, Nth(1), before))
    return matched.record(job, entries, {0: files, 1: sources_of(trial)})


def correction_entry(correction: Correction, batch: int | None, spray_out: int | None = None) -> CorrectionEntry:
    """Return a correction as it is kept, with the numbers of the batch it is for and of its spray-out."""
    return CorrectionEntry(
        batch=batch,
        additions=list(correction.additions),
        growth=correction.growth,
        reachable=correction.reachable,
        lights=correction.lights,
        strengths=correction.strengths,
        why=correction.why,
        spray_out=spray_out,
    )
