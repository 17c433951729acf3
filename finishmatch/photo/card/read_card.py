"""The shop's card in a photograph: its windows are the samples, its registered print the known colours."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from finishmatch.colour import Floats
from finishmatch.photo.card.find_card import CardPose, locate_card
from finishmatch.photo.card.paper import border_spots
from finishmatch.photo.card.register import RegisteredCard
from finishmatch.photo.find.chart import Chart
from finishmatch.photo.find.regions import Region, inside
from finishmatch.photo.find.sampling import sample
from finishmatch.photo.open.picture import Picture

SEARCH_SIDE_PX = 2000
SAMPLES = ("standard", "spray-out")
PAPER_WITHIN = 0.03  # of the bare paper beside it: what is nearer, in every channel, is bare paper
SHOWS_THROUGH = 0.05  # by which the black stripes read darker than the white ones when paint doesn't hide
BARE_BLACK = 0.35  # of the white: stripes as dark as this are bare


def find_card(picture: Picture, finer: bool = True) -> CardPose | None:
    """Return where the shop's card lies in a picture, or None.

    Parameters
    ----------
    picture : Picture
    finer : bool
        Whether to look for a small card too where a first look shows nothing of one.

    Raises
    ------
    InputError
        When two cards are in the picture.
    """
    scale = min(1.0, SEARCH_SIDE_PX / max(picture.size))
    small = picture.small(scale)
    pose = locate_card(small, finer)
    if pose is None or scale == 1:
        return pose
    factor = np.array(picture.size) / small.shape[1::-1]
    larger = np.array([[factor[0], 0, (factor[0] - 1) / 2], [0, factor[1], (factor[1] - 1) / 2], [0, 0, 1]])
    return replace(pose, homography=larger @ pose.homography)


def card_regions(picture: Picture, pose: CardPose) -> tuple[list[Region], list[str]]:
    """Return the samples that lie in the card's windows, and what there is to say of the windows.

    A window that reads as the paper beside it, or as the bare stripes, is empty and left out.
    """
    regions, notes = [], []
    for name in SAMPLES:
        region = Region(name, pose.windows[name])
        if not inside(region, picture.size):
            notes.append(f"the card's window {name} lies outside the picture: photograph the whole card")
            continue
        through = _stripes_show(picture, pose) if name == "spray-out" else 0.0
        if through > 1 - BARE_BLACK:
            notes.append(f"the card's window {name} shows bare stripes and is taken for empty")
        elif through < SHOWS_THROUGH and _is_paper(picture, pose, region):
            notes.append(
                f"the card's window {name} reads as bare paper and is taken for empty; when it holds a white as light "
                f"as the paper, mark it with --region {name}=x,y,w,h"
            )
        else:
            regions.append(region)
            if through >= SHOWS_THROUGH:
                notes.append(
                    f"{name}: the stripes show through ({100 * through:.0f} % darker over black): the paint doesn't "
                    "hide, so its colour is not the paint's own; spray another coat"
                )
    return regions, notes


def _is_paper(picture: Picture, pose: CardPose, region: Region) -> bool:
    """Whether a window reads like the bare paper around it, the light taken to change evenly over the card."""
    spots = border_spots(picture, pose)
    if len(spots) < 6:
        return False
    places = np.array([[1.0, *spot.place] for spot in spots])
    light = np.log(np.maximum([spot.linear for spot in spots], 1e-4))
    plane = np.linalg.lstsq(places, light, rcond=None)[0]
    spot = sample(picture, region.quad)
    off = np.log(np.maximum(spot.linear, 1e-4)) - np.array([1.0, *spot.place]) @ plane
    return bool((np.abs(off) < PAPER_WITHIN).all())


def _stripes_show(picture: Picture, pose: CardPose) -> float:
    """Return by how much the window of the spray-out is darker over its black stripes than over its white ones."""
    stripes = [np.log(max(float(sample(picture, quad).linear.mean()), 1e-4)) for _, quad in pose.stripes]
    signs = np.array([1.0 if name == "white" else -1.0 for name, _ in pose.stripes])
    # black, white, black, white: so weighted, light that falls off in a straight line or a bow has no say
    contrast = float((signs * np.array([1.0, 3.0, 3.0, 1.0])) @ np.array(stripes)) / 4
    return 1 - float(np.exp(-max(contrast, 0.0)))


def printed_chart(card: RegisteredCard) -> tuple[Chart, tuple[str, ...]]:
    """Return the fields of a registered print as known colours, and their names in the same order."""
    names, each = tuple(card.readings), list(card.readings.values())
    title = f"the registered card {card.name!r}"
    if all(one.is_spectral for one in each):
        return Chart(title, np.array([one.repeats.mean(axis=0) for one in each])), names
    first = next(one for one in each if not one.is_spectral)
    lab = np.array([one.lab_in(first.light, first.observer) for one in each])
    return Chart(title, None, lab, first.light, first.observer), names


def printed_quads(pose: CardPose, names: Sequence[str]) -> Floats:
    """Return where the named fields of the printed scale lie, shape (n, 4, 2), pixels."""
    quads = dict(pose.patches)
    return np.array([quads[name] for name in names])
