"""A shadow over a part of one sample: it is refused where it puts the colour off, and even samples never are."""

from __future__ import annotations

from collections.abc import Callable
from functools import cache
from pathlib import Path
from types import SimpleNamespace

import numpy as np
import pytest

from booth.card_scenes import PX, Lamp, Pose, bundled_print, card_jpeg, card_photograph, drawn_card
from booth.photo_booth import Photograph, Sample, Shade, Shot, photograph
from booth.photo_scenes import as_mosaic, as_opened, scene
from finishmatch.colour import de00
from finishmatch.photo import part_shadow
from finishmatch.photo.card.layout import CardLayout, card_layout, sheet_layout
from finishmatch.photo.find.regions import Region, quad_of
from finishmatch.photo.open.picture import open_picture
from finishmatch.photo.read import PhotoReading, read_photograph
from tests.conftest import ROOT, Ran
from tests.helpers.photo_frames import LYING, PAINTS, SMALL, frame, paint, samples

Cli = Callable[..., Ran]
SWATCHES = ROOT / "swatches"
TOLD = "a shadow lies over a part of it"
GREY = np.full(31, 0.3)


def over(sample: Sample, share: float, left: float, upright: bool = True, soft_mm: float = 1.0) -> Shade:
    """A shadow over so much of what is read of a sample, from its left or its upper side."""
    x, y, w, h = sample.x_mm, sample.y_mm, sample.w_mm, sample.h_mm
    along = 0.12 + 0.76 * share
    right, foot = (x + along * w, y + h + 9) if upright else (x + w + 9, y + along * h)
    return Shade(
        ((x - 9, y - 9), (right, y - 9), (right, foot), (x - 9, foot)), (0.99 * left, left, 1.01 * left), soft_mm
    )


def read(photo: Photograph) -> PhotoReading:
    return read_photograph(
        as_opened(photo.jpeg()), [Region(name, quad_of(*box)) for name, box in photo.regions.items()]
    )


def shaded(*shades: Shade, **how: object) -> PhotoReading:
    return read(frame(shades=shades, **how))


@cache
def unshaded(encoding: str = "sRGB") -> PhotoReading:
    return read(frame(encoding=encoding))


@pytest.mark.parametrize("upright", [True, False])
@pytest.mark.parametrize(
    ("share", "left", "soft_mm"),
    [(0.5, 0.6, 1), (0.5, 0.8, 5), (0.65, 0.9, 1), (0.8, 0.8, 2), (0.8, 0.6, 1), (0.6, 0.9, 3)],
)
def test_a_sample_half_in_the_shade_is_not_read_and_the_others_are(
    share: float, left: float, soft_mm: float, upright: bool
) -> None:
    cream = samples()[3]
    reading = shaded(over(cream, share, left, upright, soft_mm))
    assert [one.name for one in reading.lost] == ["cream"]
    assert TOLD in reading.lost[0].why
    assert {one.name for one in reading.regions} == {"blue", "blue again", "green"}
    assert any(note.startswith(f"cream is not read: {TOLD}") for note in reading.warnings)


def test_how_deep_and_how_wide_it_is_stands_in_the_line() -> None:
    why = shaded(over(samples()[3], 0.6, 0.75)).lost[0].why
    wide, deep = (int(word) for word in why.replace("%", "").replace("(about", "").split() if word.isdigit())
    assert wide == pytest.approx(60, abs=7)
    assert deep == pytest.approx(25, abs=4)


def test_in_shades_of_blue_light_and_in_two_samples_at_once() -> None:
    blue, cream = samples()[0], samples()[3]
    sky = Shade(over(blue, 0.6, 0.7).corners_mm, (0.66, 0.7, 0.74), 2.0)
    reading = shaded(sky, over(cream, 0.5, 0.8))
    assert {one.name for one in reading.lost} == {"blue", "cream"}


@pytest.mark.parametrize(("share", "left"), [(0.15, 0.6), (0.5, 0.99), (0.2, 0.97)])
def test_what_hardly_puts_the_colour_off_is_read_as_before(share: float, left: float) -> None:
    reading = shaded(over(samples()[3], share, left))
    assert not reading.lost
    for one, as_lit in zip(reading.regions, unshaded().regions, strict=True):
        assert de00(one.lab, as_lit.lab) < 0.5


def test_a_shadow_over_all_of_a_sample_is_a_darker_paint_to_it() -> None:
    """What docs/commands/photo.md says can't be seen."""
    cream = samples()[3]
    whole = Shade(over(cream, 1.3, 0.8).corners_mm, (0.8, 0.8, 0.8), 0.5)
    reading = shaded(whole)
    assert not reading.lost
    assert de00(reading.regions[3].lab, unshaded().regions[3].lab) > 3


@pytest.mark.parametrize("number", [0, 1, 4, 7])
@pytest.mark.parametrize("raw", [False, True])
def test_no_even_sample_of_the_rendered_photographs_is_refused_for_a_shadow(number: int, raw: bool) -> None:
    """Shading of 10 to 30 % across the frame, flare, noise, and glare in every other one."""
    for camera in ("one", "two")[number % 2 :: 2] if raw else ("one", "two"):
        here = scene(camera, "D65", number, raw)
        picture = as_mosaic(here.photo.values) if raw else as_opened(here.photo.jpeg(90))
        regions = [Region(name, quad_of(*box)) for name, box in here.photo.regions.items()]
        reading = read_photograph(picture, regions)
        assert len(reading.regions) >= 10
        assert not any("shadow" in one.why for one in reading.lost)


def test_orange_peel_a_scratch_a_crater_and_a_highlight_are_no_shadow() -> None:
    photo = frame(texture=0.06, glare=0.2, encoding="Display P3")
    values = photo.values.copy()
    x, y, w, h = photo.regions["cream"]
    values[y + h // 2 : y + h // 2 + 2, x : x + w] *= 0.5
    values[y + h // 5 : y + h // 3, x + w // 2 : x + 2 * w // 3] *= 0.7
    assert not read(Photograph(values, photo.chart_corners, photo.regions, photo.encoding)).lost


# by how many thousandths the tiles of a rendered sample without a shadow differ, of the logarithm of the light
CORNER = """
 -8  -6  -1   4   2   5  -4  -4
-12 -16   6   1   5   1  -2  -5
-11   0   1  -1  -6  -1  -9   0
  0   2   5  -1  -6  -8  -5  10
  1  -3   2  -1   0  -4   7   8
  0   2  -3   2  -5   3  13  10
  0   6  -5  -4  -3   8  15   8
 -1  -1  -2  -4   9  11   9   2
"""


def test_a_corner_a_hundredth_lighter_is_no_shadow_that_a_bend_hides(monkeypatch: pytest.MonkeyPatch) -> None:
    """A step of 4 % with a bend against it fits these tiles best, but the levels hardly lie apart."""
    level = np.array(CORNER.split(), float) / 1000
    y, x = (np.mgrid[:8, :8].reshape(2, -1) + 0.5) / 8 - 0.5
    course = np.column_stack([np.ones(64), x, y, x * x - 1 / 12, x * y, y * y - 1 / 12])
    red = np.exp(level)[:, None] * (0.3246, 0.1177, 0.0598)
    tiles = SimpleNamespace(values=red, level=level, good=np.ones(64, bool), course=course, side=8)
    monkeypatch.setattr(part_shadow, "_tiles", lambda *_: tiles)
    assert not read(frame()).lost


def test_two_colours_side_by_side_are_set_aside_as_before_and_called_no_shadow() -> None:
    x, y, w, h = (samples()[0].x_mm, 30.0, 96.0, 72.0)
    other = Sample("other", paint(0.3, 600, 60, 0.3), x + 0.7 * w, y, 0.3 * w, h)
    photo = photograph([*samples(), other], Shot(**SMALL))  # type: ignore[arg-type]
    reading = read(photo)
    assert "blue" in {one.name for one in reading.regions}


def card_photo(path: Path, drawn: np.ndarray, pose: Pose = LYING, size: tuple[int, int] = (900, 1000)) -> Path:
    shot = Shot(width=size[0], height=size[1], noise=0.006, exposure=0.75, seed=4)
    path.write_bytes(card_jpeg(card_photograph(drawn, pose, Lamp(0.5, 1.4, 30), shot)))
    return path


def darkened(drawn: np.ndarray, layout: CardLayout, window: str, share: float, left: float) -> np.ndarray:
    """A drawn card with a shadow over so much of a window, from its head."""
    box = layout.windows[window]
    out = drawn.copy()
    head, side = round(box.y_mm * PX), round(box.x_mm * PX)
    inner = 2.0 + share * (box.height_mm - 4.0)
    out[head : head + round(inner * PX), side : side + round(box.width_mm * PX)] *= left
    return out


@pytest.mark.parametrize(("share", "left"), [(0.5, 0.7), (0.6, 0.9), (0.8, 0.75)])
def test_in_a_window_of_the_sheet_it_is_told_by_its_number(cli: Cli, tmp_path: Path, share: float, left: float) -> None:
    layout = sheet_layout(6)
    panels = {f"window {i}": one for i, one in enumerate((GREY, *PAINTS.values()), start=1)}
    drawn = drawn_card(bundled_print(), panels, "one", "D65", chart=True, layout=layout)
    ran = cli(
        "photo", "read", card_photo(tmp_path / "sheet.jpg", darkened(drawn, layout, "window 1", share, left)), "--json"
    )
    assert ran.status == 0, ran.out
    assert {one["name"] for one in ran.json["regions"]} == set(panels) - {"window 1"}
    notes = [note for note in ran.json["warnings"] if note.startswith("window 1")]
    assert len(notes) == 1
    assert TOLD in notes[0]
    assert "photograph it again" in notes[0]


@pytest.mark.parametrize("window", ["standard", "spray-out"])
def test_a_card_half_in_the_shade_is_neither_judged_nor_corrected(cli: Cli, tmp_path: Path, window: str) -> None:
    tin = ("--bank", SWATCHES / "bank", "--batch", SWATCHES / "batch1.csv")
    painted = {"standard": PAINTS["green"], "spray-out": PAINTS["green"]}
    drawn = drawn_card(bundled_print(), painted, "one", "D65", chart=True)
    photo = card_photo(
        tmp_path / "card.jpg", darkened(drawn, card_layout(), window, 0.6, 0.75), Pose(0.6), (1000, 1200)
    )
    ran = cli("judge", photo)
    assert ran.status == 2, ran.out
    assert f"its {window} can't be read; {TOLD}" in ran.err
    ran = cli("correct", SWATCHES / "target.csv", *tin, "--seen", photo)
    assert ran.status == 2
    assert f"its {window} can't be read; {TOLD}" in ran.err
    lit = read_photograph(open_picture(card_photo(tmp_path / "lit.jpg", drawn, Pose(0.6), (1000, 1200))))
    assert [one.name for one in lit.regions] == ["standard", "spray-out"]


def test_a_thin_film_over_black_and_white_is_no_shadow(tmp_path: Path) -> None:
    """Over the stripes of the card, and on a contrast card of which each ground is marked."""
    for through in (0.93, 0.8):
        thin = through ** np.array([1.0, 0.0, 1.0, 0.0])[:, None] * GREY
        drawn = drawn_card(bundled_print(), {"standard": GREY, "spray-out": thin}, "one", "D65", chart=True)
        reading = read_photograph(open_picture(card_photo(tmp_path / "card.jpg", drawn, Pose(0.6), (1000, 1200))))
        assert {one.name for one in reading.regions} == {"standard", "spray-out"}
        assert not reading.lost
        assert any("the stripes show through" in note for note in reading.warnings)
    grounds = [Sample("over white", GREY, 60, 26, 95, 90), Sample("over black", 0.8 * GREY, 155, 26, 95, 90)]
    reading = read(photograph(grounds, Shot(**SMALL)))  # type: ignore[arg-type]
    assert [one.name for one in reading.regions] == ["over white", "over black"]
    assert not reading.lost
