"""The known colours in a photograph: the chart's patches, or the printed fields of the shop's registered card."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from finishmatch.colour import Floats
from finishmatch.photo.card.find_card import CardPose
from finishmatch.photo.card.layout import PRINTED_NEUTRALS
from finishmatch.photo.card.read_card import printed_chart, printed_quads
from finishmatch.photo.card.register import registered_card
from finishmatch.photo.correct import quality
from finishmatch.photo.find.chart import NEUTRALS, PATCHES, Chart, patch_corners, usual_chart
from finishmatch.photo.find.find_chart import FoundChart

INNER_SHARE = 0.5  # of the pitch: what of a patch is read, well inside its edges
LEAST_PATCHES = 14


@dataclass(frozen=True)
class Reference:
    """The known colours in the picture: the chart's patches, or the fields of the card's print."""

    chart: Chart
    quads: Floats
    names: tuple[str, ...]
    neutrals: tuple[int, ...]  # numbers from 1, white first
    printed: bool = False


def find_reference(
    found: FoundChart | None, pose: CardPose | None, chart: Chart | None, home: Path | None
) -> tuple[Reference | None, str]:
    """Return the known colours in the picture, or why there are none.

    Parameters
    ----------
    found : FoundChart or None
        The chart, which serves when there is one.
    pose : CardPose or None
        The shop's card, whose print serves when there is no chart.
    chart : Chart or None
        What the patches of the chart are; None is the usual chart as published.
    home : Path or None
        Where the shop's prints of the card are registered.

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
        if found.patch_px < quality.LEAST_PATCH_PX:
            return None, f"a patch of the chart is only {found.patch_px:.0f} pixels wide: go closer"
        names = tuple(f"patch {number}" for number in range(1, PATCHES + 1))
        return Reference(chart or usual_chart(), found.to_px(patch_corners(INNER_SHARE)), names, NEUTRALS), ""
    if pose is None:
        return None, (
            "no 24-patch chart was found: lay it beside the samples, fill a third of the frame with it, and "
            "keep shadows and fingers off"
        )
    card = None if home is None else registered_card(home)
    if card is None:
        return None, (
            "the shop's card was found, but no 24-patch chart: lay one in the card's chart window, or read your own "
            "print and register it (finishmatch photo card --register)"
        )
    if len(card.readings) < LEAST_PATCHES:
        return None, (
            f"no 24-patch chart was found, and of the registered print only {len(card.readings)} fields are known, of "
            f"which {LEAST_PATCHES} are needed: read all of them and register the print anew, or lay a chart in the "
            "card's chart window"
        )
    known, names = printed_chart(card)
    neutrals = tuple(names.index(name) + 1 for name in PRINTED_NEUTRALS if name in names)
    return Reference(known, printed_quads(pose, names), names, neutrals, printed=True), ""
