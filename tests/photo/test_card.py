"""A photograph of the shop's card is read with no further options."""

from __future__ import annotations

from collections.abc import Callable
from functools import cache
from pathlib import Path

import numpy as np

from booth.card_scenes import PRINT, Lamp, Pose, bundled_print, card_jpeg, card_photograph, drawn_card
from booth.photo_booth import Shot
from finishmatch.colour import de00, reflectance_to_lab
from tests.conftest import Ran
from tests.helpers.photo_frames import PAINTS

Cli = Callable[..., Ran]
BOTH = (("standard", "blue"), ("spray-out", "blue again"))


@cache
def card_frame(paints: tuple[tuple[str, str], ...], chart: bool, thin: str = "") -> np.ndarray:
    """The registered print with painted windows under D65, tilted and turned before a camera, encoded, 0 to 1."""
    windows = {window: np.tile(PAINTS[paint], (4, 1)) for window, paint in paints}
    if thin:  # the stripes, black ones first, show through
        windows[thin] = windows[thin] * np.array([0.85, 1.0, 0.85, 1.0])[:, None]
    card = drawn_card(bundled_print(), windows, "one", "D65", chart)
    return card_photograph(card, Pose(), Lamp(0.4, 1.6, 60), Shot(width=1500, height=1500, noise=0.008, seed=3))


def card_photo(path: Path, paints: tuple[tuple[str, str], ...] = BOTH, chart: bool = False, thin: str = "") -> Path:
    path.write_bytes(card_jpeg(card_frame(paints, chart, thin)))
    return path


def right(found: dict) -> None:
    """The two windows are named, and their colours and difference hold the truth within u95."""
    truth = {window: reflectance_to_lab(PAINTS[paint]) for window, paint in BOTH}
    assert [one["name"] for one in found["regions"]] == ["standard", "spray-out"]
    for one in found["regions"]:
        assert de00(truth[one["name"]], np.array(one["lab"])) <= one["u95"] < 6
    (pair,) = found["differences"]
    assert abs(pair["de00"] - float(de00(*truth.values()))) <= pair["u95"] < 2


def test_with_a_chart_in_its_window_the_card_is_read_without_options(cli: Cli, tmp_path: Path) -> None:
    ran = cli("photo", "read", card_photo(tmp_path / "card.jpg", chart=True), "--json")
    assert ran.status == 0, ran.out
    assert (ran.json["card"], ran.json["chart"]["found"], ran.json["chart"]["printed"]) == (True, True, False)
    right(ran.json)


def test_without_a_chart_the_registered_print_serves_and_an_unregistered_one_says_what_to_do(
    cli: Cli, tmp_path: Path
) -> None:
    photo = card_photo(tmp_path / "card.jpg")
    ran = cli("photo", "read", photo)
    assert ran.status == 1
    assert "chart window" in ran.out
    assert "--register" in ran.out
    assert cli("photo", "card", "--register", PRINT).status == 0
    ran = cli("photo", "read", photo, "--overlay", tmp_path / "seen.png", "--json")
    assert ran.status == 0, ran.out
    assert (ran.json["card"], ran.json["chart"]["found"], ran.json["chart"]["printed"]) == (True, False, True)
    assert ran.json["chart"]["patches_used"] == 20
    right(ran.json)
    assert "registered print serves" in cli("photo", "read", photo).out


def test_empty_windows_are_left_out_and_named(cli: Cli, tmp_path: Path) -> None:
    ran = cli("photo", "read", card_photo(tmp_path / "half.jpg", (("standard", "green"),), chart=True), "--json")
    assert [one["name"] for one in ran.json["regions"]] == ["standard"]
    assert any("bare stripes" in note for note in ran.json["warnings"])
    ran = cli("photo", "read", card_photo(tmp_path / "empty.jpg", (), chart=True))
    assert ran.status == 1
    assert "bare paper" in ran.out
    assert "hold no sample" in ran.out


def test_a_print_of_which_too_little_is_known_does_not_serve(cli: Cli, tmp_path: Path) -> None:
    few = tmp_path / "few.csv"
    lines = PRINT.read_text().splitlines(keepends=True)
    few.write_text("".join(one for one in lines if one.split(",")[0] in ("name", "white", "grey", "black")))
    assert cli("photo", "card", "--register", few).status == 0
    ran = cli("photo", "read", card_photo(tmp_path / "card.jpg"))
    assert ran.status == 1
    assert "only 3 fields" in ran.out


def test_paint_that_does_not_hide_the_stripes_is_reported(cli: Cli, tmp_path: Path) -> None:
    ran = cli("photo", "read", card_photo(tmp_path / "thin.jpg", chart=True, thin="spray-out"), "--json")
    assert any("stripes show through (14 %" in note for note in ran.json["warnings"]), ran.json["warnings"]
