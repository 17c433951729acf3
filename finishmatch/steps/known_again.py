"""Cards and letdowns that were met already, known again however many there are."""

from __future__ import annotations

from finishmatch.ledger import SprayOutEntry, StrengthEntry, known_again_by, same_letdown, same_reading


class KnownAgain:
    """What was met so far, each as a card or, where it has none, as the strength that a letdown showed."""

    def __init__(self, first: SprayOutEntry | StrengthEntry | None = None) -> None:
        self._cards: dict[object, list[SprayOutEntry]] = {}
        self._letdowns: list[StrengthEntry] = []
        if isinstance(first, SprayOutEntry):
            self.add(first, None)
        else:
            self.add(None, first)

    def add(self, card: SprayOutEntry | None, letdown: StrengthEntry | None) -> None:
        """Keep one more."""
        if card is not None:
            for by in known_again_by(card):
                self._cards.setdefault(by, []).append(card)
        elif letdown is not None:
            self._letdowns.append(letdown)

    def has(self, card: SprayOutEntry | None, letdown: StrengthEntry | None) -> bool:
        """Return whether one of them is of the same reading, photograph or letdown."""
        if card is not None:
            like = (other for by in known_again_by(card) for other in self._cards.get(by, ()))
            if any(same_reading(card, other) for other in like):
                return True
        return letdown is not None and any(same_letdown(letdown, other) for other in self._letdowns)
