"""The cautions of the trade, each shown where the work it bears on is shown («common practice»)."""

from __future__ import annotations

from collections.abc import Iterable

DEFER = "The product's data sheet, local air and waste rules and licensed practice come before anything said here."
ISOCYANATES = "Two-pack paints carry isocyanates: spray them only with air-fed breathing protection in a proper booth."
SOLVENTS = "Solvents and their vapour burn and intoxicate: ventilate, keep sparks and flames away, wear gloves."
OLD_PAINT = "Period paint may hold lead or chromate: test before sanding, and never dry-sand it unprotected."
DUST = "Sanding dust harms the lungs and can burn: wet-sand or extract, and wear a fitted mask."
WIPES = "Cloths wet with solvent or oil may catch fire by themselves: spread them out to dry, or lid them in metal."
HOT_WORK = "Heat guns, torches, sparks: old paint fumes lead and burns. None near solvents; an extinguisher at hand."
TOXIC = (
    "A tint here holds pigment that poisons (lead, chromate, cadmium or the like): keep its dust and mist out of lungs "
    "and off skin, wash before eating, and collect the waste apart."
)

_METALS = ("lead", "chromate", "cadmium", "mercury", "arsenic", "antimony")

MIXING = (SOLVENTS, DEFER)
SPRAYING = (ISOCYANATES, SOLVENTS, DEFER)
SANDING = (OLD_PAINT, DUST, DEFER)
REWORK = (OLD_PAINT, DUST, HOT_WORK, ISOCYANATES, SOLVENTS, WIPES, DEFER)


def mixing_cautions(hazards: Iterable[str]) -> tuple[str, ...]:
    """Return the cautions of mixing tints that hold what is named, such as "lead" or "isocyanate"."""
    words = " ".join(hazards).lower()
    toxic = (TOXIC,) if any(metal in words for metal in _METALS) else ()
    return (*toxic, *((ISOCYANATES,) if "isocyanate" in words else ()), *MIXING)
