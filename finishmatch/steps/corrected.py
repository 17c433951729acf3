"""A correction as it is asked for, and as it was found."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from finishmatch.correct.correction import Correction
from finishmatch.correct.fresh_batch import FreshBatch
from finishmatch.correct.verdict import Verdict
from finishmatch.mix.foretold import Foretold
from finishmatch.mix.metamers import LightRisk, risks_document
from finishmatch.optics import Tint
from finishmatch.steps.correction_forms import (
    correction_document,
    fresh_document,
    letdowns_document,
)
from finishmatch.steps.hazards import cautions_for, harmful, hazards_document
from finishmatch.steps.matching import Match, MatchRequest, Parts
from finishmatch.steps.seen import seen_document

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
    foretold : Foretold or None
        How far the card came from what was foretold; None without a job.
    recorded : tuple of int
        The numbers of the entries, where they were recorded.
    look_first : tuple of str
        Those of the warnings by which the amounts may be wrong altogether, as of a card exchanged with its standard: to
        be looked at before anything is poured.
    """

    match: Match
    verdict: Verdict
    found: Correction
    fresh: FreshBatch | None
    poured: Parts
    warnings: tuple[str, ...]
    risks: tuple[LightRisk, ...] = ()
    foretold: Foretold | None = None
    recorded: tuple[int, ...] = ()
    look_first: tuple[str, ...] = ()

    @property
    def noted(self) -> tuple[str, ...]:
        """The warnings that are said below the amounts: all but those that are said first."""
        return tuple(said for said in self.warnings if said not in self.look_first)

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
            "letdowns": letdowns_document(self.found.letdowns),
            "fills_to": self.found.fills_to,
            "strengths": self.found.strengths,
            "seen": self.seen,
            "foretold": None if self.foretold is None else self.foretold.as_dict(),
            "metamerism_risk": risks_document(self.risks),
            "fresh_batch": None if self.fresh is None else fresh_document(self.fresh),
            "hazards": hazards_document(self.harmful),
            "look_first": list(self.look_first),
            "warnings": list(self.warnings),
            "cautions": list(self.cautions),
            **self.match.as_dict(),
        }
