"""A card that was seen beside its standard: as it was told, and with the standard as it is known."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np

from finishmatch.colour import de00, light_name
from finishmatch.colour.gloss import lab_with_gloss
from finishmatch.errors import InputError
from finishmatch.optics.surface import fresnel_normal
from finishmatch.readings import Reading
from finishmatch.readings.geometry_names import WITH_GLOSS
from finishmatch.readings.lab_text import meant_difference
from finishmatch.readings.reading import SeenDifference
from finishmatch.readings.seen import (
    MOST_U95,
    USUAL_U95,
    as_near_as_told,
    by_itself,
    known_within,
    of_one_light,
    seen_beside,
    seen_de00,
    told_apart_from,
    told_by_bank,
    what_sees_nearer,
    with_gloss,
)
from finishmatch.steps.colour_inputs import Viewing

MOST_DIFFERENCE = 20.0  # ΔE*ab; what is further apart isn't told by its difference
# ΔE00 beyond what both are known to: no camera, place or age of one piece explains it («common practice»)
OTHER_PIECE = 8.0
# measured on rendered photographs of real washes beside other tints (benchmarks/test_two_lights.py)
ONE_LIGHT = (
    "in one light a camera can't tell whether card and standard are of the same pigments; where they aren't, it sees "
    "their difference wrong by ΔE00 1, at times by 3. Your eye sees that: look at the two edge to edge in daylight; if "
    "they differ otherwise than is told here, photograph them beside a chart under a tungsten or LED lamp too"
)
EXCHANGED = 2.0  # ΔE00; what a standard may well be off by, as its target was taken («common practice»)


@dataclass(frozen=True)
class SeenCard:
    """A card of which the difference from its standard was seen.

    Parameters
    ----------
    seen : tuple of SeenDifference
        In each light.
    name : str
    sources : tuple of Path
        The photographs.
    warnings : tuple of str
    pair : (Reading, Reading) or None
        Standard and card by themselves, as far as the photographs of the first light tell them; None where it was told.
    """

    seen: tuple[SeenDifference, ...]
    name: str = "spray-out"
    sources: tuple[Path, ...] = ()
    warnings: tuple[str, ...] = ()
    pair: tuple[Reading, Reading] | None = None

    def beside(self, standard: Reading, viewing: tuple[str, int], wanted: Viewing | None = None) -> Reading:
        """Return its reading, beside a standard.

        Parameters
        ----------
        standard : Reading
        viewing : (str, int)
            Light and observer of a difference that names none.
        wanted : Viewing or None
            How the bank was read: what was seen without the gloss is brought to it.
        """
        found = seen_beside(standard, self.seen, self.name, viewing)
        if wanted is not None and wanted.geometry in WITH_GLOSS:
            surface = fresnel_normal(wanted.binder_index)
            seen = tuple(with_gloss(one, surface) if one.geometry else one for one in found.seen)
            lab = np.asarray(found.lab) - found.seen[0].delta + seen[0].delta
            found = replace(found, seen=seen, repeats=lab[None])
        return replace(found, warnings=self.warnings)


def told_difference(
    difference: str | Sequence[float], u95: float | None = None, light: str = "", observer: int = 10
) -> SeenCard:
    """Return a card of which somebody says how it differs from its standard.

    Parameters
    ----------
    difference : str or sequence of float
        ΔL*, Δa*, Δb*, trial minus standard.
    u95 : float or None
        ΔE00 within which that is known 95 times in 100; None is what one photograph tells (`USUAL_U95`).
    light : str
        Under which it was seen; "" is that of the target.
    observer : int

    Raises
    ------
    InputError
    """
    delta = meant_difference(difference) if isinstance(difference, str) else [float(value) for value in difference]
    if len(delta) != 3 or not all(map(math.isfinite, delta)):
        raise InputError("`difference`", "is not three numbers", "give dL,da,db, trial minus standard")
    far = math.hypot(*delta)
    if far > MOST_DIFFERENCE:
        mend = "give trial minus standard as dL,da,db, not a colour"
        raise InputError("`difference`", f"ΔE*ab {far:.0f} is no difference of a card from its standard", mend)
    if u95 is not None and not (math.isfinite(u95) and 0 < u95 <= MOST_U95):
        raise InputError("`u95`", f"{u95:g} is not how well a difference is known", "give a ΔE00 above 0, 5 at most")
    known = USUAL_U95 if u95 is None else u95
    said = f"how well the difference is known wasn't said: ±{USUAL_U95:g} is taken, as one photograph tells it"
    one = SeenDifference(np.array(delta), known, light and light_name(light), observer)
    return SeenCard((one,), warnings=(said,) if u95 is None else ())


def refuse_other_piece(
    card: object,
    target: Reading,
    binder_index: float,
    anyway: bool,
    called: str = "the target",
    trial: str = "the card",
    *,
    exchanged: bool = True,
) -> tuple[str, ...]:
    """See that the standard in the photographs can be the target; a warning where it looks like another, or exchanged.

    Parameters
    ----------
    card : SeenCard, or whatever a card is known by
        Of one that no photograph shows nothing is asked.
    target : Reading
        As it was given.
    binder_index : float
        Of the bank: a target may be known with the gloss, which a photograph doesn't see.
    anyway : bool
        Take it as it is, with a warning.
    called : str
        What the target is.
    trial : str
        What lies beside it.
    exchanged : bool
        Whether the two may be, by what else is known of them.

    Raises
    ------
    InputError
        It is another colour: a card of another job, say.
    """
    if not isinstance(card, SeenCard) or card.pair is None:
        return ()
    light, observer = card.pair[0].light, card.pair[0].observer
    if not target.is_spectral and (light, observer) != (target.light, target.observer):
        return ()
    apart, trial_apart = (off_target(one, target, binder_index) for one in card.pair)
    known = sum(one.target.u95 or 0.0 for one in (card.pair[0], target) if one.target is not None)
    names = ", ".join(path.name for path in card.sources)
    if apart > OTHER_PIECE + known:
        what = f"shows a standard that is ΔE00 {apart:.0f} from {called}, {target.name}: it is another piece"
        if not anyway:
            mend = "photograph the card beside what it is to match; with `anyway` it is taken as it is"
            raise InputError(names, what, mend)
        return (f"{names}: {what}; it is taken as it is",)
    if exchanged and apart > EXCHANGED and trial_apart < apart / 2:
        return (
            f"{names}: {trial} lies nearer {called} (ΔE00 {trial_apart:.1f}) than the standard does ({apart:.1f}): "
            f"are the two exchanged? Then what is found by it is wrong: strike {trial}, and photograph the two anew",
        )
    if apart > (known or EXCHANGED):
        piece = "the piece to be matched" if called == "the target" else called
        return (
            f"{names}: the standard in it is ΔE00 {apart:.1f} from {called}, {target.name}, "
            f"more than the two are known to (±{known or EXCHANGED:.1f} together): is it {piece}?",
        )
    return ()


def off_target(one: Reading, target: Reading, binder_index: float) -> float:
    """Return how far what a camera saw lies from a target, ΔE00; with gloss too, unless it was read without it."""
    light, observer = one.light, one.observer
    lab, seen = target.lab_in(light, observer), one.lab_in(light, observer)
    plain = float(de00(lab, seen))
    if target.geometry and target.geometry not in WITH_GLOSS:
        return plain
    return min(plain, float(de00(lab, lab_with_gloss(seen, fresnel_normal(binder_index), light, observer))))


def seen_card_of(sprayed: Any) -> SeenCard | None:
    """Return what was seen, where a spray-out is known by that."""
    if isinstance(sprayed, SeenCard):
        return sprayed
    if isinstance(sprayed, Reading) and sprayed.seen and not by_itself(sprayed):  # else it is a colour of its own
        return SeenCard(sprayed.seen, sprayed.name, warnings=sprayed.warnings)
    return None


def seen_document(trial: Reading) -> dict[str, Any] | None:
    """Return the JSON form of what was seen of a trial; None where it was read by itself.

    As the bank has it, where that tells more, with what the photographs by themselves tell.
    """
    if not trial.seen:
        return None
    as_seen, alone, trial = trial.seen, seen_de00(trial), told_by_bank(trial)
    de00 = seen_de00(trial)
    return {
        "differences": [
            {
                "light": one.light,
                "observer": one.observer,
                "difference": one.delta.tolist(),
                "de00": de00[one.light],
                "u95": one.u95,
                "photographs": one.pictures,
                "told_from": told_apart_from(one),
                "across_lights": one.across_lights,
                "by_itself": one.by_itself is not None,
                "photographs_alone": None
                if before.by_bank is None
                else {"difference": before.delta.tolist(), "de00": alone[one.light], "u95": before.u95},
            }
            for one, before in zip(trial.seen, as_seen, strict=True)
        ],
        "known_within": known_within(trial),
        "pigments_not_compared": of_one_light(trial.seen),
        "as_near_as_can_be_told": as_near_as_told(trial),
        "sees_nearer": list(what_sees_nearer(trial)),
    }
