"""The cautions of the trade, each shown where the work it bears on is shown («common practice»)."""

from __future__ import annotations

import re
from collections.abc import Iterable

DEFER = "The product's data sheet, local air and waste rules and licensed practice come before anything said here."
ISOCYANATES = (
    "Two-pack paints carry isocyanates: spray them only with air-fed breathing protection in a proper booth; the "
    "European Union asks for training besides, since 24 August 2023 (REACH annex XVII, entry 74)."
)
NITROCELLULOSE = (  # 34 Pa. Code 35.92(d)
    "Nitrocellulose overspray heats itself and may catch fire: clean the booth often, and never spray it by turns with "
    "other paint in a booth that wasn't cleaned between."
)
WASH_PRIMER = "Wash primers carry acid and often chromate: air-fed protection, gloves, goggles; never sand them dry."
SOLVENTS = "Solvents and their vapour burn and intoxicate: ventilate, keep sparks and flames away, wear gloves."
OLD_PAINT = "Period paint may hold lead, chromate or cadmium: test before sanding, never dry-sand it unprotected."
OLD_BODY = (
    "Old bodies may hide lead solder in their seams and asbestos in deadeners and linings: neither is ground, sanded "
    "or scraped dry; have asbestos tested and taken out by who is licensed."
)
DUST = "Sanding dust harms the lungs and can burn: wet-sand or extract, and wear a fitted mask."
WIPES = "Cloths wet with solvent or oil may catch fire by themselves: spread them out to dry, or lid them in metal."
HOT_WORK = "Heat guns, torches, sparks: old paint fumes lead and burns. None near solvents; an extinguisher at hand."
TOXIC = (
    "A tint here holds pigment that poisons (lead, cobalt, manganese or the like): keep its dust and mist out of lungs "
    "and off skin, wash before eating, and collect the waste apart."
)
CANCER = (
    "A tint here holds chromate or cadmium, whose dust and mist cause cancer: spray it only with air-fed breathing "
    "protection in a filtered booth, never sand it dry, and let nobody near without protection."
)

HEXAVALENT, TRIVALENT, LEAD, CADMIUM = "hexavalent chromium", "trivalent chromium", "lead", "cadmium"
MANGANESE, NICKEL = "manganese", "nickel"
# a metal, and the words it is known by, with its symbol; symbols that are words too count only by themselves
_METALS = (
    (LEAD, r"\blead\b|\bplumb|\bminium\b|\blitharge\b|\bpb\b"),
    (CADMIUM, r"\bcadmi|\bcd\b"),
    (MANGANESE, r"\bmangan|\bmn\b"),
    (NICKEL, r"\bnickel|^ni\b"),
    ("cobalt", r"\bcobalt|^co$|^co\s?\("),
    ("mercury", r"\bmercur|\bvermilion|\bhg\b"),
    ("arsenic", r"\barsen|\borpiment|^as$|^as\s?\("),
    ("antimony", r"\bantimon|\bsb\b"),
)
_CHROMIUM = re.compile(r"chrom(?!a\b|atic|oph)|\bcr\b|\bcr\s?[(+\dvi]")
_TRIVALENT = re.compile(r"trivalent|\b(?:iii|3)\b|\bcr\s?(?:iii|3)|chrom\w* oxide|viridian")
_ABSENT = re.compile(r"\b\w+(?: \w+)?[\s-]free\b(?! (?:of|from))|\b(?:free of|free from|without|no|non)[\s-].*|\bun\w+")

MIXING = (SOLVENTS, DEFER)
SPRAYING = (ISOCYANATES, NITROCELLULOSE, SOLVENTS, DEFER)
SANDING = (OLD_PAINT, OLD_BODY, DUST, DEFER)
REWORK = (
    *(OLD_PAINT, OLD_BODY, DUST, HOT_WORK, ISOCYANATES, NITROCELLULOSE, WASH_PRIMER),
    *(SOLVENTS, WIPES, DEFER),
)

IN_SHORT = {  # what a caution is called, where it was shown in full before
    OLD_PAINT: "old paint",
    OLD_BODY: "old bodies",
    DUST: "sanding dust",
    HOT_WORK: "hot work",
    TOXIC: "a tint that poisons",
    CANCER: "chromate or cadmium",
    ISOCYANATES: "isocyanates",
    NITROCELLULOSE: "nitrocellulose",
    WASH_PRIMER: "wash primers",
    SOLVENTS: "solvents",
    WIPES: "wet cloths",
    DEFER: "the data sheet comes first",
}


def metals_named(hazards: Iterable[str]) -> tuple[str, ...]:
    """Return the toxic metals that some words name, such as "Pb", "zinc chromate" or "chromium oxide".

    Chromium is taken as hexavalent unless it is called trivalent, or an oxide. What is called absent ("lead-free",
    "no chromate") isn't counted.
    """
    found: list[str] = []
    for word in hazards:
        text = _ABSENT.sub(" ", word.lower()).strip()
        found += [metal for metal, known in _METALS if re.search(known, text)]
        if _CHROMIUM.search(text):
            found.append(TRIVALENT if _TRIVALENT.search(text) else HEXAVALENT)
    return tuple(dict.fromkeys(found))


def each_once(cautions: Iterable[str]) -> tuple[str, ...]:
    """Return each of some cautions once, the one that defers to others last."""
    every = dict.fromkeys(cautions)
    return (*(caution for caution in every if caution != DEFER), *(caution for caution in every if caution == DEFER))


def mixing_cautions(hazards: Iterable[str]) -> tuple[str, ...]:
    """Return the cautions of mixing tints that hold what is named, such as "lead" or "isocyanate"."""
    words = tuple(hazards)
    metals = metals_named(words)
    toxic = (TOXIC,) if metals else ()
    cancer = (CANCER,) if {HEXAVALENT, CADMIUM} & set(metals) else ()
    isocyanates = (ISOCYANATES,) if re.search("isocyanate|euh204", " ".join(words).lower()) else ()
    return (*toxic, *cancer, *isocyanates, *MIXING)
