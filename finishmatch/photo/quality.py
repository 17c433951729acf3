"""What is wrong with a photograph, in the painter's words, and what to change.

The limits are «common practice», set by rendered pictures that are good and bad.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import cv2
import numpy as np

from finishmatch.colour import Floats, white_point, xyz_to_lab
from finishmatch.photo.correct.capture import TONE, Known, light_at
from finishmatch.photo.correct.colour_fit import Plan, fit_colours
from finishmatch.photo.correct.correction import Correction, odd_patches, score, untinted
from finishmatch.photo.find.chart import ChartPose
from finishmatch.photo.find.spot import Spot
from finishmatch.photo.open.picture import RAW, Picture
from finishmatch.photo.reference import ReferenceFit

CLIPPED_SHARE = 0.05
LOST_SHARE, DARK_SHARE = 0.5, 0.9  # of a sample's pixels cut off, or dark: nothing is read of it then
BURNT_FROM = 0.95  # of full scale, linear
SMALL_PATCH_PX = 16.0  # a patch's side below which noise and its neighbours count
UNEVEN = 0.3  # of the light, over chart and samples
DIM = 0.18  # of full scale: what the white patch has at least
BLUR = 0.11  # of a patch: how wide an edge is; a sharp one has 0.02 to 0.06
MIXED_DE00 = 2.5  # by how much the colour of the light differs over the chart
PROCESSED_DE00 = 4.5
TONE_OFF = 0.2
LAMP_DE00, LAMP_WITH_GAPS = 2.3, 0.85
LEAST_KEPT = 0.35  # of a sample's pixels, or it is not one colour
OUTSIDE_LAB = 12.0  # beyond the chart's colours
CANNOT_SERVE_DE00 = 9.0


def exposure(spots: Sequence[Spot], white: Spot) -> list[str]:
    """Return warnings of over- and underexposure by the chart's patches and its white."""
    found = []
    if white.clipped > CLIPPED_SHARE:
        found.append("the white patch is burnt out: expose less (−1 stop), so that the lights aren't clipped")
    brightest = max(float(spot.linear.max()) for spot in spots)
    if brightest < DIM:
        found.append("the photograph is underexposed: expose more, or light it better; dark colours are uncertain")
    return found


def wider_than(picture: Picture) -> str:
    """Return what holds more colours than a photograph's file; "" where that is the sensor's own already."""
    if picture.kind == RAW:
        return ""
    smallest = not picture.encoding.name or "srgb" in picture.encoding.name.lower()
    return "save in a wider colour space (Display P3, raw)" if smallest else "save it raw (DNG), which holds more"


def why_lost(spot: Spot, wider: str) -> str:
    """Return why nothing can be read of a sample, with what to change, or "" when it can be.

    Parameters
    ----------
    spot : Spot
    wider : str
        By `wider_than`.
    """
    if spot.dark > DARK_SHARE:
        return f"it is lost in the dark ({100 * spot.dark:.0f} % of its pixels): expose more, or light it better"
    if spot.clipped <= LOST_SHARE:
        return ""
    share = f"{100 * spot.clipped:.0f} % of its pixels"
    if spot.linear.max() > BURNT_FROM:
        return f"it is burnt out ({share}): expose less, or turn it out of the glare"
    if not outside_file(spot, wider):
        return f"it is lost in the dark in a colour ({share}): expose more, or light it better"
    return f"its colour lies outside the file's ({share} are cut off in a channel): {wider}"


def outside_file(spot: Spot, wider: str) -> bool:
    """Return whether a photograph's file can't hold the colour of a sample, which is cut off in it.

    Parameters
    ----------
    spot : Spot
    wider : str
        By `wider_than`.
    """
    lit = spot.dark <= DARK_SHARE and spot.linear.max() <= BURNT_FROM
    return bool(wider) and bool(lit) and spot.clipped > LOST_SHARE


def light_evenness(fit: Correction, places: Floats, on_card: bool = False) -> tuple[float, list[str]]:
    """Return how much the light varies over places (the largest over the smallest, less 1), with a warning.

    What lies in the windows of a card or sheet can't be laid elsewhere.
    """
    light = light_at(fit.base.numbers, places)
    range_ = float(light.max() / light.min() - 1)
    if range_ > UNEVEN:
        return range_, [
            f"the light is uneven: it varies by {100 * range_:.0f} % over chart and samples; "
            f"{'' if on_card else 'lay the samples closer to the chart, or '}light from further away"
        ]
    return range_, []


def mixed_light(fit: Correction, known: Known, neutrals: Sequence[int]) -> list[str]:
    """Return a warning when the light's colour differs from one side of the chart to the other.

    The residuals of the greys and of all patches are held against a slope over the chart, in a* and b*.
    """
    lab = xyz_to_lab(known.xyz, known.white)
    off = (untinted(fit).lab(known.linear, known.places) - lab)[:, 1:]
    weight = np.ones(len(lab))
    weight[list(neutrals)] = 2.0
    middle = known.places - known.places.mean(axis=0)
    design = np.column_stack([np.ones(len(lab)), middle])
    slope = np.linalg.lstsq(design * weight[:, None], off * weight[:, None], rcond=None)[0]
    left = off - design @ slope
    across = np.ptp(middle @ slope[1:], axis=0)
    noise = left.std(axis=0) * np.sqrt(12 / len(lab))
    if np.linalg.norm(across) > MIXED_DE00 and np.linalg.norm(across) > 1.4 * np.linalg.norm(noise):
        return ["the light is of two colours (a window and a lamp?): switch one off, or block it"]
    return []


def sharpness(picture: Picture, chart: ChartPose) -> list[str]:
    """Return a warning when the edges of the patches are washed out."""
    width = edge_width(picture, chart)
    if width is not None and width > BLUR:
        return ["the photograph is blurred: hold still, or let the camera focus on the chart"]
    return []


def edge_width(picture: Picture, chart: ChartPose) -> float | None:
    """Return how wide the edges of the light patches are, 20 to 80 %, in patches; None when it can't be measured."""
    widths = []
    along = np.linspace(0, 0.5, 61)
    for column, row in ((0, 3), (1, 3), (1, 0), (5, 0), (3, 2), (4, 1)):
        for direction in ((0.0, 1.0), (0.0, -1.0), (1.0, 0.0), (-1.0, 0.0)):
            step = np.array(direction)
            aside = np.array([step[1], step[0]]) * np.linspace(-0.15, 0.15, 9)[:, None]
            points = chart.to_px(np.array([column, row]) + aside[:, None] + along[None, :, None] * step)
            grid = points.astype(np.float32)
            low = np.floor(grid.min(axis=(0, 1))).astype(int) - 2
            high = np.ceil(grid.max(axis=(0, 1))).astype(int) + 3
            if (low < 0).any() or (high > np.array(picture.size)).any():
                continue
            crop = picture.values[low[1] : high[1], low[0] : high[0]]
            x, y = np.moveaxis(grid - low.astype(np.float32), -1, 0)
            profile = np.asarray(cv2.remap(crop, x, y, cv2.INTER_LINEAR)).sum(axis=(0, 2), dtype=float)
            top, bottom = profile[:25].mean(), profile[-6:].min()
            if bottom >= 0.75 * top:  # no edge; or all of it black
                continue
            share = (profile - bottom) / (top - bottom)
            first, last = np.nonzero(share < 0.8)[0], np.nonzero(share < 0.2)[0]
            if len(first) and len(last):
                widths.append((along[last[0]] - along[first[0]]) / 0.84)
    return float(np.median(widths)) if len(widths) >= 4 else None


def size(picture: Picture, chart: ChartPose) -> list[str]:
    """Return a warning when the chart is small in the picture."""
    if chart.patch_px < SMALL_PATCH_PX:
        wide = f"(a patch is {chart.patch_px:.0f} pixels wide)"
        return [f"the chart is small in the picture {wide}: go closer{picture.as_sent}"]
    return []


def processing(fit: Correction, picture: Picture) -> list[str]:
    """Return a warning when the camera has laid a look of its own on the picture."""
    off, trusted = float(np.median(fit.left_out)), picture.encoding.trusted
    if off > PROCESSED_DE00 or score(fit.left_out) > 1.3 * PROCESSED_DE00:
        why = (
            "another chart, a dirty one, or a lamp with gaps in its light; photograph in daylight"
            if picture.kind == RAW
            else "heavy processing, filters, or another chart; switch off HDR, portrait and night modes, or take raw"
        )
        return [f"the chart's colours fit badly (a median of ΔE00 {off:.1f} when left out): {why}"]
    if trusted and abs(float(fit.base.numbers[TONE][0])) > TONE_OFF:
        return ["the camera's tone curve isn't that of its colour profile: it was undone by the chart's greys"]
    return []


def metamerism(fits: dict[str, float], asked: str) -> list[str]:
    """Return a warning when the photograph's light seems unlike the one asked for.

    Rendered pictures in daylight come to 1.5 to 2.1 in D65 by a plain matrix, in the light of a lamp to 1.9 to 3.5; a
    lamp with gaps in its light fits F11 better.

    Parameters
    ----------
    fits : dict of str to float
        For the light asked for and F11, how well a plain matrix reads the patches left out.
    asked : str
    """
    gaps = fits["F11"] < LAMP_WITH_GAPS * fits[asked]
    if asked != "F11" and (gaps or fits[asked] > LAMP_DE00):
        lamp = (
            "the light seems to be a lamp's, with gaps in it (fluorescent, LED)"
            if gaps
            else f"the light seems unlike {asked}, or the picture much processed"
        )
        return [f"risk of metamerism: {lamp}, so colours in {asked} are only inferred; photograph in daylight"]
    return []


def plain_scores(fit: Correction, known: Known, xyz: dict[str, tuple[Floats, Floats]]) -> dict[str, float]:
    """Return how well a plain matrix reads patches left out, for the chart as seen in each of several lights."""
    found = {}
    for light, (known_xyz, white) in xyz.items():
        plan = Plan(1, 0.0, fit.plain.plan.priors)
        misses = fit_colours(replace(known, xyz=known_xyz, white=white, noise=None), plan).misses
        found[light] = score(np.asarray(np.linalg.norm(misses, axis=1)))
    return found


def sample_notes(name: str, spot: Spot, outside: float, wider: str) -> list[str]:
    """Return what to bear in mind of one sample.

    Parameters
    ----------
    name : str
    spot : Spot
    outside : float
        By how far its colour lies outside those of the chart, Lab units.
    wider : str
        By `wider_than`.
    """
    notes = []
    if spot.clipped > CLIPPED_SHARE:
        mend = wider and f", or {wider}"
        notes.append(f"{name}: {100 * spot.clipped:.0f} % of its pixels are cut off in a channel: expose less{mend}")
    if spot.rejected > 1 - LEAST_KEPT:
        notes.append(
            f"{name}: {100 * spot.rejected:.0f} % of its pixels were set aside: glare, dust, an edge, or more than one "
            "colour; mark a cleaner part"
        )
    if spot.dark > 0.5:
        notes.append(f"{name}: it is lost in the dark; expose more")
    if outside > OUTSIDE_LAB:
        notes.append(f"{name}: its colour lies outside those of the chart, so it is less certain")
    return notes


def whole_notes(
    fit: ReferenceFit,
    found: ChartPose | None,
    sample_places: Sequence[Floats],
    light: str,
    observer: int,
    on_card: bool = False,
) -> list[str]:
    """Return what to bear in mind of the whole photograph.

    Parameters
    ----------
    fit : ReferenceFit
    found : ChartPose or None
        The chart, when there is one.
    sample_places : sequence of ndarray, shape (2,)
        Where the samples lie in the frame.
    light, observer
        For which the colours are given.
    on_card : bool
        Whether the samples lie in the windows of the shop's card, or of a sheet.
    """
    picture, correction, known = fit.picture, fit.correction, fit.known
    greys = fit.reference.neutrals
    notes = list(picture.warnings)
    if found is not None and found.mirrored:
        notes.append("the photograph is mirrored, left to right; its colours are right all the same")
    notes += exposure(fit.spots, fit.spots[greys[0] - 1])
    notes += light_evenness(correction, np.array([*known.places, *sample_places]), on_card)[1]
    notes += mixed_light(correction, known, [i for i, number in enumerate(fit.patches) if number in greys])
    if found is not None:
        notes += sharpness(picture, found)
        notes += size(picture, found)
    notes += processing(correction, picture)
    of_light = list[str]()
    if found is None:
        of_light.append(
            "known colours: the card's print alone; it can't tell daylight from a lamp, so photograph in daylight"
        )
    elif fit.reference.chart.spectra is not None:
        used = [number - 1 for number in fit.patches]
        as_seen = {
            name: (fit.reference.chart.xyz(name, observer)[used], white_point(name, observer))
            for name in dict.fromkeys((light, "F11"))
        }
        of_light += metamerism(plain_scores(correction, known, as_seen), light)
    return [*notes, *_odd_patches(fit, found is not None, other_light=found is not None and bool(of_light)), *of_light]


def _odd_patches(fit: ReferenceFit, of_chart: bool, other_light: bool) -> list[str]:
    """Return a warning for every known colour that doesn't fit the others; another light makes clean patches do so."""
    notes = []
    for index, off in odd_patches(fit.correction, fit.known):
        number = fit.patches[index]
        name = f"{fit.reference.names[number - 1]} is off by ΔE00 {off:.1f}"
        if not of_chart:
            notes.append(f"the card's printed {name}: keep it clean, or register the print anew")
        elif other_light:
            notes.append(f"{name}, as the light may have it: photograph in daylight, and see whether it is still")
        else:
            notes.append(f"{name}: clean it, or leave it out with `skip_patch` {number}")
    return notes


def in_the_dark(paper: Sequence[Spot]) -> str:
    """Return that a photograph of the card is too dark to find a chart in it, by its bare paper; "" where it isn't."""
    reads = float(np.median([spot.linear.max() for spot in paper])) if paper else 1.0
    if reads >= DIM:
        return ""
    level = f"bare paper reads {100 * reads:.0f} % of full scale"
    return f"the photograph is too dark to see a chart in ({level}): expose more, or light it better"


def cannot_serve(correction: Correction) -> str:
    """Return why a photograph can't serve for its colours as a whole, with what to change, or ""."""
    median = float(np.median(correction.left_out))
    if median <= CANNOT_SERVE_DE00:
        return ""
    return (
        f"the chart's colours can't be corrected (a median of ΔE00 {median:.0f} is left): photograph in plain daylight "
        "without filters, and check that the chart is the usual one"
    )
