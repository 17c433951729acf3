"""A card too thin to hide: what its ground does to it is no colour of the paint; it is brought to a film that hides."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from finishmatch.colour import Floats, de00, reflectance_to_lab
from finishmatch.correct.blunders import SprayedCard
from finishmatch.correct.card_strengths import card_strengths
from finishmatch.ledger import SprayOutEntry
from finishmatch.mix.hiding_build import THICKEST_UM, darkest_and_lightest, hiding_build_um, seen_de00
from finishmatch.optics import TintOptics, predicted_reflectance
from finishmatch.readings import Reading
from finishmatch.steps.bank import FittedBank, grounds_in_contact
from finishmatch.steps.matching import Parts

_SDS = 1.96  # 95 times in 100
_OWN = 0.2  # of how far a card is brought, what the film model leaves open of that: tests/steps/test_ground_shows.py


@dataclass(frozen=True)
class ShownGround:
    """A card, and what it would read if it hid.

    Parameters
    ----------
    reading : Reading or None
        What is to be added is worked out by it; None is the card as it was read.
    warnings : tuple of str
    u95 : float
        ΔE00 within which it is known what it would read, 95 times in 100, by its ground alone; 0 where it hides.
    """

    reading: Reading | None = None
    warnings: tuple[str, ...] = ()
    u95: float = 0.0


def ground_shows(fitted: FittedBank, poured: Parts, card: SprayOutEntry, sprayed: SprayedCard) -> ShownGround:
    """Return what a card of a known build would read if it hid, and a warning where it doesn't.

    Parameters
    ----------
    fitted : FittedBank
        Where it knows no films of a build, nothing can be said.
    poured : tuple of (tint, grams)
        What was sprayed.
    card : SprayOutEntry
        How it was sprayed.
    sprayed : SprayedCard
        Its reading, and its film.

    Raises
    ------
    InputError
        A batch without colour.

    Notes
    -----
    What is to be added is worked out for a film that hides: colour that shines through from below would be answered by
    a tint, and be wrong over another ground or in a thicker film. The strengths of the tins are found from the card as
    the film that it is; what the model has for a film that hides, over what it has for this one, brings the reading
    there, so that what separates reading and model stays. Only a spectrum over a ground of the bank is brought so.
    """
    reading, thin_film = sprayed.reading, _thin_film(fitted, poured, card.build_um)
    if thin_film is None:
        return ShownGround()
    build_um, grams, hides = thin_film
    grounds = grounds_in_contact(fitted.bank)
    apart = seen_de00(fitted.usable_optics, grams, build_um, *darkest_and_lightest(grounds))
    needed = f"from {hides:.0f} µm" if hides is not None else f"not even at {THICKEST_UM:.0f} µm"
    thin = (
        f"the card is {build_um:g} µm thick, and this paint hides {needed}: its ground shows through (black and white "
        f"differ by ΔE00 {apart:.1f} at that build), and no tint mends that; what is to be added is worked out "
    )
    surer = "spray a card that hides, or one as the vehicle will be, of its build and over its ground"
    known = card.ground.strip().casefold() in {name.casefold() for name, _ in grounds}
    if not known or reading.seen or reading.reflectance is None:
        return ShownGround(None, (f"{thin}as if it hid: {surer}",), apart)
    at_hiding, off, u95 = _at_hiding(sprayed, poured)
    by_model = f"by what it would read if it hid, by the film model: ΔE00 {off:.1f} from what was read, known to "
    return ShownGround(at_hiding, (f"{thin}{by_model}±{u95:.1f}; it is surer to {surer}",), u95)


def film_hides(fitted: FittedBank, poured: Parts, build_um: float | None) -> bool:
    """Tell whether a film of a batch hides at a build, µm; so it does where nothing can be said."""
    return _thin_film(fitted, poured, build_um) is None


def _thin_film(fitted: FittedBank, poured: Parts, build_um: float | None) -> tuple[float, Floats, float | None] | None:
    """Return the build of a film that doesn't hide, the grams of its tints, (n,), and from what build it would.

    None where it hides, or nothing can be said.
    """
    optics = fitted.usable_optics
    if build_um is None or build_um <= 0 or not optics.per_um or any(tint not in optics.names for tint, _ in poured):
        return None
    grams = np.zeros(len(optics.names))
    for tint, weight in poured:
        grams[optics.names.index(tint)] += weight
    if not grams.any():
        return None
    hides = hiding_build_um(optics, grams, grounds_in_contact(fitted.bank))
    return None if hides is not None and build_um >= hides else (build_um, grams, hides)


def _at_hiding(card: SprayedCard, poured: Parts) -> tuple[Reading, float, float]:
    """Return what a card would read if it hid, how far that is from what was read, and what that is known to, ΔE00."""
    read, film = card.reading.reflectance, card.optics
    assert read is not None
    brought = [_ratio(card, poured, film)]
    brought += [_ratio(card, poured, other) for other, *_ in card.alternatives]
    labs = [reflectance_to_lab(read * ratio) for ratio in brought]
    off = float(de00(reflectance_to_lab(read), labs[0]))
    sds = [float(de00(labs[0], lab)) / apart for lab, (*_, apart) in zip(labs[1:], card.alternatives, strict=True)]
    u95 = _SDS * float(np.linalg.norm(sds))
    repeats = np.clip(card.reading.repeats * brought[0], 0, 1)
    return replace(card.reading, repeats=repeats), off, max(u95, _OWN * off)


def _ratio(card: SprayedCard, poured: Parts, film: TintOptics) -> Floats:
    """Return what a film that hides reflects over what a card's does, its tins as strong as the card shows them."""
    found = card_strengths(film, card.tints, poured, card.reading, card.scale, card.prior)
    today = found.optics.strengthened(found.strengths.factors)
    over_ground = predicted_reflectance(today, found.grams)
    ratio: Floats = predicted_reflectance(today.over(None), found.grams) / over_ground
    return ratio
