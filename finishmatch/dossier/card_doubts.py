"""How surely the cards of a job are known: what stands beside a difference that was seen, and how it was seen."""

from __future__ import annotations

from finishmatch.colour.told_within import told_by_doubt, told_within
from finishmatch.ledger import SprayOutEntry, VerdictEntry
from finishmatch.steps.handover.kept_job import KeptJob
from finishmatch.steps.seen_kept import known_within_by_light, told_from

SEEN = (
    "With ± behind a difference: what it is known within 95 times in 100, as card and standard were seen. It may be as "
    "much less, or more."
)


def judged_by_doubt(kept: KeptJob, verdict: VerdictEntry) -> bool:
    """Whether a card was judged by what a difference that was seen is known within, and not by a tolerance."""
    card = card_of(kept, verdict)
    return card is not None and told_by_doubt(verdict.tolerance, told_from(card.seen))


def card_of(kept: KeptJob, verdict: VerdictEntry) -> SprayOutEntry | None:
    """Return the card that was judged; None where two colours were compared."""
    return next((entry for view, entry in kept.all(SprayOutEntry) if view.number == verdict.spray_out), None)


def known_to(kept: KeptJob, verdict: VerdictEntry) -> dict[str, float]:
    """Return the ΔE00 that a difference is known within by light; of a card that an instrument read, none."""
    card = card_of(kept, verdict)
    if card is not None and card.seen:
        return known_within_by_light(card.seen)
    return {} if verdict.u95 is None else dict.fromkeys(verdict.lights, verdict.u95)


def with_doubt(de00: float, known: float | None) -> str:
    """Return a difference with what it is known within, where that is said: "0.39 ±0.7"."""
    return f"{de00:.2f}" + ("" if known is None else f"\N{NO-BREAK SPACE}±{told_within(known):g}")


def how_known(card: SprayOutEntry | None) -> str:
    """Return how a card was held against its standard, as it is said of "a card that was sprayed and …"."""
    if card is None or not card.seen:
        return "read"
    if any(one.get("own_colour") for one in card.seen):
        return "photographed, by itself,"
    if any(one.get("pictures") for one in card.seen):
        return "seen beside it in photographs"
    return "seen beside it"
