"""The known colours in a photograph, the chart's patches or the card's printed fields, and the correction they give."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from finishmatch.colour import Floats, white_point
from finishmatch.photo.card.card_pose import CardPose
from finishmatch.photo.card.chart_kept import registered_chart
from finishmatch.photo.card.layout import PRINTED_NEUTRALS
from finishmatch.photo.card.read_card import bare_paper, border_spots
from finishmatch.photo.card.register import RegisteredCard, registered_card
from finishmatch.photo.correct.capture import Known
from finishmatch.photo.correct.correction import (
    Correction,
    choose_correction,
    tone_priors,
    typical_openness,
    with_noise,
)
from finishmatch.photo.correct.plain_camera import fit_plain_camera
from finishmatch.photo.find.chart import (
    MADE,
    MADE_WORDS,
    NEUTRALS,
    PATCHES,
    Chart,
    ChartPose,
    patch_corners,
    usual_chart,
)
from finishmatch.photo.find.spot import Spot, sample
from finishmatch.photo.open.icc_profile import linear_encoding
from finishmatch.photo.open.picture import Picture

INNER_SHARE = 0.5  # of the pitch: what of a patch is read, well inside its edges
LEAST_PATCHES = 14
# a JPEG keeps colour in squares of 8 or 16 pixels: in rendered pictures smaller patches are read half as well as larger
LEAST_PATCH_PX = 8.0
ENOUGH_PATCH_PX = 16
# of what a camera leaves of a chart's patches. Of 32 rendered photographs of each kind of chart, its patches 2 % off
# what is published, none of the older is taken for the newer so and 24 of the newer are; 4 % off it is 4 and 30. Four
# real charts, of the older kind, leave 1.03 to 1.39 times as much as the newer
LIKE_ANOTHER = 0.95


@dataclass(frozen=True)
class Reference:
    """The known colours in the picture: the chart's patches, or the fields of the card's print."""

    chart: Chart
    quads: Floats
    names: tuple[str, ...]
    neutrals: tuple[int, ...]  # numbers from 1, white first
    printed: bool = False
    assumed: bool = False  # whether nobody said which edition of the chart it is


@dataclass(frozen=True)
class ReferenceFit:
    """The correction that the known colours give.

    Parameters
    ----------
    reference : Reference
    known : Known
        Those of them that serve, as the picture shows them.
    correction : Correction
    picture : Picture
        By the curve that was chosen.
    spots : list of Spot
        All of them, the ones that don't serve too.
    patches : tuple of int
        The numbers, from 1, of those that serve.
    typical : float
        By `typical_openness`.
    """

    reference: Reference
    known: Known
    correction: Correction
    picture: Picture
    spots: list[Spot]
    patches: tuple[int, ...]
    typical: float


def find_reference(
    found: ChartPose | None, pose: CardPose | None, chart: Chart | None, home: Path | None
) -> tuple[Reference | None, str]:
    """Return the known colours in the picture, or why there are none.

    Parameters
    ----------
    found : ChartPose or None
        The chart, which serves when there is one.
    pose : CardPose or None
        The shop's card, whose print serves when there is no chart.
    chart : Chart or None
        What the patches of the chart are; None is the one that is registered, or else the usual chart as published.
    home : Path or None
        Where the shop's chart and its prints of the card are registered.

    Returns
    -------
    reference : Reference or None
    why_not : str
        What to change; "" with a reference.

    Raises
    ------
    InputError
        A kept registration that is damaged.
    """
    if found is not None:
        if found.patch_px < LEAST_PATCH_PX:
            return None, (
                f"the chart is too small in the picture, a patch is {found.patch_px:.1f} pixels wide: go closer, until "
                f"it is {ENOUGH_PATCH_PX} or more"
            )
        names = tuple(f"patch {number}" for number in range(1, PATCHES + 1))
        kept = None if chart is not None or home is None else registered_chart(home)
        said = chart if kept is None else kept.chart
        patches = found.to_px(patch_corners(INNER_SHARE))
        return Reference(said or usual_chart(), patches, names, NEUTRALS, assumed=said is None), ""
    if pose is None:
        return None, (
            "no 24-patch chart was found: lay it beside the samples, fill a third of the frame with it, and "
            "keep shadows and fingers off"
        )
    card = None if home is None else registered_card(home)
    if card is None:
        what, its = ("the shop's card", "the card's") if pose.layout.numbered is None else ("the sheet", "the sheet's")
        mend = f"lay one in {its} chart window, or read your own print and register it"
        return None, f"{what} was found, but no 24-patch chart: {mend}"
    if len(card.readings) < LEAST_PATCHES:
        return None, (
            f"no 24-patch chart was found, and of the registered print only {len(card.readings)} fields are known, of "
            f"which {LEAST_PATCHES} are needed: read all of them and register the print anew, or lay a chart in the "
            "card's chart window"
        )
    known, names = printed_chart(card)
    quads = dict(pose.patches)
    neutrals = tuple(names.index(name) + 1 for name in PRINTED_NEUTRALS if name in names)
    return Reference(known, np.array([quads[name] for name in names]), names, neutrals, printed=True), ""


def printed_chart(card: RegisteredCard) -> tuple[Chart, tuple[str, ...]]:
    """Return the fields of a registered print as known colours, and their names in the same order."""
    names, each = tuple(card.readings), list(card.readings.values())
    title = f"the registered card {card.name!r}"
    if all(one.is_spectral for one in each):
        return Chart(title, np.array([one.repeats.mean(axis=0) for one in each])), names
    first = next(one for one in each if not one.is_spectral)
    lab = np.array([one.lab_in(first.light, first.observer) for one in each])
    return Chart(title, None, lab, first.light, first.observer), names


def fit_reference(
    picture: Picture,
    reference: Reference,
    pose: CardPose | None,
    skip: Sequence[int],
    light: str,
    observer: int,
) -> tuple[ReferenceFit | None, str]:
    """Return the correction the known colours give, or why there is none.

    Parameters
    ----------
    picture : Picture
    reference : Reference
    pose : CardPose or None
        The shop's card, whose bare paper shows how the light falls off.
    skip : sequence of int
        Numbers, from 1, of known colours that are left out.
    light, observer
        For which the colours are given.
    """
    chart, many = reference.chart, len(reference.names)
    xyz, white = chart.xyz(light, observer), white_point(light, observer)
    pictures = [picture] if picture.encoding.trusted else [picture, replace(picture, encoding=linear_encoding())]
    spots = [[sample(one, quad) for quad in reference.quads] for one in pictures]
    first = spots[0]
    usable = [i for i in range(many) if i + 1 not in skip and first[i].clipped < 0.1 and first[i].dark < 0.5]
    if len(usable) < LEAST_PATCHES:
        return None, (
            f"only {len(usable)} of the {many} patches are neither burnt out nor lost in the dark: set the exposure by "
            "the chart's white, just below burning out"
        )
    curves = []
    for one, its_spots in zip(pictures, spots, strict=True):
        known = Known(
            np.array([its_spots[i].linear for i in usable]),
            np.array([its_spots[i].place for i in usable]),
            xyz[usable],
            white,
            np.ones(len(usable)),
            paper=None if pose is None else bare_paper(border_spots(one, pose), pose),
            raw=one.encoding.name == "linear",
        )
        known = with_noise(known, np.array([its_spots[i].spread for i in usable]))
        # where values may be linear already, the tone is known nearly enough
        curves.append((known, one.encoding.trusted))
    spectra = None if chart.spectra is None else chart.spectra[usable]
    correction, which = choose_correction(curves, spectra, light, observer, inks=reference.printed)
    patches = tuple(i + 1 for i in usable)
    known = curves[which][0]
    typical = typical_openness(correction, known)
    return ReferenceFit(reference, known, correction, pictures[which], spots[which], patches, typical), ""


def as_it_reads(
    picture: Picture, fit: ReferenceFit, pose: CardPose | None, skip: Sequence[int], light: str, observer: int
) -> tuple[ReferenceFit, list[str]]:
    """Return the correction by the chart that it reads like where nobody said which it is, and a note of that.

    Where it was said, the correction stays as it is, and a note tells of a chart that reads like another.

    Parameters
    ----------
    picture, fit, pose, skip, light, observer
        As `fit_reference` was given and gave them.
    """
    made = fit.reference.chart.made
    if not made:
        return fit, []
    left = left_by_make(fit.known, np.array(fit.patches) - 1, fit.picture.encoding.trusted, (light, observer))
    best = min(left, key=lambda one: left[one])
    if left[best] >= LIKE_ANOTHER * left[made]:
        return fit, []
    say = "say once which yours is (`chart` {} of photo card, or the bench page)"
    if not fit.reference.assumed:
        return fit, [
            f"the chart is taken as {MADE_WORDS[made]} and reads more like one {MADE_WORDS[best]}, by which colours "
            f"come out some ΔE00 1 otherwise: {say.format(best)}"
        ]
    other = replace(fit.reference, chart=usual_chart(best))
    found, _ = fit_reference(picture, other, pose, skip, light, observer)
    read_so = f"the chart reads like one {MADE_WORDS[best]}, and is taken as one: {say.format(best)}"
    return (fit, []) if found is None else (found, [read_so])


def left_by_make(known: Known, patches: NDArray[np.intp], trusted: bool, seen_in: tuple[str, int]) -> dict[str, float]:
    """Return what a plain camera leaves of a chart's patches (relative), by when the chart would have been made.

    Parameters
    ----------
    known : Known
        The patches as the picture shows them.
    patches : ndarray, shape (n,)
        Which of the 24 they are, from 0.
    trusted : bool
        Whether the file's curve is known.
    seen_in : (str, int)
        The light and the observer that colours are given for.
    """
    left = {}
    for made in MADE:
        chart = usual_chart(made)
        assert chart.spectra is not None
        as_made = replace(known, xyz=chart.xyz(*seen_in)[patches])
        left[made] = fit_plain_camera(as_made, chart.spectra[patches], tone_priors(trusted)).misfit
    return left
