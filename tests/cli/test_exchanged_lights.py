"""Daylight's picture given as the lamp's, and the lamp's as daylight's: the chart in both tells it."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from tests.cli.test_exchanged import FIRST, SECOND, TARGET, TIN, places
from tests.helpers.photo_frames import standard_and_card

Cli = Callable[..., Any]


@pytest.mark.parametrize("lamp", ["A", "LED-B3"])
def test_the_two_given_the_wrong_way_round_are_refused(cli: Cli, tmp_path: Path, lamp: str) -> None:
    day, lit = (standard_and_card(tmp_path / f"{light}.jpg", i, light) for i, light in enumerate(("D65", lamp)))
    said = f"D65.jpg: looks taken in daylight, and {lamp}.jpg under that lamp, by what the chart shows of the light in"
    mend = "name the two the other way round; if they are named as they were taken, leave D65.jpg out"
    assert cli("photo", "read", day, "--under", f"{lamp}={lit}").status == 0
    read = cli("photo", "read", lit, "--under", f"{lamp}={day}", "--save", tmp_path / "read.csv")
    assert f"{said} each; {mend}" in read.error
    assert not (tmp_path / "read.csv").exists()
    two = places(FIRST, SECOND)
    assert cli("correct", TARGET, *TIN, "--seen", day, "--seen-under", f"{lamp}={lit}", *two).status in (0, 1)
    assert said in cli("correct", TARGET, *TIN, "--seen", lit, "--seen-under", f"{lamp}={day}", *two).error


def test_two_pictures_in_daylight_are_not_taken_for_exchanged(cli: Cli, tmp_path: Path) -> None:
    day, again = (standard_and_card(tmp_path / f"{i}.jpg", i) for i in range(2))
    for first, second in ((day, again), (again, day)):
        assert cli("photo", "read", first, "--under", f"A={second}").status == 0
