"""A tin by the last card that was sprayed of it, and by what was added since: what it reads, and the way back."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from math import hypot
from typing import Any

import numpy as np

from finishmatch.correct.as_sprayed import off_in_words, tin_in_words
from finishmatch.correct.correct import correct_batch
from finishmatch.correct.correct_seen import correct_seen, told_tolerance
from finishmatch.correct.next_card import NextCard, next_card
from finishmatch.correct.tin import Tin
from finishmatch.correct.updated_tin import TinRecord, updated_tin
from finishmatch.errors import InputError
from finishmatch.ledger import EntryView
from finishmatch.mix.expected_difference import U95_LIGHTS, U95_OBSERVER
from finishmatch.optics import TintOptics
from finishmatch.readings import Reading
from finishmatch.steps.bank import FittedBank
from finishmatch.steps.blunders import refuse_blunder
from finishmatch.steps.card_in_hand import card_of, lab_only, record_of_tin
from finishmatch.steps.cards_of_tin import LastCard, last_card
from finishmatch.steps.corrected import TOLERANCE
from finishmatch.steps.foretold import card_foretold
from finishmatch.steps.from_job import FromJob, cards_apart
from finishmatch.steps.ground_shows import ShownGround, ground_shows
from finishmatch.steps.hazards import parts_document
from finishmatch.steps.left_out import left_out, optics_allowed
from finishmatch.steps.matching import Match, MatchRequest, Parts, match
from finishmatch.steps.pair_by_bank import pair_by_bank
from finishmatch.steps.spray_out_strengths import reading_kept
from finishmatch.steps.way_back import Goal, HeldAgainst, WayBackRequest


@dataclass(frozen=True)
class ByItsCard:
    """A tin that is known by its last card.

    Parameters
    ----------
    card : LastCard
    since : tuple of (tint, grams)
        What was added to it since.
    de00 : float or None
        How far the card read from what the bank says without it (D65, 10°); None where its colour isn't known so.
    matched : Match
        The card against its target, or against itself where there is none.
    optics : TintOptics
        Of the tints that may be in the tin.
    read : Reading
        The card, as it hides.
    record : TinRecord
        What else is known of the tin.
    shown : ShownGround
        How far it shows its ground.
    warnings : tuple of str
    """

    card: LastCard
    since: Parts
    de00: float | None
    matched: Match
    optics: TintOptics
    read: Reading
    record: TinRecord
    shown: ShownGround
    warnings: tuple[str, ...] = ()

    @property
    def tells_colour(self) -> bool:
        """Whether the card tells the tin's own colour; else only how that differs from its standard."""
        return self.de00 is not None

    @cached_property
    def tin(self) -> Tin:
        """The tin, with what was added since."""
        return updated_tin(
            self.matched.target,
            self.optics,
            self.matched.shelf.tints,
            self.card.parts,
            self.read,
            self.matched.scale,
            self.record,
        ).tin

    @property
    def words(self) -> str:
        """What the tin is known by, in a line."""
        number = f"card #{self.card.view.number}"
        if self.de00 is not None:
            by = f"by {number}, which read ΔE00 {self.de00:.1f} from the bank's word"
        else:
            beside = "seen beside it" if self.read.seen else "read"
            by = f"by the bank; how it differs from {self.matched.standard.name} by {number}, as it was {beside}"
        added = sum(grams for _, grams in self.since)
        return f"{by}, and {added:.4g} g added since" if self.since else by

    @property
    def next_card(self) -> NextCard:
        """What a card of the tin as it is now is predicted to read."""
        return next_card(self.tin, self.read, self.matched.scale)

    @property
    def u95(self) -> float:
        """The ΔE00 (D65, 10°) of what is predicted that holds the next card 95 times in 100."""
        return hypot(self.next_card.within_95(), self.shown.u95)

    def held_against_target(self, request: WayBackRequest) -> HeldAgainst:
        """Return how the tin differs from its target, and the way back, as a correction by that card has it."""
        matched, trial, tin = self.matched, self.read, self.tin
        by = correct_seen if trial.seen else correct_batch
        found = by(
            matched.target,
            self.optics,
            matched.shelf.tints,
            self.card.parts,
            trial,
            matched.tolerance,
            request.max_growth,
            matched.scale,
            self.record,
        )
        seen = told_tolerance(found.before, matched.tolerance, trial) if trial.seen else matched.tolerance
        return HeldAgainst(
            name=matched.standard.name,
            meant=False,
            as_written=False,
            target=tin.target,
            tolerance=seen,
            words=tuple(tin_in_words(tin) if np.any(tin.since) else off_in_words(tin.target, trial)),
            way_back=found,
            conversions=matched.conversions,
            warnings=(*matched.warnings, *found.warnings, *matched.shelf.warnings, *lab_only(matched)),
        )

    def as_dict(self) -> dict[str, Any]:
        """Return its JSON form."""
        return {
            "spray_out": self.card.view.number,
            "tells": "colour" if self.tells_colour else "difference",
            "de00": self.de00,
            "since": parts_document(self.since),
        }


class NotOfBatchError(InputError):
    """A card that can't be of its batch."""


@dataclass(frozen=True)
class OfJob:
    """A batch of a job: the job, what was taken from it, its entries, and what is in the tin now."""

    job: str
    taken: FromJob
    views: Sequence[EntryView]
    parts: Parts


def by_its_card(
    of: OfJob, card: LastCard, fitted: FittedBank, request: MatchRequest, goal: Goal, *, asked: bool
) -> ByItsCard:
    """Return a tin by its last card.

    Parameters
    ----------
    of : OfJob
    card : LastCard
    fitted : FittedBank
    request : MatchRequest
    goal : Goal
        What the batch is held against.
    asked : bool
        Whether that isn't the job's own target: a difference that was seen is from that alone.

    Raises
    ------
    InputError
        Nothing can be told of the tin by that card; what it says is why. `NotOfBatchError`: nor of its tins.
    """
    where, since = card.name, card.since(of.parts)
    if request.fresh_tins:
        raise InputError(where, "is of the tins before these")
    if since is None:
        raise InputError(where, "is of a tin that held more of a tint than this", "check what is written")
    if card.other_lots:
        raise InputError(where, "was sprayed before a tint of another lot was poured in", "spray a card of the tin")
    if card.entry.seen and (asked or goal.standard is None):
        raise InputError(where, "was only seen beside the job's target", "hold the batch against that")
    taken = replace(of.taken, card=card.view)
    standard = goal.standard or taken.sprayed
    matched = match(standard, fitted, request, TOLERANCE, job=of.job, taken=taken)
    assert matched.sprayed_alike is not None
    sprayed = card_of(matched, card.parts, card.entry, request.gloss)
    try:
        refuse_blunder(sprayed, card.parts, where, False, of.views)
    except InputError as error:
        raise NotOfBatchError(error.where, error.what, error.mend) from error
    told = card_foretold(matched.fitted, sprayed, matched.tins.prior, card.parts, (), True)
    if told is None and goal.standard is None:
        light, observer = U95_LIGHTS[0], U95_OBSERVER
        raise InputError(where, f"tells no colour in {light}, {observer}°", "read its spectrum")
    matched = pair_by_bank(matched, sprayed, card.parts)
    assert matched.sprayed_alike is not None
    (optics, _), batch = optics_allowed(matched, of.views, of.parts), of.taken.batch
    shown = ground_shows(matched.fitted, card.parts, card.entry, sprayed)
    return ByItsCard(
        card=card,
        since=since,
        de00=None if told is None else told.de00,
        matched=matched,
        optics=optics,
        read=shown.reading or matched.sprayed_alike,
        record=record_of_tin(matched, of.views, of.taken.parts or of.parts, request.gloss, since=since),
        shown=shown,
        warnings=(*shown.warnings, *cards_apart(card.entry, batch, of.views)),
    )


@dataclass(frozen=True)
class TinMeant:
    """What the record knows of a tin.

    Parameters
    ----------
    by : ByItsCard or None
        Its last card, where that tells something of it.
    sprayed : bool
        Whether there is a card of it, or of what it was before something was added.
    without : tuple of str
        The tints that it was mixed without.
    left, read : tuple of str
        What is to be said of these, and of the card.
    doubted : Reading or None
        The card, where it can't be of its batch: what it showed of the tins isn't gone by either.
    """

    by: ByItsCard | None = None
    sprayed: bool = False
    without: tuple[str, ...] = ()
    left: tuple[str, ...] = ()
    read: tuple[str, ...] = ()
    doubted: Reading | None = None


def tin_meant(
    of: OfJob, fitted: FittedBank, request: MatchRequest, goal: Goal, *, asked: bool, other_film: bool
) -> TinMeant:
    """Return what the record knows of a tin.

    Parameters
    ----------
    of, fitted, request, goal, asked
        As for `by_its_card`.
    other_film : bool
        Whether a film of some build over some ground is asked for: a card tells of the film that it is.
    """
    assert of.taken.batch is not None
    (without, left), card = left_out(of.views, of.taken.batch), last_card(of.views, of.taken.batch)
    if card is None:
        return TinMeant(without=without, left=left)
    try:
        if other_film:
            raise InputError(card.name, "is of another film than is asked for")
        by = by_its_card(of, card, fitted, request, goal, asked=asked)
    except InputError as error:
        why = f"it {error.what}" if error.where == card.name else f"{error.where} {error.what}; {error.mend}"
        doubted = reading_kept(card.entry) if isinstance(error, NotOfBatchError) else None
        said = f"this goes by the bank, not by {card.name}{' or what it showed of the tins' if doubted else ''}: {why}"
        return TinMeant(None, True, without, left, (said,), doubted)
    return TinMeant(by, True, without, left, by.warnings)
