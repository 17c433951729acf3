"""The same photograph with its places marked a few pixels elsewhere is the same card, and the same letdown."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
from PIL import Image

from tests.conftest import ROOT

Cli = Callable[..., Any]
SWATCHES = ROOT / "swatches"
PHOTO, BANK = SWATCHES / "photo.jpg", SWATCHES / "bank"


def places(by: int) -> tuple[str, ...]:
    return ("--region", f"standard={96 + by},92,174,131", "--region", f"spray-out={984 + by},60,181,131")


def test_a_photograph_that_is_marked_elsewhere_counts_once(cli: Cli) -> None:
    cli("job", "new", "Tarnbeck Six")
    cli("job", "use", "J1")
    assert cli("mix", SWATCHES / "target.csv", "--bank", BANK, "--grams", 500, "--max-tints", 3).status == 0
    assert cli("job", "pour", SWATCHES / "batch1.csv").status == 0
    for by in (0, 0, 1, 4):
        assert cli("judge", PHOTO, *places(by)).status == 1
    cards = [one for one in cli("job", "show", "--json").json["entries"] if one["kind"] == "spray-out"]
    assert len({one["entry"]["seen"][0]["marks"][0] for one in cards}) == len(cards) == 3
    assert cli("mix", "--grams", 200, "--max-tints", 3, "--json").json["bank_today"]["cards"] == 1


def test_a_letdown_that_is_marked_elsewhere_is_the_same(cli: Cli) -> None:
    panel = ("job", "tin", "J1", "blue 20/80", "--bank", BANK, "--seen", PHOTO, "--anyway")
    cli("job", "new", "Roof")
    assert cli(*panel, *places(0)).status == 0
    again = cli(*panel, *places(2))
    assert again.status == 2
    assert "the letdown: is recorded already" in again.err


def test_where_the_two_lie_is_said_of_each_photograph(cli: Cli, tmp_path: Path) -> None:
    whole, lamp = Image.open(PHOTO), tmp_path / "lamp.png"
    whole.crop((30, 20, *whole.size)).save(lamp, icc_profile=whole.info["icc_profile"])
    there = ("standard=66,72,174,131", "spray-out=954,40,181,131")

    def difference(*said: object) -> list[float]:
        judged = (SWATCHES / "target.csv", "--bank", BANK, "--batch", SWATCHES / "batch1.csv", "--anyway", "--json")
        (one,) = cli("correct", *judged, *said).json["seen"]["differences"]
        return list((one["photographs_alone"] or one)["difference"])

    def regions(*said: str) -> list[str]:
        return [word for one in said for word in ("--region", one)]

    first, second = difference("--seen", PHOTO, *places(0)), difference("--seen", lamp, *regions(*there))
    both = ("--seen", PHOTO, "--seen", lamp, *places(0))
    of_each = difference(*both, *regions(f"lamp.png:{there[0]}", f"{lamp}:{there[1]}"))
    low, high = np.sort([first, second], axis=0)
    assert ((low <= of_each) & (of_each <= high)).all()
    askew = np.array(difference(*both))  # as if both lay there in the one that was cut
    assert not ((low <= askew) & (askew <= high)).all()


def test_a_place_is_said_once_and_of_a_photograph_that_is_named(cli: Cli) -> None:
    judged = ("correct", SWATCHES / "target.csv", "--bank", BANK, "--batch", SWATCHES / "batch1.csv", "--seen", PHOTO)
    twice = cli(*judged, *places(0), *places(2))
    assert twice.status == 2
    assert "standard: is named twice" in twice.err
    other = cli(*judged, *places(0), "--region", "lamp.jpg:standard=98,92,174,131")
    assert other.status == 2
    assert "'lamp.jpg:standard=98,92,174,131': is of lamp.jpg, which isn't one of the photographs" in other.err
    assert "photo.jpg" in other.err
