"""Rendered photographs of the shop's card: what the bare paper around it gains where a lamp stands close to one side.

`python -m benchmarks.test_card_accuracy` measures more frames than the tests do.
"""

from __future__ import annotations

import tempfile
from collections.abc import Iterable
from itertools import product
from pathlib import Path
from unittest import mock

import numpy as np
import pytest

from benchmarks.cardscenes import Lamp, Pose, card_jpeg, card_photograph, drawn_card, quad_in, quarters
from benchmarks.photobooth import CAMERAS, Shot
from benchmarks.photoscenes import OF_EACH, as_opened, paints
from benchmarks.prints import invented_print, registered_print
from finishmatch.colour import de00, reflectance_to_lab
from finishmatch.readings.photo import photoread
from finishmatch.readings.photo.cardlayout import Box, card_layout
from finishmatch.readings.photo.cardregister import check_card, register_card
from finishmatch.readings.photo.picture import Picture
from finishmatch.readings.photo.regions import Region

Pairs = list[tuple[float, float]]  # error and stated u95, ΔE00
WINDOWS = ("standard", "spray-out")
OFTEN, ALL = 3, 10
GAIN = {True: 0.85, False: 0.97}  # at most that much of the error is left
WHOLE = Box(0, 0, card_layout().width_mm, card_layout().height_mm)


class CardFrame:
    """A photograph of the card with eight paints in its two windows."""

    def __init__(self, camera: str, light: str, number: int, chart: bool) -> None:
        r = np.random.default_rng([number, int(chart), *map(ord, camera + light)])
        self.spectra = paints()[r.choice(2 * OF_EACH, 8, replace=False)]
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
            encoding=("sRGB", "Display P3")[number % 2],
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


def read(frame: CardFrame, picture: Picture, with_paper: bool = True) -> Pairs:
    """Return how far the eight paints are off, and what is stated of them; those that are cut off are left out."""
    parts = {"card_regions": lambda picture, pose: (frame.regions(), [])}
    if not with_paper:
        parts["bare_paper"] = lambda spots, pose: None
    if not frame.chart:
        parts["find_chart"] = lambda picture: None  # only to save the time it takes to see that there is none
    with tempfile.TemporaryDirectory() as folder, mock.patch.multiple(photoread, **parts):
        home = Path(folder)
        register_card(home, "a print", check_card(frame.registered, "")[0], "2024-05-02T10:15:00Z")
        reading = photoread.read_photograph(picture, home=home)
    truth = reflectance_to_lab(frame.spectra)
    assert len(reading.regions) + len(reading.lost) == len(truth), reading.why_not
    return [(float(de00(truth[int(one.name)], one.lab)), one.u95) for one in reading.regions]


def both_ways(lights: Iterable[str], numbers: Iterable[int], chart: bool) -> tuple[Pairs, Pairs, list[float]]:
    """Return what is read with the paper and without it, and by how much the light fell off in each frame."""
    with_it: Pairs = []
    without: Pairs = []
    falls = []
    for light, camera, number in product(lights, CAMERAS, numbers):
        frame = CardFrame(camera, light, number, chart)
        picture = frame.picture()
        with_it += read(frame, picture)
        without += read(frame, picture, with_paper=False)
        falls.append(frame.falls_off())
    return with_it, without, falls


def median(pairs: Pairs) -> float:
    return float(np.median([error for error, _ in pairs]))


def told(name: str, pairs: Pairs) -> str:
    held = 100 * float(np.mean([error <= u95 for error, u95 in pairs]))
    worst = np.percentile([error for error, _ in pairs], 95)
    stated = np.median([u95 for _, u95 in pairs])
    return (
        f"{name}: {len(pairs)} colours off by {median(pairs):.2f} (median) and {worst:.1f} (95 in 100), "
        f"u95 {stated:.1f} holds {held:.1f} %"
    )


@pytest.mark.parametrize("chart", [True, False], ids=["a chart in the window", "the print alone"])
def test_the_bare_paper_evens_the_light_of_a_lamp_close_to_one_side(chart: bool) -> None:
    with_it, without, falls = both_ways(("D65",), range(OFTEN), chart)
    print("\n", told("with the paper", with_it), "\n", told("without", without))
    assert min(falls) > 0.3
    assert median(with_it) < GAIN[chart] * median(without)


def main() -> None:
    """Measure more frames."""
    for chart in (True, False):
        for light in ("D65", "A"):
            with_it, without, falls = both_ways((light,), range(ALL), chart)
            what = "a chart" if chart else "the print"
            print(f"the light falls off by {100 * min(falls):.0f} to {100 * max(falls):.0f} %")
            print(told(f"{light}, {what}, with the paper", with_it))
            print(told(f"{light}, {what}, without", without), flush=True)


if __name__ == "__main__":
    main()
