"""What is asked of a pour, and what it came to."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Any

from finishmatch.ledger import JobView
from finishmatch.optics import Tint
from finishmatch.steps.hazards import cautions_for, harmful, hazards_document, parts_document
from finishmatch.steps.matching import Parts
from finishmatch.steps.record import RecordedOne
from finishmatch.steps.shelf import Shelf
from finishmatch.steps.weigh_out import WeighOut


@dataclass(frozen=True, kw_only=True)
class PourRequest:
    """How a pour was entered, and what it is held against.

    Parameters
    ----------
    recipe : int or None
        The number of the recipe or correction it was poured by; None is the one of the job it agrees with.
    like : int or None
        The number of a recipe or correction it was poured as, or of a batch whose card was inside, except for the parts
        that are entered.
    grams : float or None
        What was meant to be poured of `like` in all; None is what it says.
    running : bool
        The weights are the scale's running totals.
    to : str or None
        "new" for a new tin; "last" or a number for the batch that was added to; None is as it looks.
    set_aside : str or None
        How much of the batch is set aside first: "half", "30%", "150g".
    aside_for : str
        What that is meant for.
    tin_l : float or None
        What the tin holds, litres.
    bank : Path, str or None
        The folder of the bank it is poured from; None is the one the job was mixed from.
    scale_step : float
        Of the scale, grams.
    max_growth : float
        Most that may be added to come back from an overshoot, as a share of the tin.
    check : bool
        Only say how it stands half way, and record nothing.
    anyway : bool
        Take weights that look like a slip as they are.
    """

    recipe: int | None = None
    like: int | None = None
    grams: float | None = None
    running: bool = False
    to: str | None = None
    set_aside: str | None = None
    aside_for: str = ""
    tin_l: float | None = None
    bank: Path | str | None = None
    scale_step: float = 0.1
    max_growth: float = 0.2
    check: bool = False
    anyway: bool = False


AS_IT_LOOKS = PourRequest()


@dataclass(frozen=True)
class PouredTin:
    """What was poured, as it was recorded, and how it stands.

    Parameters
    ----------
    job : JobView
    parts : tuple of (tint, grams)
        All that is in the tin.
    recorded : RecordedOne or None
        The batch; None where nothing was to be recorded.
    aside : RecordedOne or None
        The part that was gone on with, where some was set aside and then something poured.
    stands : WeighOut or None
        Held against its recipe or correction; None where none fits.
    understood : tuple of str
        How it was read, a sentence each.
    shelf : Shelf or None
        The stock that is left; None where the bank isn't known.
    warnings : tuple of str
    """

    job: JobView
    parts: Parts
    recorded: RecordedOne | None
    aside: RecordedOne | None = None
    stands: WeighOut | None = None
    understood: tuple[str, ...] = ()
    shelf: Shelf | None = None
    warnings: tuple[str, ...] = ()

    @property
    def reachable(self) -> bool:
        """Whether what was poured too much can be brought back within the growth limit."""
        return self.stands is None or self.stands.reachable

    @property
    def tints(self) -> tuple[Tint, ...]:
        """The tints of the bank; none where that isn't known."""
        return () if self.shelf is None else self.shelf.tints

    @property
    def harmful(self) -> tuple[Tint, ...]:
        """The tints in the tin, and those still to be poured, that hold what harms."""
        return harmful(self._at_hand(), self.tints)

    @property
    def cautions(self) -> tuple[str, ...]:
        """The cautions that bear on what is in the tin and on what is still to be poured."""
        return cautions_for(self._at_hand(), self.tints)

    def _at_hand(self) -> list[str]:
        to_pour = () if self.stands is None else self.stands.to_pour
        return [tint for tint, grams in (*self.parts, *to_pour) if grams > 0]

    def as_dict(self) -> dict[str, Any]:
        """Return the JSON object of a pour."""
        return {
            "job": self.job.as_dict(),
            "recorded": None if self.recorded is None else self.recorded.entries[0].as_dict(),
            "set_aside": None if self.aside is None else self.aside.entries[0].as_dict(),
            "parts": parts_document(self.parts),
            "stands": None if self.stands is None else self.stands.as_dict(),
            "understood": list(self.understood),
            "stock": [] if self.shelf is None else self.shelf.as_dict()["stock"],
            "hazards": hazards_document(self.harmful),
            "warnings": list(self.warnings),
            "cautions": list(self.cautions),
        }
