"""An empty window of the shop's card is told from a white paint in it, however the light falls off over the card.

Rendered photographs as a phone takes them before a window, and under a lamp close to one side, in four lights and by
two cameras, sharp and coarse, with a chart and without; in the window for the standard nothing, or a white that differs
from the paper by ΔE00 0 to 5. `python -m benchmarks.test_empty_window` takes a hundred of each.
"""

from __future__ import annotations

from pathlib import Path
from tempfile import TemporaryDirectory

import numpy as np
import pytest
from numpy.typing import NDArray

from booth.card_scenes import Lamp, Pose, bundled_print, card_jpeg, card_photograph, drawn_card
from booth.photo_booth import Shot
from finishmatch.colour import de00, reflectance_to_lab
from finishmatch.photo.card.read_card import card_regions, find_card
from finishmatch.photo.open.picture import open_picture

Floats = NDArray[np.float64]
LIGHTS = ("D65", "D50", "A", "LED-B3")
BESIDE = 1.5  # ΔE00 from the paper: a white so far off is of another colour
SEEDS = (60, 62, 63, 64, 65, 69, 105, 106)  # of the first six a straight course of the light missed five


def white_near(r: np.random.Generator) -> tuple[Floats, float]:
    """Return a white whose spectrum runs smoothly beside the paper's, and its ΔE00 from it."""
    paper, nm = bundled_print()["white"], np.linspace(400, 700, 31)
    course = np.zeros(31)
    for middle, wide, high in zip(r.uniform(400, 700, 3), r.uniform(40, 150, 3), r.standard_normal(3), strict=True):
        course += high * np.exp(-(((nm - middle) / wide) ** 2))
    white = paper * (1 + r.uniform(0, 0.08) * course / np.abs(course).max())
    return white, float(de00(reflectance_to_lab(white, "D65", 10), reflectance_to_lab(paper, "D65", 10)))


def windows_read(folder: Path, seed: int, standard: Floats | None) -> list[str]:
    """Return the windows that are read as samples, a dark paint in that of the spray-out; seeds from 100 by a lamp."""
    r, near = np.random.default_rng([seed, 1]), seed >= 100
    paints = {"spray-out": 0.3 * bundled_print()["white"] ** r.uniform(1, 3)}
    if standard is not None:
        paints["standard"] = standard
    light, seen_by = (LIGHTS[seed % 4], ("one", "two")[seed // 4 % 2]) if near else ("D65", "one")
    drawn = drawn_card(bundled_print(), paints, seen_by, light, chart=not near or bool(seed % 3))
    pose = Pose(
        r.uniform(0.4 if near else 0.6, 0.66), r.uniform(-8, 8), r.uniform(0, 25 if near else 15), r.uniform(0, 360)
    )
    lamp = Lamp(r.uniform(0.4, 0.9), r.uniform(*((0.5, 1.2) if near else (1.2, 1.8))), r.uniform(0, 360))
    noise = r.uniform(0.004, 0.012) if near else 0.006
    shot = Shot(width=900, height=1150, noise=noise, exposure=0.78, encoding="Display P3", seed=seed)
    path = folder / f"{seed}.jpg"
    path.write_bytes(card_jpeg(card_photograph(drawn, pose, lamp, shot), "Display P3", int(r.uniform(78, 95))))
    picture = open_picture(path)
    found = find_card(picture)
    assert found is not None
    return [region.name for region in card_regions(picture, found)[0]]


@pytest.mark.parametrize("seed", SEEDS)
def test_an_empty_window_is_told_and_a_white_of_another_colour_is_read(tmp_path: Path, seed: int) -> None:
    assert windows_read(tmp_path, seed, None) == ["spray-out"]
    r = np.random.default_rng(seed)
    white = next(white for white, apart in (white_near(r) for _ in range(100)) if apart > BESIDE)
    assert windows_read(tmp_path, seed, white) == ["standard", "spray-out"]


def main() -> None:
    """Print how many empty windows are told, and how many whites, by how far from the paper, are taken for it."""
    with TemporaryDirectory() as named:
        for called, seeds in (("as a phone takes it", range(100)), ("by a lamp at one side", range(100, 200))):
            told, whites = 0, list[tuple[float, bool]]()
            for seed in seeds:
                told += "standard" not in windows_read(Path(named), seed, None)
                white, apart = white_near(np.random.default_rng(seed))
                whites.append((apart, "standard" in windows_read(Path(named), seed, white)))
            print(f"{called}: {told} of {len(seeds)} empty windows told")
            for low, high in ((0, 0.5), (0.5, 1), (1, 1.5), (1.5, 2), (2, 9)):
                read = [is_read for apart, is_read in whites if low <= apart < high]
                print(f"  whites ΔE00 {low:g} to {high:g} from the paper: {sum(read)} of {len(read)} read")


if __name__ == "__main__":
    main()
