"""A card as a panel of its bank: how surely it was read, and what else may have moved its reading."""

from __future__ import annotations

import numpy as np

from finishmatch.colour import Floats
from finishmatch.colour.gloss import covariance_through, lab_without_gloss
from finishmatch.colour.local_metric import WITHIN_95
from finishmatch.correct.card_strengths import coloured_parts
from finishmatch.correct.seen_tin import CARD_SD_LAB
from finishmatch.errors import InputError
from finishmatch.evidence import common_catalogue, shared_with_next
from finishmatch.mix.weighing import POUR_SD_STEPS, Scale
from finishmatch.optics import Tint, TintOptics, predicted_reflectance
from finishmatch.optics.bank import SeenColour
from finishmatch.optics.card_rows import CARD_NOISE_SD, CardPanel
from finishmatch.optics.panel_set import REPEATABILITY_SD
from finishmatch.optics.seen_panels import NO_SPECTRUM_SD, stand_in
from finishmatch.readings import Reading
from finishmatch.readings.reading import TargetFacts

STANDARD_SD_LAB = 0.3  # no colour is known better, whatever was said of it («common practice»: instruments differ so)


def card_panel(
    optics: TintOptics,
    tints: tuple[Tint, ...],
    batch: tuple[tuple[str, float], ...],
    sprayed: Reading,
    scale: Scale,
    doubts: tuple[Floats, ...] = (),
    mean_of: int = 1,
) -> CardPanel:
    """Return a card as a panel, its tins named as its tints and its mixture not named yet.

    Parameters
    ----------
    optics : TintOptics
        Of the usable tints of the bank, as their film was sprayed.
    tints : tuple of Tint
        The bank's.
    batch : tuple of (tint, grams)
        As poured.
    sprayed : Reading
        Its spectrum, as the bank's instrument would have read it.
    scale : Scale
        It was poured on.
    doubts : tuple of ndarray, shape (31,)
        What may also have moved the reading, each at all wavelengths together, by one standard deviation.
    mean_of : int
        How many readings a single one is the mean of.

    Raises
    ------
    InputError
        A tint of the batch that isn't among the usable ones, a batch without colour, a card known as CIELAB alone.
    """
    if sprayed.reflectance is None:
        raise InputError(sprayed.name, "is known as Lab only, which is no panel", "measure its spectrum")
    poured, _ = coloured_parts(optics, tints, batch)
    count = len(sprayed.repeats) * mean_of
    seen = float(sprayed.repeats.var(axis=0, ddof=1).mean()) if len(sprayed.repeats) > 1 else 0.0
    variance = np.full(sprayed.reflectance.shape, max(REPEATABILITY_SD**2, seen) / count + CARD_NOISE_SD**2)
    for doubt in doubts if sprayed.conversion_sd is None else (*doubts, sprayed.conversion_sd):
        # it moves all wavelengths together: as much is left of the reading as if it were one of them alone
        variance = variance + doubt.size * doubt**2
    names = tuple(poured)
    return CardPanel(
        names,
        names,
        "",
        np.array(list(poured.values())),
        sprayed.reflectance,
        np.sqrt(variance),
        POUR_SD_STEPS * scale.step_g,
        optics.backing,
    )


def seen_card_panel(
    optics: TintOptics,
    tints: tuple[Tint, ...],
    batch: tuple[tuple[str, float], ...],
    trial: Reading,
    scale: Scale,
    job: str,
) -> CardPanel | None:
    """Return a card that was seen beside its standard as a panel; None where that is no colour in daylight.

    Its colour is the standard's and the difference. What isn't known of the standard is the same in all cards that were
    seen beside it, as what a picture is off by is in all its panels. Of cards that were photographed by themselves it
    is what the photographs of the job are off by.

    Parameters
    ----------
    optics, tints, batch, scale
        As for `card_panel`.
    trial : Reading
        With its differences, as the bank's instrument would tell them.
    job : str
        That the standard is of.

    Raises
    ------
    InputError
        A tint of the batch that isn't among the usable ones, a batch without colour.
    """
    one = next((one for one in trial.seen if (one.light, one.observer) == ("D65", 10)), None)
    if one is None or one.standard is None or one.covariance is None or one.standard_covariance is None:
        return None
    poured, _ = coloured_parts(optics, tints, batch)
    gloss = optics.surface.k1 if optics.surface.specular else 0.0

    def without_gloss(lab: Floats) -> Floats:
        return lab_without_gloss(lab, gloss, "D65", 10)

    lab, standard = one.standard + one.delta, f"standard of {job}: {np.round(one.standard, 2).tolist()}"
    own, shared = one.covariance, one.standard_covariance
    if one.by_itself is not None:
        standard = f"photographs of {job}"
        own, shared = _by_camera(own + shared, one.by_itself)
    own = own + CARD_SD_LAB**2 * np.eye(3)
    shared = shared + STANDARD_SD_LAB**2 * np.eye(3)
    own, shared = covariance_through(without_gloss, lab, own, shared)
    seen = SeenColour(without_gloss(lab), own, standard, shared)
    reading = stand_in(seen, optics.surface)
    names, step = tuple(poured), POUR_SD_STEPS * scale.step_g
    sd = np.full(reading.shape, NO_SPECTRUM_SD)
    return CardPanel(names, names, "", np.array(list(poured.values())), reading, sd, step, optics.backing, seen)


def _by_camera(known: Floats, facts: TargetFacts) -> tuple[Floats, Floats]:
    """Return what of a card that was photographed by itself is its own, and what the next photograph is off by as well.

    `known` is the covariance of its CIELAB; whatever it was held against is no part of that.
    """
    whole = ((facts.u95 or 0.0) / WITHIN_95) ** 2
    share = shared_with_next(facts, common_catalogue().settings.same_camera) / whole if whole else 0.0
    return (1 - share) * known, share * known


def doubt_between(one: TintOptics, other: TintOptics, sds: float, batch: tuple[tuple[str, float], ...]) -> Floats:
    """Return by how much a reading would be another if its film were another, one standard deviation, shape (31,).

    Parameters
    ----------
    one, other : TintOptics
        Of two films that it may have been.
    sds : float
        How many standard deviations separate them.
    batch : tuple of (tint, grams)
        Of tints that are known.
    """
    grams = np.zeros(len(one.names))
    for name, weight in batch:
        if name in one.names:
            grams[one.index(name)] += weight
    doubt: Floats = (predicted_reflectance(one, grams) - predicted_reflectance(other, grams)) / sds
    return doubt
