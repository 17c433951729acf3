"""The registered print alone, in rendered photographs: how near paints are read, and how often the stated u95 holds.

Every frame has another invented print, registered as an instrument reads it. `python -m benchmarks.test_print_accuracy`
measures more frames than the tests do.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

import pytest

from booth.card_readings import CardFrame, CardRead, held, median, read_card, summary
from booth.photo_booth import CAMERAS
from finishmatch.readings.reading import Reading

LIGHTS = ("D50", "D65", "A", "F11", "LED-B3")
OFTEN, ALL = range(2), range(12)


def as_lab(readings: dict[str, Reading]) -> dict[str, Reading]:
    """Return readings of which only L*a*b* is known."""
    return {
        name: replace(one, repeats=one.lab_in("D65", 10)[None], light="D65", observer=10)
        for name, one in readings.items()
    }


def measure(camera: str, light: str, numbers: Iterable[int], lab_alone: bool = False) -> CardRead:
    """Read photographs by one camera in one light."""
    found = CardRead()
    for number in numbers:
        frame = CardFrame(camera, light, number, chart=False)
        found += read_card(frame, frame.picture(), registered=as_lab(frame.registered) if lab_alone else None)
    return found


@pytest.fixture(scope="module")
def found() -> CardRead:
    whole = sum((measure(camera, light, OFTEN) for camera in CAMERAS for light in LIGHTS), CardRead())
    print("\n", summary("colours", whole.colours), "\n", summary("close differences", whole.close))
    return whole


def test_what_is_stated_of_a_colour_read_by_the_print_alone_holds_90_to_99_times_in_100(found: CardRead) -> None:
    """docs/accuracy.md tells what it comes to by light and camera."""
    assert 90 <= held(found.colours) <= 99
    assert found.lost < 0.1 * (len(found.colours) + found.lost)


def test_colours_are_read_by_the_print_alone_to_a_median(found: CardRead) -> None:
    """Taken for any smooth camera in place of nearly the eye they came to 1.38."""
    assert median(found.colours) <= 1.3


def test_close_samples_are_told_apart_by_the_print_alone(found: CardRead) -> None:
    assert held(found.close) >= 90
    assert median(found.close) <= 0.5


def main() -> None:
    """Measure more frames."""
    for lab_alone in (False, True):
        what = "of which only Lab is known" if lab_alone else "of known spectra"
        parts = {(light, camera): measure(camera, light, ALL, lab_alone) for light in LIGHTS for camera in CAMERAS}
        for (light, camera), part in parts.items():
            print(summary(f"{light}, camera {camera}", part.colours), flush=True)
        whole = sum(parts.values(), CardRead())
        for name, pairs in (("colours", whole.colours), ("close", whole.close), ("large differences", whole.apart)):
            print(summary(f"a print {what}, {name}", pairs))
        print(f"{whole.lost} lost", flush=True)


if __name__ == "__main__":
    main()
