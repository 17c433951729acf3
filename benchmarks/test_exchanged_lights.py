"""A photograph in daylight and one under a lamp named the wrong way round: how often the chart in both tells it.

Rendered photographs of paints about a chart, by both cameras, as in `test_two_lights`: noise, flare, JPEG, the camera's
own balance and matrix in each light. `python -m benchmarks.test_exchanged_lights` measures more of them, of raw files
too, and by a chart that isn't quite as published.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from benchmarks.test_two_lights import ALTOGETHER, DAY, LAMP, LED, photographed
from booth.photo_booth import CAMERAS
from finishmatch.colour import Floats
from finishmatch.photo.exchanged_lights import EXCHANGED, exchange_odds

OFTEN, ALL = 2, 12


def odds_of(lamp: str, frames: int, raw: bool = False, chart_off: float = 0.0) -> Floats:
    """Return the odds of pairs named rightly, named wrongly, and of two in daylight of which one is named as under it.

    Shape (n, 3), as logarithms.
    """
    found = []
    for camera in CAMERAS:
        for number in range(frames):
            day, lit = (photographed(number, ALTOGETHER, camera, light, raw, chart_off) for light in (DAY, lamp))
            again = photographed(number, ALTOGETHER, camera, DAY, raw, chart_off, 1)
            both = ((day, lit), (replace(lit, light=DAY), replace(day, light=lamp)), (day, replace(again, light=lamp)))
            odds = [exchange_odds(*pair) for pair in both]
            found += [odds] if None not in odds else []
    return np.array(found, dtype=float)


def told(odds: Floats) -> str:
    """Return how often a pair is taken for exchanged, in a line."""
    rightly, wrongly, daylight = (odds > EXCHANGED).mean(axis=0)
    return (
        f"{len(odds)} pairs: named rightly {rightly:.2f} (at most {odds[:, 0].max():.2f}), wrongly {wrongly:.2f} "
        f"(at least {odds[:, 1].min():.2f}), both in daylight {daylight:.2f} (at most {odds[:, 2].max():.2f})"
    )


def test_a_pair_named_the_wrong_way_round_is_told_and_none_that_is_named_rightly() -> None:
    for lamp in (LAMP, LED):
        odds = odds_of(lamp, OFTEN)
        print(f"\n{lamp}: {told(odds)}")
        assert len(odds) >= 3
        assert (odds[:, 0] < 0).all()
        assert (odds[:, 1] > EXCHANGED).mean() >= 0.9
        assert (odds[:, 2] < EXCHANGED).all()


def test_by_a_chart_that_is_not_as_published_none_is_told_falsely() -> None:
    odds = odds_of(LAMP, OFTEN, chart_off=0.03)
    print(f"\n{told(odds)}")
    assert (odds[:, [0, 2]] < EXCHANGED).all()


if __name__ == "__main__":
    for raw in (False, True):
        for off in (0.0, 0.01, 0.03):
            for lamp in (LAMP, LED):
                print(
                    f"{'raw' if raw else 'JPEG'}, chart off by {off:g}, {lamp}: {told(odds_of(lamp, ALL, raw, off))}",
                    flush=True,
                )
