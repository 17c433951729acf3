"""A photograph is read: chart, correction, samples, and how far each may be off."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import combinations
from pathlib import Path

import numpy as np

from finishmatch.colour import Floats, de00, white_point
from finishmatch.errors import InputError
from finishmatch.photo.card.find_card import CardPose
from finishmatch.photo.card.paper import bare_paper, border_spots
from finishmatch.photo.card.read_card import card_regions, find_card
from finishmatch.photo.card.reference import LEAST_PATCHES, Reference, find_reference
from finishmatch.photo.correct import quality
from finishmatch.photo.correct.certainty import Certainty, certainty, differences_u95, typical_openness
from finishmatch.photo.correct.choose import Correction, choose_correction, odd_patches, with_noise
from finishmatch.photo.correct.colour_fit import Known
from finishmatch.photo.find.chart import PATCHES, Chart
from finishmatch.photo.find.find_chart import FoundChart, find_chart
from finishmatch.photo.find.regions import Region, check_inside, pieces_beside
from finishmatch.photo.find.sampling import Spot, sample
from finishmatch.photo.open.icc_profile import linear_encoding
from finishmatch.photo.open.onethread import one_thread
from finishmatch.photo.open.picture import Picture

LEAST_KEPT = 0.35  # of a region's pixels, or it is not one colour
ALL_PAIRS_TO = 6
CANNOT_SERVE_DE00 = 9.0
# a photograph that serves shows paint without its gloss, as an instrument of this geometry does («common practice»)
GEOMETRY = "45/0"


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
    """A sample of which nothing can be read, and why, with what to change."""

    name: str
    why: str
    quad: Floats


@dataclass(frozen=True)
class PhotoDifference:
    """Two samples of one photograph, trial less standard, ΔE00."""

    standard: str
    trial: str
    de00: float
    u95: float


@dataclass(frozen=True)
class PhotoReading:
    """What a photograph tells; `why_not` says what to change when it can't serve, and is "" when it does."""

    picture: Picture
    chart: FoundChart | None
    fit: Correction | None
    patches: tuple[int, ...]
    light: str
    observer: int
    regions: tuple[PhotoRegion, ...] = ()
    differences: tuple[PhotoDifference, ...] = ()
    warnings: tuple[str, ...] = ()
    why_not: str = ""
    card: CardPose | None = None
    known_by: Reference | None = None
    lost: tuple[LostRegion, ...] = ()

    @property
    def printed(self) -> bool:
        """Whether the registered print of the card served in place of a chart."""
        return self.known_by is not None and self.chart is None


@dataclass(frozen=True)
class _Read:
    reference: Reference
    known: Known
    fit: Correction
    picture: Picture
    spots: list[Spot]
    patches: tuple[int, ...]
    typical: float


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
        What the patches are; None is the usual chart as published.
    skip : sequence of int
        Patches, 1 to 24, that are left out: dirty ones.
    light, observer
        What the colours are told in.
    home : Path or None
        Where the shop's prints of the card are registered.

    Returns
    -------
    PhotoReading

    Raises
    ------
    InputError
        Wrong regions or patches; two charts, or one cut by the edge.
    """
    for region in regions:
        check_inside(region, picture.size)
    _check_skip(skip)
    found = find_chart(picture)
    # a chart that lies on a card isn't much smaller than the card
    pose = find_card(picture, finer=found is None) if found is None or not regions else None
    empty = PhotoReading(picture, found, None, (), light, observer, card=pose)
    reference, why_not = find_reference(found, pose, chart, home)
    if reference is None:
        return replace(empty, why_not=why_not)
    read, why_not = _read_chart(picture, reference, pose, skip if found else (), light, observer)
    if read is None:
        return replace(empty, why_not=why_not)
    samples, notes = list(regions), list[str]()
    if not samples and pose is not None:
        samples, notes = card_regions(picture, pose)
        why_not = "" if samples else "the card's windows hold no sample: say where it is with --region NAME=x,y,w,h"
    elif not samples and found is not None:
        samples = pieces_beside(picture, found)
        why_not = "" if samples else "no sample was found beside the chart: say where it is with --region NAME=x,y,w,h"
    if skip and found is None:
        notes.append("--skip-patch counts the patches of a chart; none was found, so it has no say")
    each = [_read_region(read, region) for region in samples]
    lost = tuple(LostRegion(one.name, why, one.quad) for one in each if (why := quality.why_lost(one.spot)))
    taken = tuple(one for one in each if not quality.why_lost(one.spot))
    if taken:
        notes += [f"{one.name} is not read: {one.why}" for one in lost]
    return PhotoReading(
        picture,
        found,
        read.fit,
        read.patches,
        light,
        observer,
        taken,
        _differences(read, taken),
        (*_warnings(read, found, taken, light, observer), *notes),
        why_not or _cannot_serve(read, taken, lost),
        pose,
        reference,
        lost,
    )


def _check_skip(skip: Sequence[int]) -> None:
    for number in skip:
        if not 1 <= number <= PATCHES:
            raise InputError(f"--skip-patch {number}", "is no patch of the chart", "they are 1 to 24, row by row")
    if PATCHES - len(set(skip)) < LEAST_PATCHES:
        raise InputError(
            "--skip-patch", f"leaves {PATCHES - len(set(skip))} patches", f"at least {LEAST_PATCHES} are needed"
        )


def _read_chart(
    picture: Picture, reference: Reference, pose: CardPose | None, skip: Sequence[int], light: str, observer: int
) -> tuple[_Read | None, str]:
    """Return the correction the known colours give, or why there is none."""
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
        )
        known = with_noise(known, np.array([its_spots[i].spread for i in usable]))
        # of values that may be linear already, the tone is near enough told
        curves.append((known, one.encoding.trusted))
    spectra = None if chart.spectra is None else chart.spectra[usable]
    fit, which = choose_correction(curves, spectra, light, observer, inks=reference.printed)
    patches = tuple(i + 1 for i in usable)
    known = curves[which][0]
    return _Read(reference, known, fit, pictures[which], spots[which], patches, typical_openness(fit, known)), ""


def _read_region(read: _Read, region: Region) -> PhotoRegion:
    spot = sample(read.picture, region.quad)
    sure = certainty(read.fit, read.known, spot, read.typical)
    lab = read.fit.lab(spot.linear[None], spot.place[None])[0]
    return PhotoRegion(region.name, lab, sure.u95, spot, sure, region.quad)


def _differences(read: _Read, taken: Sequence[PhotoRegion]) -> tuple[PhotoDifference, ...]:
    pairs = list(combinations(range(len(taken)), 2))
    if len(taken) > ALL_PAIRS_TO:
        pairs = [pair for pair in pairs if pair[0] == 0]
    u95 = differences_u95(read.fit, [one.spot for one in taken], pairs, [one.certainty.correction for one in taken])
    return tuple(
        PhotoDifference(taken[i].name, taken[j].name, float(de00(taken[i].lab, taken[j].lab)), wide)
        for (i, j), wide in zip(pairs, u95, strict=True)
    )


def _region_notes(region: PhotoRegion) -> list[str]:
    notes = []
    if region.spot.clipped > quality.CLIPPED_SHARE:
        notes.append(
            f"{region.name}: {100 * region.spot.clipped:.0f} % of its pixels are cut off in a channel: expose less, or "
            "save in a wider colour space (Display P3, raw)"
        )
    if region.spot.rejected > 1 - LEAST_KEPT:
        notes.append(
            f"{region.name}: {100 * region.spot.rejected:.0f} % of its pixels were set aside: glare, dust, an edge, or "
            "more than one colour; mark a cleaner part"
        )
    if region.spot.dark > 0.5:
        notes.append(f"{region.name}: it is lost in the dark; expose more")
    if region.certainty.outside > 12:
        notes.append(f"{region.name}: its colour lies outside those of the chart, so it is less sure")
    return notes


def _warnings(
    read: _Read, found: FoundChart | None, taken: Sequence[PhotoRegion], light: str, observer: int
) -> list[str]:
    """Return what to bear in mind of the whole photograph."""
    picture, fit, chart, grey = read.picture, read.fit, read.reference.chart, read.reference.neutrals
    notes = list(picture.warnings)
    if found is not None and found.mirrored:
        notes.append("the photograph is left to right, as a mirror shows it; the colours aren't touched by that")
    notes += quality.exposure(read.spots, read.spots[grey[0] - 1])
    places = np.array([*read.known.places, *(one.spot.place for one in taken)])
    notes += quality.light_evenness(fit, places)[1]
    neutrals = [i for i, number in enumerate(read.patches) if number in grey]
    notes += quality.mixed_light(fit, read.known, neutrals)
    if found is not None:
        notes += quality.sharpness(picture, found)
        notes += quality.size(found)
    notes += quality.processing(fit, picture.encoding.trusted)
    for index, off in odd_patches(fit, read.known):
        number = read.patches[index]
        name = read.reference.names[number - 1]
        notes.append(
            f"{name} is off by ΔE00 {off:.1f}: clean it, or leave it out with --skip-patch {number}"
            if found is not None
            else f"the card's printed {name} is off by ΔE00 {off:.1f}: keep it clean, or register the print anew"
        )
    if found is None:
        notes.append(
            "known colours: the card's print alone; it can't tell daylight from a lamp, so photograph in daylight"
        )
    elif chart.spectra is not None:
        used = [number - 1 for number in read.patches]
        seen = {
            name: (chart.xyz(name, observer)[used], white_point(name, observer))
            for name in dict.fromkeys((light, "F11"))
        }
        notes += quality.metamerism(quality.plain_scores(fit, read.known, seen), light)
    return [*notes, *(note for one in taken for note in _region_notes(one))]


def _cannot_serve(read: _Read, taken: Sequence[PhotoRegion], lost: Sequence[LostRegion]) -> str:
    """Return why the photograph can't serve for what was asked, with what to change, or ""."""
    median = float(np.median(read.fit.left_out))
    if median > CANNOT_SERVE_DE00:
        return (
            f"the chart's colours can't be brought right (a median of ΔE00 {median:.0f} is left): photograph in plain "
            "daylight without filters, and check that the chart is the usual one"
        )
    return "" if taken else "; ".join(f"{one.name}: {one.why}" for one in lost)
