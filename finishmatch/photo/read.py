"""A photograph is read: chart, correction, samples, and how far each may be off."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from itertools import combinations
from pathlib import Path

import numpy as np

from finishmatch.colour import Floats, de00
from finishmatch.errors import InputError
from finishmatch.one_thread import one_thread
from finishmatch.photo import quality
from finishmatch.photo.card.card_pose import CardPose
from finishmatch.photo.card.read_card import border_spots, card_regions, find_card
from finishmatch.photo.card.read_windows import window_regions
from finishmatch.photo.card.shadow import shadow_over
from finishmatch.photo.chart_shadow import shadow_over_chart
from finishmatch.photo.correct.correction import Certainty, Correction, certainty
from finishmatch.photo.correct.difference_doubt import DifferenceDoubt, difference_doubts
from finishmatch.photo.find.chart import PATCHES, Chart, ChartPose
from finishmatch.photo.find.find_chart import find_chart
from finishmatch.photo.find.regions import Region, check_inside, pieces_beside
from finishmatch.photo.find.spot import Spot, sample
from finishmatch.photo.local_contrast import without_local_contrast
from finishmatch.photo.open.picture import Picture
from finishmatch.photo.part_shadow import part_shadow, why_shaded
from finishmatch.photo.reference import (
    LEAST_PATCHES,
    Reference,
    ReferenceFit,
    as_it_reads,
    find_reference,
    fit_reference,
)
from finishmatch.photo.surroundings import are_samples, no_sample

MOST_BESIDE = 24  # samples that one is held against, beside the first: of hundreds all pairs would take minutes
MARK_IT = "say where it is with `region` NAME=x,y,w,h"


@dataclass(frozen=True)
class PhotoRegion:
    """A sample as it was read.

    Parameters
    ----------
    name : str
    lab : ndarray, shape (3,)
    u95 : float
        Half-width in ΔE00 that holds the truth 95 times in 100.
    spot : Spot
    certainty : Certainty
    quad : ndarray, shape (4, 2)
    """

    name: str
    lab: Floats
    u95: float
    spot: Spot
    certainty: Certainty
    quad: Floats


@dataclass(frozen=True)
class LostRegion:
    """A sample of which nothing can be read, and why, with what to change; whether its colour is outside the file's."""

    name: str
    why: str
    quad: Floats
    outside_file: bool = False


@dataclass(frozen=True)
class PhotoDifference:
    """Two samples, trial less standard: ΔE00 with its u95, and of one photograph ΔL*, Δa*, Δb* with their doubt.

    `owns`, where not all pairs are kept, is what is each one's own of its doubt by all pairs, ΔE00 (`own_u95`).
    """

    standard: str
    trial: str
    de00: float
    u95: float
    delta: Floats = field(default_factory=lambda: np.zeros(3))
    doubt: DifferenceDoubt | None = None
    owns: tuple[float, float] | None = None


@dataclass(frozen=True)
class PhotoReading:
    """What is read of a photograph.

    Parameters
    ----------
    picture : Picture
    chart : ChartPose or None
        Where the chart lies.
    fit : Correction or None
    patches : tuple of int
        Numbers of the patches that served.
    light, observer
        For which the colours are given.
    regions, lost : tuple
        The samples that were read, and those of which nothing can be read.
    differences : tuple of PhotoDifference
    warnings : tuple of str
    why_not : str
        What to change when it can't serve; "" when it does.
    card : CardPose or None
        Where the shop's card lies.
    reference : Reference or None
        The known colours it was read by.
    """

    picture: Picture
    chart: ChartPose | None
    fit: Correction | None
    patches: tuple[int, ...]
    light: str
    observer: int
    regions: tuple[PhotoRegion, ...] = ()
    differences: tuple[PhotoDifference, ...] = ()
    warnings: tuple[str, ...] = ()
    why_not: str = ""
    card: CardPose | None = None
    reference: Reference | None = None
    lost: tuple[LostRegion, ...] = ()

    @property
    def printed(self) -> bool:
        """Whether the registered print of the card served in place of a chart."""
        return self.reference is not None and self.reference.printed


@one_thread
def read_photograph(
    picture: Picture,
    regions: Sequence[Region] = (),
    *,
    chart: Chart | None = None,
    skip: Sequence[int] = (),
    light: str = "D65",
    observer: int = 10,
    home: Path | None = None,
) -> PhotoReading:
    """Read the samples of a photograph against the chart in it, or the registered print of the shop's card.

    Parameters
    ----------
    picture : Picture
    regions : sequence of Region
        The samples; none is those in the windows of the shop's card, or found beside the chart.
    chart : Chart or None
        What the patches are; None is the one that is registered, or else the usual chart as published.
    skip : sequence of int
        Patches, 1 to 24, that are left out: dirty ones.
    light, observer
        For which the colours are given.
    home : Path or None
        Where the shop's chart and its prints of the card are registered.

    Returns
    -------
    PhotoReading
        Of a photograph that must be taken again with `why_not`: that is no error.

    Raises
    ------
    InputError
        Wrong regions or patches.
    """
    _check_asked(picture, regions, skip)
    found, pose, why_not = _chart_and_card(picture, regions)
    empty = PhotoReading(picture, found, None, (), light, observer, card=pose)
    if why_not:
        return replace(empty, why_not=why_not)
    reference, why_not = find_reference(found, pose, chart, home)
    if reference is None:
        dark = quality.in_the_dark(border_spots(picture, pose)) if found is None and pose is not None else ""
        return replace(empty, why_not=dark or why_not + picture.as_sent)
    how = (reference, pose, skip if found else (), light, observer)
    fit, why_not = fit_reference(picture, *how)
    if fit is None:
        return replace(empty, why_not=why_not)
    evened = without_local_contrast(picture, fit, lambda one: fit_reference(one, *how)[0])
    fit, of_chart = as_it_reads(evened.picture, evened.fit, *how[1:])
    samples, notes, why_not = _to_read(picture, fit, found, pose, regions)
    notes += [*of_chart, *evened.notes]
    if found is not None and pose is None and not regions and samples:
        samples, others = are_samples(fit, found, samples)
        notes += [f"left out, since it seems to be {other} and no sample" for other in dict.fromkeys(others)]
        why_not = "" if samples else no_sample(others, MARK_IT)
    if skip and found is None:
        notes.append("`skip_patch` counts the patches of a chart; none was found, so it changes nothing")
    return _with_samples(replace(empty, reference=fit.reference), fit, samples, notes, why_not)


def _chart_and_card(picture: Picture, regions: Sequence[Region]) -> tuple[ChartPose | None, CardPose | None, str]:
    """Return where chart and card lie, and what to change where there are two or the chart is cut by the edge."""
    try:
        found = find_chart(picture)
        # a chart that lies on a card isn't much smaller than the card
        pose = find_card(picture, finer=found is None) if found is None or not regions else None
    except InputError as error:
        return None, None, f"{error.what}: {error.mend}"
    return found, pose, ""


def _check_asked(picture: Picture, regions: Sequence[Region], skip: Sequence[int]) -> None:
    for region in regions:
        check_inside(region, picture.size)
    for number in skip:
        if not 1 <= number <= PATCHES:
            raise InputError(f"`skip_patch` {number}", "is not a patch of the chart", "they are 1 to 24, row by row")
    if PATCHES - len(set(skip)) < LEAST_PATCHES:
        raise InputError(
            "`skip_patch`", f"leaves {PATCHES - len(set(skip))} patches", f"at least {LEAST_PATCHES} are needed"
        )


def _to_read(
    picture: Picture, fit: ReferenceFit, found: ChartPose | None, pose: CardPose | None, regions: Sequence[Region]
) -> tuple[list[Region], list[str], str]:
    """Return the samples, as marked or as found, notes, and what to change where nothing can be read."""
    samples, notes, why_not = (list(regions), list[str](), "") if regions else _samples(picture, found, pose)
    shadow = None if found is None else shadow_over_chart(fit.known)
    if shadow is None:
        return samples, notes, why_not
    if shadow.deep and not why_not:  # a card's border tells of one before its chart does
        return [], notes, shadow.words
    return samples, [*notes, shadow.words], why_not


def _samples(picture: Picture, found: ChartPose | None, pose: CardPose | None) -> tuple[list[Region], list[str], str]:
    """Return the samples in the windows or beside the chart, notes on them, and what to do when there are none."""
    samples, notes, why_not = list[Region](), list[str](), ""
    if pose is not None and pose.layout.numbered is not None:
        samples, notes = window_regions(picture, pose)
        why_not = "; ".join(["no window of the sheet holds a panel that can be read", *notes])
    elif pose is not None:
        samples, notes = card_regions(picture, pose)
        why_not = f"the card's windows hold no sample: {MARK_IT}"
    elif found is not None:
        samples = pieces_beside(picture, found)
        why_not = f"no sample was found beside the chart: {MARK_IT}"
    why_not = "" if samples else why_not
    if pose is not None:
        why_not, notes = _shaded(picture, pose, why_not, notes)
    return samples, notes, why_not


def _shaded(picture: Picture, pose: CardPose, why_not: str, notes: list[str]) -> tuple[str, list[str]]:
    """Return why the card can't be read, and the notes, with what a shadow over it adds to them."""
    shadow = shadow_over(picture, pose)
    if shadow is None:
        return why_not, notes
    deep = f"{100 * shadow.share:.0f} % of the light is missing there"
    if not shadow.near:
        return why_not, [*notes, f"a shadow lies over the edge of the card ({deep}): keep it off samples and chart"]
    return (
        f"a shadow lies over a part of the card ({deep}): keep yourself, the phone and what stands beside it out of "
        "the light, and photograph it anew; where its border is painted over instead, "
        "mark the samples (`region` NAME=x,y,w,h)"
    ), notes


def _with_samples(
    empty: PhotoReading, fit: ReferenceFit, samples: Sequence[Region], notes: Sequence[str], why_not: str
) -> PhotoReading:
    """Return a reading with its samples, and all there is to say of them and of the photograph."""
    each = [_read_region(fit, region) for region in samples]
    wider = quality.wider_than(empty.picture)
    why_lost = [quality.why_lost(one.spot, wider) or _why_shaded(fit, one, empty.card) for one in each]
    told = [(one, why, quality.outside_file(one.spot, wider)) for one, why in zip(each, why_lost, strict=True) if why]
    lost = tuple(LostRegion(one.name, why, one.quad, outside) for one, why, outside in told)
    taken = tuple(one for one, why in zip(each, why_lost, strict=True) if not why)
    places = [one.spot.place for one in taken]
    warnings = quality.whole_notes(fit, empty.chart, places, empty.light, empty.observer, empty.card is not None)
    for one in taken:
        warnings += quality.sample_notes(one.name, one.spot, one.certainty.outside, wider)
    warnings += [note for note in notes if not note.startswith(tuple(f"{one.name}: " for one in lost))]
    if taken:
        warnings += [f"{one.name} is not read: {one.why}" for one in lost]
    why_not = why_not or quality.cannot_serve(fit.correction)
    if not why_not and not taken:
        why_not = "; ".join(f"{one.name}: {one.why}" for one in lost)
    return replace(
        empty,
        fit=fit.correction,
        patches=fit.patches,
        regions=taken,
        lost=lost,
        differences=_differences(fit.correction, taken),
        warnings=tuple(warnings),
        why_not=why_not,
    )


def _read_region(fit: ReferenceFit, region: Region) -> PhotoRegion:
    spot = sample(fit.picture, region.quad)
    sure = certainty(fit.correction, fit.known, spot, fit.typical)
    lab = fit.correction.lab(spot.linear[None], spot.place[None])[0]
    return PhotoRegion(region.name, lab, sure.u95, spot, sure, region.quad)


def _why_shaded(fit: ReferenceFit, one: PhotoRegion, card: CardPose | None) -> str:
    return why_shaded(part_shadow(fit, one.spot, one.quad, card, one.name))


def _differences(correction: Correction, taken: Sequence[PhotoRegion]) -> tuple[PhotoDifference, ...]:
    pairs = [(i, j) for i, j in combinations(range(len(taken)), 2) if i == 0 or j - i <= MOST_BESIDE]
    misses = [one.certainty.correction for one in taken]
    doubts = difference_doubts(correction, [one.spot for one in taken], pairs, misses)
    return tuple(
        PhotoDifference(
            taken[i].name,
            taken[j].name,
            float(de00(taken[i].lab, taken[j].lab)),
            doubt.u95,
            taken[j].lab - taken[i].lab,
            doubt,
        )
        for (i, j), doubt in zip(pairs, doubts, strict=True)
    )
