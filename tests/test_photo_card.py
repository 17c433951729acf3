"""A photograph of the shop's card is read with no further options."""

from __future__ import annotations

from collections.abc import Callable
from functools import cache
from pathlib import Path

import cv2
import numpy as np
from conftest import Ran
from photo_frames import PAINTS
from PIL import Image

from benchmarks.cardframes import camera
from benchmarks.photobooth import camera_rgb, chart_spectra, encode, profile_bytes
from finishmatch.colour import de00, reflectance_to_lab
from finishmatch.readings import read_readings
from finishmatch.readings.photo.cardlayout import Box, card_layout

Cli = Callable[..., Ran]
PRINT = Path(__file__).parents[1] / "swatches/cardprint.csv"
SIZE, PX = (1500, 1500), 8
BOTH = (("standard", "blue"), ("spray-out", "blue again"))


@cache
def card_frame(paints: tuple[tuple[str, str], ...], chart: bool, thin: str = "") -> np.ndarray:
    """The registered print with painted windows under D65, tilted and turned before a camera, as 8 bits RGB."""
    layout = card_layout()
    inks = {name: one.repeats.mean(axis=0) for name, one in read_readings(PRINT).items()}
    card = np.empty((int(layout.height_mm * PX), int(layout.width_mm * PX), 3), np.float32)
    card[:] = camera_rgb(inks["white"], "one", "D65")

    def fill(box: Box, value: np.ndarray) -> None:
        left, top = round(box.x_mm * PX), round(box.y_mm * PX)
        card[top : round((box.y_mm + box.height_mm) * PX), left : round((box.x_mm + box.width_mm) * PX)] = value

    for printed in (*layout.stripes, *layout.border, *layout.patches):
        fill(printed.box, camera_rgb(inks[printed.name], "one", "D65"))
    dictionary = cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_4X4_50)
    white, black = (camera_rgb(inks[name], "one", "D65") for name in ("white", "black"))
    for number, box in layout.marks.items():
        mark = cv2.aruco.generateImageMarker(dictionary, number, int(box.width_mm * PX))
        fill(box, np.where(mark[..., None] > 0, white, black))
    for window, paint in paints:
        fill(layout.windows[window], camera_rgb(PAINTS[paint], "one", "D65"))
        if window == thin:
            for stripe in (one for one in layout.stripes if one.name == "black"):
                fill(stripe.box, 0.85 * camera_rgb(PAINTS[paint], "one", "D65"))
    if chart:
        window = layout.windows["chart"]
        fill(Box(window.x_mm + 4, window.y_mm + 1.5, 96, 64.5), np.full(3, 0.035))
        for number, value in enumerate(camera_rgb(chart_spectra(), "one", "D65")):
            row, column = divmod(number, 6)
            fill(Box(window.x_mm + 7 + 15.4 * column, window.y_mm + 4 + 15.4 * row, 13, 13), value)
    seen = camera(SIZE, 0.5, 8, 20, about=30)
    drawn = np.array([[1 / PX, 0, 0.5 / PX], [0, 1 / PX, 0.5 / PX], [0, 0, 1]])
    frame = np.full((SIZE[1], SIZE[0], 3), 0.3, np.float32)
    cv2.warpPerspective(
        cv2.GaussianBlur(card, (0, 0), 0.8), seen @ drawn, SIZE, dst=frame, borderMode=cv2.BORDER_TRANSPARENT
    )
    light = np.linspace(1.0, 0.8, SIZE[0])[None, :, None] * np.linspace(0.95, 1.0, SIZE[1])[:, None, None]
    noise = np.random.default_rng(3).normal(0, 0.004, frame.shape)
    return np.rint(255 * encode(cv2.GaussianBlur(frame, (0, 0), 0.6) * light * 0.95 + noise, "sRGB")).astype(np.uint8)


def card_photo(path: Path, paints: tuple[tuple[str, str], ...] = BOTH, chart: bool = False, thin: str = "") -> Path:
    Image.fromarray(card_frame(paints, chart, thin)).save(path, quality=92, icc_profile=profile_bytes("sRGB"))
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


def test_empty_windows_are_left_out_and_told(cli: Cli, tmp_path: Path) -> None:
    ran = cli("photo", "read", card_photo(tmp_path / "half.jpg", (("standard", "green"),), chart=True), "--json")
    assert [one["name"] for one in ran.json["regions"]] == ["standard"]
    assert any("bare stripes" in told for told in ran.json["warnings"])
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


def test_paint_that_does_not_hide_the_stripes_is_told(cli: Cli, tmp_path: Path) -> None:
    ran = cli("photo", "read", card_photo(tmp_path / "thin.jpg", chart=True, thin="spray-out"), "--json")
    assert any("stripes show through (15 %" in told for told in ran.json["warnings"]), ran.json["warnings"]
