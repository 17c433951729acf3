"""A shadow that lies over a part of the shop's card is seen by its border, and such a photograph doesn't serve."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import cv2
import numpy as np
import pytest

from booth.card_scenes import PX, Lamp, Pose, bundled_print, card_jpeg, card_photograph, drawn_card
from booth.photo_booth import Shot
from finishmatch.photo.card.layout import sheet_layout
from tests.conftest import Ran
from tests.helpers.photo_frames import PAINTS

Cli = Callable[..., Ran]
CORNER, LEFT = [(0, 0), (75, 0), (0, 90)], [(0, 0), (58, 0), (58, 200), (0, 200)]
FOOT = [(0, 179), (138, 179), (138, 200), (0, 200)]
PAINTED = {"standard": PAINTS["blue"], "spray-out": PAINTS["blue again"]}


def shaded(path: Path, outline: list[tuple[int, int]], left: float, soft_mm: float = 0.0, sheet: bool = False) -> Path:
    """A photograph of the card, or of a sheet, of which an outline in mm has so much of the light left."""
    layout = sheet_layout(6) if sheet else None
    paints = {"window 1": PAINTS["blue"], "window 2": PAINTS["green"]} if sheet else PAINTED
    drawn = drawn_card(bundled_print(), paints, "one", "D65", chart=True, layout=layout)
    mask = np.zeros(drawn.shape[:2], np.float32)
    cv2.fillPoly(mask, [np.array(outline, np.int32) * PX], (1.0,))
    if soft_mm:
        mask = np.asarray(cv2.GaussianBlur(mask, (0, 0), soft_mm * PX), np.float32)
    drawn = drawn * (1 - (1 - left) * mask)[..., None]
    frame = card_photograph(drawn, Pose(0.6), Lamp(0.4, 1.6, 60), Shot(width=1000, height=1200, noise=0.006, seed=4))
    path.write_bytes(card_jpeg(frame))
    return path


@pytest.mark.parametrize(
    ("outline", "left", "soft_mm"), [(CORNER, 0.6, 0), (CORNER, 0.6, 20), (CORNER, 0.8, 6), (LEFT, 0.6, 0)]
)
def test_a_photograph_in_which_a_shadow_lies_over_a_part_of_the_card_does_not_serve(
    cli: Cli, tmp_path: Path, outline: list[tuple[int, int]], left: float, soft_mm: float
) -> None:
    ran = cli("photo", "read", shaded(tmp_path / "card.jpg", outline, left, soft_mm))
    assert ran.status == 1
    assert "a shadow lies over a part of the card" in ran.out
    assert "--region" in ran.out


def test_of_a_sheet_too(cli: Cli, tmp_path: Path) -> None:
    ran = cli("photo", "read", shaded(tmp_path / "sheet.jpg", CORNER, 0.6, sheet=True))
    assert ran.status == 1
    assert "a shadow lies over a part of the card" in ran.out


def test_marked_by_hand_it_is_read(cli: Cli, tmp_path: Path) -> None:
    photo = shaded(tmp_path / "card.jpg", CORNER, 0.6)
    assert cli("photo", "read", photo, "--region", "one=650,280,80,80", "--json").status == 0


def test_a_shadow_at_the_foot_alone_is_told_and_no_harm(cli: Cli, tmp_path: Path) -> None:
    ran = cli("photo", "read", shaded(tmp_path / "card.jpg", FOOT, 0.6), "--json")
    assert ran.status == 0, ran.out
    assert any("a shadow lies over the edge of the card" in note for note in ran.json["warnings"])


@pytest.mark.parametrize("stained", [3, 10])
def test_even_light_and_smeared_cells_are_no_shadow(cli: Cli, tmp_path: Path, stained: int) -> None:
    drawn = drawn_card(bundled_print(), PAINTED, "one", "D65", chart=True, stained=stained)
    drawn[: 16 * PX, : 60 * PX] = 0.75 * drawn[: 16 * PX, : 60 * PX] + 0.25 * 0.1  # a mist of dark paint
    frame = card_photograph(drawn, Pose(0.6), Lamp(0.4, 1.2, 60), Shot(width=1000, height=1200, noise=0.006, seed=4))
    (tmp_path / "card.jpg").write_bytes(card_jpeg(frame))
    ran = cli("photo", "read", tmp_path / "card.jpg", "--json")
    assert ran.status == 0, ran.out
    assert not any("shadow" in note for note in ran.json["warnings"])
