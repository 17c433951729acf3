"""A copy of a photograph is known that was turned, made smaller or saved anew; another exposure isn't taken for it.

Rendered photographs of twelve paints about a chart on a grained bench, with shading, flare, noise and JPEG.
"""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from booth.photo_booth import Sample, photograph
from booth.photo_scenes import drawn_shot, paints, place_of
from finishmatch.ledger.photograph_marks import copied, looked_up_by, photograph_mark, same_mark
from finishmatch.photo.likeness import likeness_of
from finishmatch.photo.open.picture import open_picture
from finishmatch.readings.photograph_likeness import Likeness, likeness_kept, same_photograph, turns_of

SCENES = (0, 1, 2)
TURNED = {"not turned": 0, "left": 1, "round": 2, "right": 3}


@cache
def lit(number: int) -> tuple[np.ndarray, float]:
    """A scene as it is lit, without the noise of an exposure, 1200 pixels wide, and how much of that there is."""
    r = np.random.default_rng([number, 31])
    shot, spectra = drawn_shot(r, "one", "D65"), paints()[r.choice(len(paints()), 12, replace=False)]
    samples = [Sample(str(one), spectra[one], *place_of(one)) for one in range(12)]
    return photograph(samples, replace(shot, width=1200, height=900, noise=0.0, seed=number)).values, shot.noise


def exposed(number: int, seed: int, moved: int = 0) -> np.ndarray:
    """An exposure of a scene: noise of its own, the camera on its stand, or held so many pixels elsewhere."""
    values, noise = lit(number)
    linear = np.roll(values, (moved, moved), (0, 1)) ** 2.2
    sd = np.sqrt(linear * noise**2 / 2 + (0.15 * noise) ** 2)
    linear = linear + sd * np.random.default_rng([number, seed]).standard_normal(linear.shape)
    return np.rint(255 * np.clip(linear, 0, 1) ** (1 / 2.2)).astype(np.uint8)


def like(path: Path, values: np.ndarray, quality: int = 92, scale: float = 1.0, exif: int = 1) -> Likeness:
    """A file of values, and by what it is known."""
    picture = Image.fromarray(values)
    if scale != 1:
        picture = picture.resize(
            (round(picture.width * scale), round(picture.height * scale)), Image.Resampling.LANCZOS
        )
    info = Image.Exif()
    info[0x0112] = exif
    picture.save(path, quality=quality, exif=info)
    found = likeness_of(open_picture(path))
    assert found is not None
    return found


def first(tmp_path: Path, number: int) -> tuple[Likeness, np.ndarray]:
    """The file of a camera, and its pixels."""
    found = like(tmp_path / "first.jpg", exposed(number, 1))
    return found, np.asarray(Image.open(tmp_path / "first.jpg"))


@pytest.mark.parametrize("turned", TURNED)
@pytest.mark.parametrize("number", SCENES)
def test_a_copy_is_known_again(tmp_path: Path, number: int, turned: str) -> None:
    one, pixels = first(tmp_path, number)
    pixels = np.rot90(pixels, TURNED[turned])
    for quality, scale in ((95, 1.0), (92, 1.0), (85, 0.5), (75, 0.5), (70, 0.43)):
        copy = like(tmp_path / "copy.jpg", pixels, quality, scale)
        assert same_photograph(one, copy), (quality, scale)
        assert same_photograph(copy, one)
        assert one.key in copy.keys
        assert one.keys & copy.keys


@pytest.mark.parametrize("exif", [3, 6, 8])
def test_a_copy_that_is_only_said_to_be_turned_is_known_again(tmp_path: Path, exif: int) -> None:
    one, pixels = first(tmp_path, 0)
    assert same_photograph(one, like(tmp_path / "copy.jpg", pixels, 85, 0.5, exif))


@pytest.mark.parametrize("number", SCENES)
def test_another_exposure_is_another_photograph(tmp_path: Path, number: int) -> None:
    """On a stand under the very same light, and held a pixel elsewhere; then as a messenger sends it as well."""
    one, _ = first(tmp_path, number)
    assert not same_photograph(one, like(tmp_path / "second.jpg", exposed(number, 2)))
    assert not same_photograph(one, like(tmp_path / "second.jpg", exposed(number, 2), 85))
    for moved in (1, 2, 5, 20):
        pixels = exposed(number, 3, moved)
        for quality, scale in ((92, 1.0), (85, 0.5), (75, 0.5)):
            assert not same_photograph(one, like(tmp_path / "moved.jpg", pixels, quality, scale)), (moved, scale)
    for other in SCENES:
        assert same_photograph(one, like(tmp_path / "other.jpg", exposed(other, 1), 75, 0.5)) == (other == number)


def test_it_is_kept_as_text_and_a_mark_finds_the_card_in_a_turned_copy(tmp_path: Path) -> None:
    one, pixels = first(tmp_path, 1)
    copy = like(tmp_path / "copy.jpg", np.rot90(pixels), 80, 0.5)
    kept = likeness_kept(str(one))
    assert kept is not None
    assert (str(kept), likeness_kept("1200x900-0.l.AAAA"), likeness_kept("x")) == (str(one), None, None)
    assert len(list(turns_of(kept, copy))) == 1

    def mark(likeness: Likeness, box: tuple[float, float, float, float], pixels: str) -> str:
        x, y, w, h = box
        return photograph_mark(
            f"{pixels}{box}".replace(" ", ""), pixels, [(x, y), (x + w, y), (x + w, y + h), (x, y + h)], likeness
        )

    own = mark(one, (100, 50, 180, 130), "a" * 64)
    # turned to the left, what was at (x, y) of 1200 by 900 lies at (y, 1200 - x) of 900 by 1200, here in half
    there = mark(copy, (25, (1200 - 280) / 2, 65, 90), "b" * 64)
    elsewhere = mark(copy, (400 - 25 - 65, (1200 - 280) / 2, 65, 90), "b" * 64)
    assert same_mark(own, there)
    assert same_mark(there, own)
    assert copied(own, there)
    assert not same_mark(own, elsewhere)
    assert not copied(own, own)
    assert any(key in there for key in looked_up_by(own))
    assert not same_mark(own, photograph_mark("c", "c" * 64, [(100, 50), (280, 50), (280, 180), (100, 180)]))
