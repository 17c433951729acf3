"""A trial as it is seen beside its standard: the difference is known, neither colour need be."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from finishmatch.colour import Floats, de00, de00_metric
from finishmatch.colour.gloss import covariance_through, lab_with_gloss, lab_without_gloss
from finishmatch.colour.local_metric import WITHIN_95
from finishmatch.readings.reading import DifferenceByBank, Reading, SeenDifference

MOST_U95 = 5.0  # ΔE00; beyond it nothing is told
USUAL_U95 = 0.5  # ΔE00: what one photograph of a standard and its card, side by side, tells of their difference
_MORE_PICTURES = 4
TOGETHER = "one photograph of the two together"
_INSTRUMENT = ("an instrument that reads both", 0.2)  # ΔE00 («common practice»)


def seen_beside(standard: Reading, seen: Sequence[SeenDifference], name: str, viewing: tuple[str, int]) -> Reading:
    """Return the reading of a trial of which only the difference from its standard is known.

    Parameters
    ----------
    standard : Reading
    seen : sequence of SeenDifference
        In each light once; the first is in one that the standard is known in.
    name : str
        Of the trial.
    viewing : (str, int)
        Light and observer of a difference that names none.
    """
    own = viewing if standard.is_spectral else (standard.light, standard.observer)
    placed = tuple(_placed(standard, one, own) for one in seen)
    first = placed[0]
    about = standard.lab_in(*own) if first.standard is None else first.standard
    return Reading(name, (about + first.delta)[None], first.light, first.observer, seen=placed)


def moved_with_standard(trial: Reading, moved: Floats) -> Reading:
    """Return a trial that cameras saw, moved as its standard is: CIELAB, shape (3,), in the light of the trial."""
    seen = tuple(
        replace(one, moved=None, standard=None if one.standard is None else one.standard + moved)
        if (one.light, one.observer) == (trial.light, trial.observer)
        else one
        for one in trial.seen
    )
    return replace(trial, repeats=trial.repeats + moved, seen=seen)


def to_be_moved(trial: Reading, moved: Floats | None) -> Reading:
    """Return a trial as it was seen, which knows by how much its standard is moved."""
    seen = tuple(
        replace(one, moved=moved if (one.light, one.observer) == (trial.light, trial.observer) else None)
        for one in trial.seen
    )
    return replace(trial, seen=seen)


def as_moved(trial: Reading) -> Reading:
    """Return a trial with the standard where the bank has it, where that is known of it."""
    moved = next((one.moved for one in trial.seen if one.moved is not None), None)
    return trial if moved is None else moved_with_standard(trial, moved)


def told_by_bank(trial: Reading) -> Reading:
    """Return a trial with the differences from its standard as a bank has them, where that is known of it."""
    if all(one.by_bank is None for one in trial.seen):
        return trial
    seen = tuple(one if one.by_bank is None else _by_bank(one, one.by_bank) for one in trial.seen)
    return replace(trial, repeats=trial.repeats + seen[0].delta - trial.seen[0].delta, seen=seen)


def _by_bank(one: SeenDifference, by: DifferenceByBank) -> SeenDifference:
    """Return a difference as a bank has it. More photographs in its light leave the same open."""
    return replace(
        one,
        delta=by.delta,
        covariance=by.covariance,
        u95=by.u95,
        u95_more=by.u95,
        by_bank=None,
        alone_u95=told_apart_from(one),
    )


def with_gloss(one: SeenDifference, surface: float) -> SeenDifference:
    """Return a placed difference as an instrument sees it that counts the gloss, where it was seen without it.

    Parameters
    ----------
    one : SeenDifference
        As `seen_beside` places it.
    surface : float
        Share of the light that the surface throws back: ((n - 1) / (n + 1))² (Fresnel).

    Notes
    -----
    The gloss adds the same light to both. On dark colours it makes much of a difference less.
    """
    if one.standard is None or one.covariance is None:
        return one
    lab = one.standard
    without = lab_without_gloss(lab, surface, one.light, one.observer)

    def seen_with(delta: Floats) -> Floats:
        return lab_with_gloss(without + delta, surface, one.light, one.observer) - lab

    delta = seen_with(one.delta)
    (covariance,) = covariance_through(seen_with, one.delta, one.covariance)
    narrowed = _u95(covariance, lab) / _u95(one.covariance, lab)
    more, alike = (None if u95 is None else u95 * narrowed for u95 in (one.u95_more, one.alike_u95))
    u95 = one.u95 * narrowed
    return replace(one, delta=delta, covariance=covariance, u95=u95, u95_more=more, alike_u95=alike, geometry="")


def reading_with_gloss(reading: Reading, surface: float) -> Reading:
    """Return a colour as an instrument sees it that counts the gloss, where only its CIELAB without it is known.

    Parameters
    ----------
    reading : Reading
    surface : float
        As of `with_gloss`.
    """

    def seen(lab: Floats) -> Floats:
        return lab_with_gloss(lab, surface, reading.light, reading.observer)

    facts, lab = reading.target, reading.lab_in(reading.light, reading.observer)
    if facts is not None:
        before = covariance_within(facts.u95 or 0.0, lab) if facts.covariance is None else facts.covariance
        (after,) = covariance_through(seen, lab, before)
        narrowed = _u95(after, seen(lab)) / max(_u95(before, lab), 1e-9)
        u95, own = facts.u95 and facts.u95 * narrowed, facts.u95_own and facts.u95_own * narrowed
        facts = replace(facts, u95=u95, u95_own=own, covariance=None if facts.covariance is None else after)
    return replace(reading, repeats=seen(reading.repeats), target=facts)


def _u95(covariance: Floats, lab: Floats) -> float:
    metric = de00_metric(lab)
    return float(np.sqrt(np.trace(metric @ covariance @ metric.T)))


def _placed(standard: Reading, one: SeenDifference, own: tuple[str, int]) -> SeenDifference:
    """Return a difference with what is known of its standard in its light, and its covariance."""
    light, observer = (one.light, one.observer) if one.light else own
    known = standard.is_spectral or (light, observer) == (standard.light, standard.observer)
    about = standard.lab_in(*((light, observer) if known else (standard.light, standard.observer)))
    return replace(
        one,
        light=light,
        observer=observer,
        covariance=covariance_within(one.u95, about) if one.covariance is None else one.covariance,
        standard=about if known else None,
        standard_covariance=one.standard_covariance
        if one.by_itself is not None
        else _known_to(standard, about)
        if known
        else None,
    )


def _known_to(standard: Reading, lab: Floats) -> Floats:
    """Return how well the standard's own colour is known, the covariance of its CIELAB, shape (3, 3)."""
    facts = standard.target
    if facts is not None and facts.covariance is not None:
        return np.asarray(facts.covariance)
    return covariance_within(0.0 if facts is None else facts.u95 or 0.0, lab)


def covariance_within(u95: float, lab: Floats) -> Floats:
    """Return the covariance of CIELAB, shape (3, 3), of what lies within a ΔE00 of a colour 95 times in 100."""
    per_axis = u95 / WITHIN_95 * np.linalg.inv(de00_metric(lab))
    return np.asarray(per_axis @ per_axis.T)


def seen_de00(trial: Reading) -> dict[str, float]:
    """Return ΔE00 in each light a trial was seen in beside its standard.

    Where the standard isn't known in a light, its colour in that of the trial is near enough for the measure.
    """
    about = np.asarray(trial.lab) - trial.seen[0].delta
    found = {}
    for one in trial.seen:
        standard = about if one.standard is None else one.standard
        found[one.light] = float(de00(standard, standard + one.delta))
    return found


def told_apart_from(one: SeenDifference) -> float:
    """Return the ΔE00 from which a difference is told from none: what it is known within.

    What pictures in several lights, or a bank, leave open of other pigments is the same in the next ones, so it is no
    noise to be chased: what they would tell of the same pigments counts there.
    """
    return min(u95 for u95 in (one.u95, one.alike_u95, one.alone_u95) if u95 is not None)


def as_near_as_told(trial: Reading) -> bool:
    """Return whether the differences of a trial aren't told from none, in each light."""
    seen = seen_de00(trial)
    return all(seen[one.light] <= told_apart_from(one) for one in trial.seen)


def by_itself(trial: Reading) -> bool:
    """Return whether a trial's own colour was photographed, apart from its standard or not, and what is seen of their
    difference follows from that.
    """
    return any(one.by_itself is not None for one in trial.seen)


def known_within(trial: Reading) -> float:
    """Return the ΔE00 within which the differences of a trial are known 95 times in 100, in the light least well."""
    return max(one.u95 for one in trial.seen)


def of_one_light(seen: Sequence[SeenDifference]) -> bool:
    """Return whether photographs tell a difference that don't show how unlike the pigments of the two are."""
    together = [one for one in seen if one.by_itself is None]
    return any(one.pictures for one in together) and not any(one.across_lights for one in together)


def what_sees_nearer(trial: Reading) -> tuple[str, ...]:
    """Return what would tell the difference better than it was seen, each in a few words."""
    worst = max(trial.seen, key=lambda one: one.u95)
    more = worst.u95 if worst.u95_more is None else worst.u95_more
    if worst.by_itself is not None:
        return tuple(f"{what}: about ±{u95:.2g}" for what, u95 in ((TOGETHER, float(more)), _INSTRUMENT))
    found = [(f"{_MORE_PICTURES * max(worst.pictures, 1)} photographs combined", float(more)), _INSTRUMENT]
    return tuple(f"{what}: about ±{u95:.2g}" for what, u95 in found if u95 < 0.9 * worst.u95)
