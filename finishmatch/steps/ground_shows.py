"""A card too thin to hide: what its ground does to it is taken for the paint's colour, and that is said."""

from __future__ import annotations

import numpy as np

from finishmatch.ledger import SprayOutEntry
from finishmatch.mix.hiding_build import THICKEST_UM, darkest_and_lightest, hiding_build_um, seen_de00
from finishmatch.steps.bank import FittedBank, grounds_in_contact
from finishmatch.steps.matching import Parts


def ground_shows(fitted: FittedBank, poured: Parts, card: SprayOutEntry) -> tuple[str, ...]:
    """Return a warning where a card of a known build doesn't hide, or nothing.

    Parameters
    ----------
    fitted : FittedBank
        Where it knows no films of a build, nothing can be said.
    poured : tuple of (tint, grams)
        What was sprayed.
    card : SprayOutEntry

    Notes
    -----
    What is to be added is worked out for a film that hides: colour that shines through from below would be answered by
    a tint, and be wrong over another ground or in a thicker film.
    """
    build_um, optics = card.build_um, fitted.usable_optics
    if build_um is None or build_um <= 0 or not optics.per_um or any(tint not in optics.names for tint, _ in poured):
        return ()
    grams = np.zeros(len(optics.names))
    for tint, weight in poured:
        grams[optics.names.index(tint)] += weight
    if not grams.any():
        return ()
    grounds = grounds_in_contact(fitted.bank)
    hides = hiding_build_um(optics, grams, grounds)
    if hides is not None and build_um >= hides:
        return ()
    apart = seen_de00(optics, grams, build_um, *darkest_and_lightest(grounds))
    needed = f"from {hides:.0f} µm" if hides is not None else f"not even at {THICKEST_UM:.0f} µm"
    return (
        f"the card is {build_um:g} µm thick, and this paint hides {needed}: its ground shows through (black and white "
        f"differ by ΔE00 {apart:.1f} at that build), and no tint mends that; what is to be added is worked out as if "
        "it hid: spray a card that hides, or one as the vehicle will be, of its build and over its ground",
    )
