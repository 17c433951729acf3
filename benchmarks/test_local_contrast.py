"""Colours of photographs to which a phone added contrast where light meets dark, as it is left in and taken out.

Rendered photographs as in `test_photo_accuracy`; how wide and how much is added differs. `python -m
benchmarks.test_local_contrast` measures more of them than the tests do.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from unittest.mock import patch

import numpy as np

from booth.phone_look import REACH, PhoneLook
from booth.photo_booth import CAMERAS
from booth.photo_scenes import Scene, as_opened, scene
from finishmatch.colour import de00, reflectance_to_lab
from finishmatch.photo import read
from finishmatch.photo.find.regions import Region, quad_of
from finishmatch.photo.local_contrast import Evened, without_local_contrast
from finishmatch.photo.open.picture import Picture
from finishmatch.photo.read import read_photograph
from finishmatch.photo.reference import ReferenceFit

LIGHTS, OFTEN, ALL = ("D65", "A"), (1,), range(10)
# of the width, and by how much what sets a place off is set off more
LOOKS = (
    PhoneLook(),
    PhoneLook(1.1, 0.1, REACH),
    PhoneLook(1.1, 0.3, REACH),
    PhoneLook(1.1, 0.2, (1 / 30,)),
    PhoneLook(1.1, 0.2, (1 / 18,)),
    PhoneLook(1.1, 0.2, (1 / 7,)),
)


@dataclass(frozen=True)
class Read:
    """By what colours are off, ΔE00, and what is stated of them, shape (n, 2); in how many pictures it was found."""

    left_in: np.ndarray
    taken_out: np.ndarray
    found: int
    pictures: int

    @property
    def in_words(self) -> str:
        """The figures."""
        out = []
        for off, u95 in (self.left_in.T, self.taken_out.T):
            within = 100 * np.mean(off <= u95)
            out.append(f"{np.median(off):.2f} ({np.percentile(off, 90):.1f}), ±{np.median(u95):.1f} holds {within:.0f}")
        return f"left in {out[0]}; taken out {out[1]}; found in {self.found} of {self.pictures}"


def colours(look: PhoneLook, numbers: Iterable[int]) -> Read:
    """Return how the colours of so many photographs by each camera in each light are read, both ways."""
    scenes = [scene(camera, light, n, look=look) for camera in CAMERAS for light in LIGHTS for n in numbers]
    found = list[float]()

    def counted(*given: object) -> Evened:
        evened = without_local_contrast(*given)  # type: ignore[arg-type]
        found.append(evened.added)
        return evened

    ways = [np.concatenate([_off(one, how) for one in scenes]) for how in (_left_in, counted)]
    return Read(ways[0], ways[1], sum(added > 0 for added in found), len(scenes))


def _left_in(picture: Picture, fit: ReferenceFit, _again: object) -> Evened:
    return Evened(picture, fit)


def _off(photographed: Scene, how: object) -> np.ndarray:
    truth = reflectance_to_lab(photographed.spectra)
    regions = [Region(name, quad_of(*box)) for name, box in photographed.photo.regions.items()]
    with patch.object(read, "without_local_contrast", how):
        reading = read_photograph(as_opened(photographed.photo.jpeg(90)), regions)
    return np.array([(de00(truth[int(one.name)], one.lab), one.u95) for one in reading.regions])


def test_what_is_added_over_another_width_than_is_looked_for_is_taken_out_too() -> None:
    read_as = colours(PhoneLook(1.1, 0.25, (1 / 25, 1 / 9)), OFTEN)
    print(f"\n{read_as.in_words}")
    assert read_as.found >= 0.75 * read_as.pictures
    assert np.median(read_as.taken_out[:, 0]) < 0.8 * np.median(read_as.left_in[:, 0])
    assert (read_as.taken_out[:, 0] <= read_as.taken_out[:, 1]).mean() >= 0.9


if __name__ == "__main__":
    for one in LOOKS:
        widths = ", ".join(f"1/{1 / reach:.0f}" for reach in one.reach)
        print(f"{one.contrast:g} over {widths} of the width: {colours(one, ALL).in_words}", flush=True)
