"""Photographs of the shop's card, rendered and read: invented prints, paints in the windows, a lamp to one side."""

from __future__ import annotations

import tempfile
from dataclasses import dataclass, field
from pathlib import Path
from unittest import mock

import numpy as np

from booth.card_scenes import Lamp, Pose, card_jpeg, card_photograph, drawn_card, quad_in, quarters
from booth.photo_booth import Shot
from booth.photo_scenes import OF_EACH, as_opened, close_to, paints
from booth.prints import invented_print, registered_print
from finishmatch.colour import de00, reflectance_to_lab
from finishmatch.photo import read, reference
from finishmatch.photo.card.layout import Box, card_layout
from finishmatch.photo.card.register import check_card, register_card
from finishmatch.photo.find.regions import Region
from finishmatch.photo.open.picture import Picture
from finishmatch.readings.reading import Reading

Pairs = list[tuple[float, float]]  # error and stated u95, ΔE00
WINDOWS = ("standard", "spray-out")
NEAR = ((1, 0), (7, 6))  # paints that lie near another
WHOLE = Box(0, 0, card_layout().width_mm, card_layout().height_mm)


class CardFrame:
    """A photograph of the card with eight paints in its two windows."""

    def __init__(self, camera: str, light: str, number: int, chart: bool) -> None:
        r = np.random.default_rng([number, int(chart), *map(ord, camera + light)])
        self.spectra = paints()[r.choice(2 * OF_EACH, 8, replace=False)]
        for near, to in NEAR:
            self.spectra[near] = close_to(self.spectra[to], r)
        self.lamp = Lamp(r.uniform(0.4, 0.9), r.uniform(1.0, 1.8), r.uniform(0, 360))
        self.pose = Pose(r.uniform(0.55, 0.66), r.uniform(-10, 10), r.uniform(0, 20), r.uniform(0, 360))
        self.shot = Shot(
            camera=camera,
            light=light,
            width=1000,
            height=1000,
            flare=r.uniform(0.005, 0.03),
            exposure=r.uniform(0.7, 0.9),
            noise=r.uniform(0.004, 0.012),
            encoding=("sRGB", "Display P3", "none")[number % 3],
            tone=0.15 if number % 6 == 5 else 0.0,
            seed=number,
        )
        self.inks = invented_print(number)
        self.registered = registered_print(self.inks, number)
        self.chart = chart

    def picture(self) -> Picture:
        windows = {name: self.spectra[4 * i : 4 * i + 4] for i, name in enumerate(WINDOWS)}
        card = drawn_card(self.inks, windows, self.shot.camera, self.shot.light, self.chart)
        return as_opened(card_jpeg(card_photograph(card, self.pose, self.lamp, self.shot), self.shot.encoding))

    def regions(self) -> list[Region]:
        boxes = [box for name in WINDOWS for box in quarters(name, 4)]
        return [Region(str(i), quad_in(self.pose, self.shot, box, 2.0)) for i, box in enumerate(boxes)]

    def falls_off(self) -> float:
        """Return by how much the light varies over the card, of its least."""
        light = self.lamp.light((self.shot.width, self.shot.height))
        corners = np.rint(np.clip(quad_in(self.pose, self.shot, WHOLE, 0), 0, self.shot.width - 1)).astype(int)
        seen = light[corners[:, 1], corners[:, 0]]
        return float(seen.max() / seen.min() - 1)


@dataclass
class CardRead:
    """What was measured: of colours, of close differences and of large ones; and how many samples were lost."""

    colours: Pairs = field(default_factory=list)
    close: Pairs = field(default_factory=list)
    apart: Pairs = field(default_factory=list)
    lost: int = 0

    def __add__(self, other: CardRead) -> CardRead:
        return CardRead(
            self.colours + other.colours, self.close + other.close, self.apart + other.apart, self.lost + other.lost
        )


def read_card(
    frame: CardFrame, picture: Picture, with_paper: bool = True, registered: dict[str, Reading] | None = None
) -> CardRead:
    """Read the eight paints of a photograph, and hold them against what they are under D65.

    Parameters
    ----------
    frame : CardFrame
    picture : Picture
        Of the frame.
    with_paper : bool
        Whether the bare paper of the border has a say.
    registered : dict of str to Reading, or None
        What is registered of the print; None is its spectra.
    """
    parts = {"card_regions": lambda picture, pose: (frame.regions(), [])}
    paper = {"bare_paper": reference.bare_paper if with_paper else lambda spots, pose: None}
    if not frame.chart:
        parts["find_chart"] = lambda picture: None  # only to save the time it takes to see that there is none
    with (
        tempfile.TemporaryDirectory() as folder,
        mock.patch.multiple(read, **parts),
        mock.patch.multiple(reference, **paper),
    ):
        home = Path(folder)
        register_card(home, "a print", check_card(registered or frame.registered, "")[0], "2024-05-02T10:15:00Z")
        reading = read.read_photograph(picture, home=home)
    truth = {str(i): lab for i, lab in enumerate(reflectance_to_lab(frame.spectra))}
    assert len(reading.regions) + len(reading.lost) == len(truth), reading.why_not
    found = CardRead(lost=len(reading.lost))
    found.colours = [(float(de00(truth[one.name], one.lab)), one.u95) for one in reading.regions]
    for pair in reading.differences:
        off = abs(pair.de00 - float(de00(truth[pair.standard], truth[pair.trial])))
        near = (int(pair.trial), int(pair.standard)) in NEAR
        (found.close if near else found.apart).append((off, pair.u95))
    return found


def median(pairs: Pairs) -> float:
    return float(np.median([error for error, _ in pairs]))


def held(pairs: Pairs) -> float:
    """Return how often the stated u95 holds, in 100."""
    return 100 * float(np.mean([error <= u95 for error, u95 in pairs]))


def summary(name: str, pairs: Pairs) -> str:
    worst = np.percentile([error for error, _ in pairs], 95)
    stated = np.median([u95 for _, u95 in pairs])
    return (
        f"{name}: {len(pairs)} off by {median(pairs):.2f} (median) and {worst:.1f} (95 in 100), "
        f"u95 {stated:.1f} holds {held(pairs):.1f} %"
    )
