"""Rendered photographs of the shop's card: what the bare paper around it gains where a lamp stands close to one side.

`python -m benchmarks.test_card_accuracy` measures more frames than the tests do.
"""

from __future__ import annotations

from collections.abc import Iterable
from itertools import product

import pytest

from booth.card_readings import CardFrame, Pairs, median, read_card, summary
from booth.photo_booth import CAMERAS

OFTEN, ALL = 3, 10
GAIN = {True: 0.85, False: 0.97}  # at most that much of the error is left


def both_ways(lights: Iterable[str], numbers: Iterable[int], chart: bool) -> tuple[Pairs, Pairs, list[float]]:
    """Return what is read with the paper and without it, and by how much the light fell off in each frame."""
    with_it: Pairs = []
    without: Pairs = []
    falls = []
    for light, camera, number in product(lights, CAMERAS, numbers):
        frame = CardFrame(camera, light, number, chart)
        picture = frame.picture()
        with_it += read_card(frame, picture).colours
        without += read_card(frame, picture, with_paper=False).colours
        falls.append(frame.falls_off())
    return with_it, without, falls


@pytest.mark.parametrize("chart", [True, False], ids=["a chart in the window", "the print alone"])
def test_the_bare_paper_evens_the_light_of_a_lamp_close_to_one_side(chart: bool) -> None:
    with_it, without, falls = both_ways(("D65",), range(OFTEN), chart)
    print("\n", summary("with the paper", with_it), "\n", summary("without", without))
    assert min(falls) > 0.3
    assert median(with_it) < GAIN[chart] * median(without)


def main() -> None:
    """Measure more frames."""
    for chart in (True, False):
        for light in ("D65", "A"):
            with_it, without, falls = both_ways((light,), range(ALL), chart)
            what = "a chart" if chart else "the print"
            print(f"the light falls off by {100 * min(falls):.0f} to {100 * max(falls):.0f} %")
            print(summary(f"{light}, {what}, with the paper", with_it))
            print(summary(f"{light}, {what}, without", without), flush=True)


if __name__ == "__main__":
    main()
