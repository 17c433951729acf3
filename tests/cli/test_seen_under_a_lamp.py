"""A photograph under a lamp beside the one in daylight: both tell what the camera makes of the two."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from booth.photo_booth import Sample, Shot, photograph
from finishmatch.readings.any_file import read_readings
from tests.conftest import ROOT
from tests.helpers.photo_frames import SMALL, standard_and_card, write_jpeg

Cli = Callable[..., Any]
SWATCHES = ROOT / "swatches"
TIN = ("--bank", SWATCHES / "bank", "--batch", SWATCHES / "batch1.csv")
TARGET = SWATCHES / "target.csv"
BESIDE = ("--region", "standard=90,45,200,80", "--region", "spray-out=340,45,200,80")
ONE_LIGHT = "in one light a camera can't tell whether card and standard are of the same pigments"


def test_a_photograph_under_a_lamp_joins_the_one_in_daylight_and_only_without_it_a_painter_is_told_to_take_one(
    cli: Cli, tmp_path: Path
) -> None:
    day, lamp, tube, again = (
        standard_and_card(tmp_path / f"{seed}.jpg", seed, light)
        for seed, light in enumerate(("D65", "A", "F11", "D50"))
    )
    tin = ("correct", TARGET, *TIN, "--seen", day, *BESIDE)
    alone = cli(*tin)
    assert ONE_LIGHT in " ".join(alone.out.split())
    assert "Your eye sees that: look at the two edge to edge in daylight" in " ".join(alone.out.split())
    assert "LED lamp too (--seen-under A=PHOTO)" in " ".join(alone.out.split())
    printed = {how: cli(*tin, *under, "--json").json for how, under in {
        "alone": (), "lamp": ("--seen-under", f"A={lamp}"), "tube": ("--seen-under", f"F11={tube}"),
        "all": ("--seen-under", f"F11={tube}", "--seen-under", f"A={lamp}"), "day": ("--seen-under", f"D50={again}"),
    }.items()}  # fmt: skip
    found = {how: one["seen"] for how, one in printed.items()}
    for how, one in printed.items():
        told = any("the photographs in F11 are taken by themselves: its light" in said for said in one["warnings"])
        assert told == (how in ("tube", "all"))
    assert [one["pigments_not_compared"] for one in found.values()] == [True, False, True, False, True]
    for how, by_all in (("lamp", [1, 1]), ("tube", [0, 0]), ("all", [1, 0, 1]), ("day", [0, 0])):
        assert [one["across_lights"] for one in found[how]["differences"]] == by_all
    first = {how: one["differences"][0]["difference"] for how, one in found.items()}
    assert first["tube"] == first["alone"]  # its light comes in lines
    assert first["lamp"] == first["all"] != first["alone"]
    assert ONE_LIGHT not in " ".join(cli(*tin, "--seen-under", f"A={lamp}").out.split())


def test_a_file_that_the_camera_has_worked_on_stands_by_itself_and_why_is_told(
    cli: Cli, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    day, lamp = (standard_and_card(tmp_path / f"{light}.jpg", light=light) for light in ("D65", "A"))
    monkeypatch.setattr("finishmatch.photo.looks.WORKED_ON", 0.0)
    found = cli("correct", TARGET, *TIN, "--seen", day, "--seen-under", f"A={lamp}", *BESIDE, "--json").json
    told = [one for one in found["warnings"] if one.startswith("the photographs in ")]
    assert [one.split(" are taken")[0] for one in told] == ["the photographs in D65", "the photographs in A"]
    assert all(one.endswith("a raw file (DNG) would do") for one in told)
    assert not any(one["across_lights"] for one in found["seen"]["differences"])


def test_a_lamp_that_shows_another_pair_is_told_and_changes_nothing(cli: Cli, tmp_path: Path) -> None:
    day = standard_and_card(tmp_path / "day.jpg")
    (standard,) = (one for one in read_readings(TARGET).values())
    assert standard.reflectance is not None
    other = standard.reflectance * np.linspace(1.25, 0.75, 31)
    placed = [
        Sample(name, one, x_mm=x_mm, y_mm=26, w_mm=190, h_mm=90)
        for name, one, x_mm in (("standard", standard.reflectance, 60), ("card", other, 262))
    ]
    lamp = write_jpeg(photograph(placed, Shot(**SMALL, light="A")), tmp_path / "lamp.jpg")  # type: ignore[arg-type]
    tin = ("correct", TARGET, *TIN, "--seen", day, *BESIDE)
    alone, both = (cli(*tin, *under, "--json").json for under in ((), ("--seen-under", f"A={lamp}")))
    assert any("the photographs in D65 and A don't go together" in one for one in both["warnings"])
    assert both["seen"]["differences"][0]["difference"] == alone["seen"]["differences"][0]["difference"]
