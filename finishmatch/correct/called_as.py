"""What a card and its batch are called where they can't be what they say: a spray-out, or a letdown of a new tin."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass


@dataclass(frozen=True)
class CalledAs:
    """What a card and its batch are called: the card, its batch, the batch as written, how it is checked and mended."""

    card: str
    batch: str
    written: str
    check: str
    mended: str = ""
    exchanged: str = ""

    def mend(self, kind: str, mends: Sequence[str]) -> str:
        """Return how slips of a kind are mended, from how each is."""
        if kind == "exchanged" and self.exchanged:
            return self.exchanged
        return " or ".join(mends) + self.mended


CARD = CalledAs(
    "the spray-out",
    "this batch",
    "the batch as written",
    "check that it is the card of this batch, and what was poured",
)
LETDOWN = CalledAs(
    "the letdown",
    "what was weighed into it",
    "what was weighed, as written",
    "check that it was drawn as that panel, and what was weighed",
    mended=" with `weighed`",
    exchanged="if so name the panel that it was drawn as",
)
