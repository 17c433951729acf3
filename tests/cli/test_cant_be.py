"""What can't be is refused or questioned, with what was likely meant."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from tests.conftest import Ran
from tests.helpers.door_files import write

pytest_plugins = ["tests.helpers.door_fixtures"]
Cli = Callable[..., Ran]


@pytest.fixture
def job(cli: Cli, bench: Path) -> str:
    """A job of the bench."""
    cli("job", "new", "Roof")
    return "J1"


@pytest.mark.parametrize(
    ("line", "told"),
    [
        (("job", "spray", "J1", "45,-5,-15", "--build-um", 4500), "4500 µm is no film that is sprayed; a coat is"),
        (("job", "spray", "J1", "45,-5,-15", "--build-um", 1.8), "are these mils? 1.8 mils are 46 µm"),
        (("job", "film", "J1", "--panel", "roof", "--layer", "colour", "--build", "4500"), "4500 µm is no film"),
        (("job", "film", "J1", "--panel", "roof", "--layer", "colour", "--build", "1.8"), "1.8 mils are 46 µm"),
        (("mix", "target.csv", "--bank", "bank", "--grams", 500, "--tolerance", 20), "--tolerance: within ΔE00 20"),
        (("mix", "target.csv", "--bank", "bank", "--grams", 500, "--ground", "black", "--build", 1.8), "1.8 mils"),
        (("plan", "quantity", "--area", "1m2", "--build", "25um", "--solids", "0.4", "--ratio", "1:1", "--density",
          "1480 kg/l", "--density", "1 kg/l"), "is too much for a density here"),
        (("job", "pour", "J1", "white=1500", "--bank", "bank", "--tin", "0.9L"), "1500 g of this are 0.99 L, and"),
    ],
)  # fmt: skip
def test_it_is_refused_in_one_line(
    refused: Callable[..., str], cli: Cli, job: str, line: tuple[object, ...], told: str
) -> None:
    assert told in refused(*line)
    assert cli("job", "show", "J1", "--json").json["entries"] == []


def test_a_build_of_filler_may_be_thick_and_a_card_is_taken_when_that_is_said(cli: Cli, job: str) -> None:
    assert cli("job", "film", job, "--panel", "roof", "--layer", "body filler", "--build", "1800").status == 0
    assert cli("job", "spray", job, "45,-5,-15", "--build-um", 2, "--anyway").status == 0


def test_a_typed_dark_colour_is_asked_how_it_was_read(cli: Cli, bench: Path) -> None:
    mix = ("mix", "--bank", "bank", "--grams", 500, "--recipes", 1, "--json", "--lab")
    asked = [note for note in cli(*mix, "12,0,-4").json["warnings"] if "which counts the gloss" in note]
    assert len(asked) == 1
    assert not any("which counts the gloss" in note for note in cli(*mix, "60,-5,-15").json["warnings"])
    known = write(bench / "dark.csv", "name,L,a,b,geometry\ndark,12,0,-4,di8\n")
    told = cli("mix", known, "--bank", "bank", "--grams", 500, "--recipes", 1, "--json").json["warnings"]
    assert not any("which counts the gloss" in note for note in told)
