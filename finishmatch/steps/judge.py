"""A card is judged: recorded as a spray-out, held against the target, and answered with what to add to the tin."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from finishmatch.cautions import SPRAYING, each_once
from finishmatch.correct.verdict import Verdict
from finishmatch.steps.colour_inputs import ReadingLike
from finishmatch.steps.correct import correct
from finishmatch.steps.corrected import Corrected, CorrectRequest
from finishmatch.steps.progress import Progress, quiet
from finishmatch.steps.seen import SeenCard

USUAL = CorrectRequest()


@dataclass(frozen=True)
class Judged:
    """A card, whether it is inside the tolerance, and what to add to the tin where it isn't."""

    corrected: Corrected

    @property
    def verdict(self) -> Verdict:
        """How the card differs from the target."""
        return self.corrected.verdict

    @property
    def within(self) -> bool:
        """Whether the card is inside the tolerance in every light."""
        return self.verdict.within

    @property
    def recorded(self) -> tuple[int, ...]:
        """The numbers of what was recorded: spray-out, verdict, correction, and what was learnt of the tins."""
        return self.corrected.recorded

    @property
    def cautions(self) -> tuple[str, ...]:
        """The cautions that bear on what is added, and on the card that is sprayed of it."""
        return each_once((*self.corrected.cautions, *SPRAYING))

    def as_dict(self) -> dict[str, Any]:
        """Return the JSON object: that of `correct`, with the verdict on the card."""
        verdict = self.verdict
        return {
            "verdict": "within" if verdict.within else "outside",
            "de00": verdict.de00,
            "difference": verdict.lights,
            "words": list(verdict.words),
            "tolerance": verdict.tolerance,
            "u95": verdict.u95,
            "correction": self.corrected.as_dict(),
            "recorded": list(self.recorded),
        }


def judge_card(
    card: ReadingLike | SeenCard | None,
    request: CorrectRequest = USUAL,
    *,
    job: str,
    progress: Progress = quiet,
) -> Judged:
    """Record a card of what is in the tin, hold it against the job's target, and find what to add.

    Parameters
    ----------
    card : ReadingLike, SeenCard or None
        As it was read, or seen beside its standard; None judges the job's last spray-out again.
    request : CorrectRequest
    job : str
        Whose target, bank and batch it is judged by.
    progress : Progress

    Raises
    ------
    InputError
        The job lacks a target, a bank or a batch; a card that can't be of the batch. Nothing is recorded then.
    """
    return Judged(correct(None, None, None, card, request, job=job, progress=progress))
