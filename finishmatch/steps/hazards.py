"""What harms in the tins that are handled, and the cautions that bear on it."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from typing import Any

from finishmatch.cautions import mixing_cautions
from finishmatch.finish.metals import common_metal_rules, metal_rulings
from finishmatch.optics import Tint
from finishmatch.readings.ghs import ghs_said, on_the_tin


def hazard_line(tint: Tint) -> str:
    """Return what harms in a tin, and by what it is known, in one line."""
    by = "by tints.csv" if tint.hazards_by == "tints.csv" else f"as {tint.hazards_by} usually does"
    wins = "" if tint.hazards_by == "tints.csv" else "; the tin's data sheet wins"
    held, ghs = on_the_tin(tint.hazards)
    says = f"its tin says {ghs_said(ghs)}"
    if not held:
        return f"{tint.name}: {says} ({by})"
    holds = f"{tint.name} holds {', '.join(held)} ({by}{wins})"
    return f"{holds}; {says}" if ghs else holds


def harmful(names: Iterable[str], tints: Sequence[Tint]) -> tuple[Tint, ...]:
    """Return those of some tints that hold what harms, each once, in the order named; names not known pass."""
    bank = {tint.name: tint for tint in tints}
    return tuple(bank[name] for name in dict.fromkeys(names) if name in bank and bank[name].hazards)


def hazards_document(tints: Iterable[Tint]) -> list[dict[str, Any]]:
    """Return what harms in some tints in its JSON form."""
    return [{"tint": tint.name, "hazards": list(tint.hazards), "by": tint.hazards_by} for tint in tints]


def cautions_for(names: Iterable[str], tints: Sequence[Tint]) -> tuple[str, ...]:
    """Return the cautions that bear on handling some tints."""
    return mixing_cautions(word for tint in harmful(names, tints) for word in tint.hazards)


def cautions_by(tints: Sequence[Tint]) -> Callable[[Iterable[str]], tuple[str, ...]]:
    """Return what gives the cautions that bear on handling tints of a bank, by name; names it doesn't know pass."""
    return lambda names: cautions_for(names, tints)


def parts_document(parts: Iterable[tuple[str, float]]) -> list[dict[str, Any]]:
    """Return grams by tint in their JSON form."""
    return [{"tint": tint, "grams": grams} for tint, grams in parts]


def metal_notes(names: Iterable[str], tints: Sequence[Tint]) -> tuple[str, ...]:
    """Return what the laws known say of the toxic metals in some tints, wherever they hold."""
    holders = [(tint.name, tint.hazards) for tint in harmful(names, tints)]
    return tuple(f"by law: {ruling.in_words}" for ruling in metal_rulings(holders, common_metal_rules()))
